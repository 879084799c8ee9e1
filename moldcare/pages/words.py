"""Standings, instants and durations in the reader's words."""

from datetime import date, datetime
from decimal import Decimal

from django.utils import timezone
from django.utils.formats import date_format, number_format
from django.utils.translation import get_language, ngettext
from django.utils.translation import gettext as _

from moldcare.core import due
from moldcare.core.due import Part, PartKind, State, UnsureWhy, When
from moldcare.core.shifts import ShiftCalendar


def in_sentence(name: str) -> str:
    """Return a name as it stands inside a sentence: German keeps the capitals of its nouns."""
    language = get_language() or ""
    return name if language.startswith("de") else name[:1].lower() + name[1:]


def count_words(count: float) -> str:
    """Return a whole number with the reader's thousands sign."""
    return number_format(round(count), use_l10n=True, force_grouping=True)


def measured_words(number: Decimal) -> str:
    """Say a measured number without zeros that say nothing."""
    plain = number.quantize(Decimal(1)) if number == number.to_integral() else number.normalize()
    return str(number_format(plain, use_l10n=True, force_grouping=True))


def minutes_words(minutes: int) -> str:
    """Return a duration as people say it: 4 h 10 min."""
    hours, rest = divmod(minutes, 60)
    if not hours:
        return _("%(min)d min") % {"min": rest}
    if not rest:
        return _("%(h)d h") % {"h": hours}
    return _("%(h)d h %(min)d min") % {"h": hours, "min": rest}


def clock_words(instant: datetime) -> str:
    """Return the plant's wall time of an instant."""
    return date_format(timezone.localtime(instant), "H:i")


def day_words(on: date) -> str:
    """Return a date with its weekday."""
    return date_format(on, "D j M Y")


def moment_words(instant: datetime, *, now: datetime) -> str:
    """Return an instant as near as its day needs: a time today, a weekday this week, a date."""
    local, today = timezone.localtime(instant), timezone.localtime(now).date()
    days = (local.date() - today).days
    if days == 0:
        return date_format(local, "H:i")
    if -6 <= days <= 6:
        return date_format(local, "D H:i")
    if abs(days) < 300:
        return date_format(local, "j M")
    return date_format(local, "j M Y")


def shift_words(when: When | None) -> str:
    """Return a day and its shift."""
    if when is None:
        return _("a time not known")
    if not when.is_near:
        return day_words(when.on)
    day = date_format(when.on, "D")
    if not when.shift:
        return day
    return _("%(day)s %(shift)s shift") % {"day": day, "shift": in_sentence(when.shift)}


def basis_words(basis: str) -> str:
    """Return what a count is in."""
    return _("shots") if basis == due.Basis.SHOTS else _("cycles")


def reason_words(parts: tuple[Part, ...]) -> str:
    """Return the sentences of a reason."""
    return " ".join(_part_words(part) for part in parts)


def _part_words(part: Part) -> str:
    values = {
        "used": count_words(part.used or 0),
        "of": count_words(part.of or 0),
        "when": shift_words(part.when),
    }
    match part.kind:
        case PartKind.USED_COUNT:
            return _("%(used)s of %(of)s %(basis)s.") % {
                **values,
                "basis": basis_words(part.name),
            }
        case PartKind.USED_DAYS:
            return _("%(used)s of %(of)s days.") % values
        case PartKind.USED_HOURS:
            return _("%(used)s of %(of)s running hours.") % values
        case PartKind.MEASURED:
            return _("%(name)s %(value)s, limit %(limit)s.") % {
                "name": part.name[:1].upper() + part.name[1:],
                "value": number_format(part.used or 0),
                "limit": number_format(part.of or 0),
            }
        case PartKind.EVENT:
            return _event_words(part.name)
        case PartKind.UNSURE:
            return _("Unsure since %(when)s: %(why)s.") % {**values, "why": _unsure(part.name)}
        case PartKind.BY_FORECAST:
            if part.name == State.DUE:
                return _("Due by forecast since %(when)s: read the counter.") % values
            return _("Due soon by forecast since %(when)s: read the counter.") % values
        case PartKind.DEFERRED:
            return _deferred_words(part)
        case PartKind.PAST_LIMIT_SINCE:
            return _("Past limit since %(when)s.") % values
        case PartKind.OVERDUE_SINCE:
            return _("Overdue since %(when)s.") % values
        case PartKind.DUE_SINCE:
            return _("Due since %(when)s.") % values
        case PartKind.DUE_AT:
            return _("Due %(when)s.") % values
        case PartKind.DUE_ABOUT:
            return _("Due about %(when)s.") % values
        case PartKind.SERVED:
            return _("The last work served %(when)s.") % values
        case PartKind.NO_RECORD:
            return _("No record yet.")
        case PartKind.WAITING:
            return _("Stored; the calendar waits.")
        case PartKind.COUNT_OPEN:
            return _("The count at the last work is open; at least this much has run since.")
        case PartKind.DATE_OPEN:
            return _("The date of the last work is open; it was at least this long ago.")
        case PartKind.NO_COUNTS:
            return _("No count is known.")


def _deferred_words(part: Part) -> str:
    until = [] if part.when is None else [shift_words(part.when)]
    if part.count is not None:
        until.append(
            _("a count of %(count)s %(basis)s")
            % {"count": count_words(part.count), "basis": basis_words(part.name)}
        )
    if not until:
        return _("Deferred.")
    return _("Deferred until %(until)s.") % {"until": _(" or ").join(until)}


def _unsure(why: str) -> str:
    return {
        UnsureWhy.OLD_READING: _("the newest reading is too old"),
        UnsureWhy.HELD_READING: _("a newer reading is held"),
        UnsureWhy.AMBIGUOUS_SPAN: _("the count can be read in two ways"),
    }[UnsureWhy(why)]


def _event_words(name: str) -> str:
    return {
        due.EventKind.END_OF_RUN: _("Asked for at the end of a run."),
        due.EventKind.BEFORE_SET: _("Asked for before the mold is set."),
        due.EventKind.INTO_STORAGE: _("Asked for when the mold goes into storage."),
        due.EventKind.BACK_FROM_STORAGE: _("Asked for when the mold comes back from storage."),
        due.EventKind.MOLD_OPENED: _("Asked for whenever the mold was opened."),
        due.EventKind.EACH_SERVICE: _("Asked for at each service."),
        due.EventKind.SET: _("Asked for at each set."),
    }[due.EventKind(name)]


def why_words(standing: due.Standing, *, at: datetime, calendar: ShiftCalendar) -> str:
    """Return why a rule stands as it does at an instant."""
    return reason_words(due.reason(standing, at=at, calendar=calendar))


def tasks_words(tasks: int, *, molds: int) -> str:
    """Return how many tasks on how many molds."""
    first = ngettext("%(n)d task", "%(n)d tasks", tasks) % {"n": tasks}
    second = ngettext("%(n)d mold", "%(n)d molds", molds) % {"n": molds}
    return _("%(tasks)s on %(molds)s") % {"tasks": first, "molds": second}
