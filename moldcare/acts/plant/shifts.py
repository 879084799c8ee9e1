"""The week's shifts, and the days that are worked otherwise."""

from collections.abc import Sequence
from datetime import date, time, timedelta
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from moldcare.acts.answers import Written, answer_of
from moldcare.acts.doing import Doing
from moldcare.acts.entries import plant_entry
from moldcare.acts.errors import DoesNotFit, Incomplete, NotFound
from moldcare.acts.plant.entries import refresh_everything, with_calendars
from moldcare.acts.records import checked_fact
from moldcare.acts.rights import Right, require
from moldcare.acts.words import reason_given, sentence_end, tidy
from moldcare.core.shifts import ShiftException as CoreException
from moldcare.core.shifts import ShiftPattern as CorePattern
from moldcare.core.shifts import ShiftSlot as Slot
from moldcare.core.shifts import check_shifts
from moldcare.plant.models import ShiftException, ShiftPattern, ShiftSlot
from moldcare.plant.queries import (
    days_that_differ,
    pattern_on,
    patterns_in_force,
    the_calendar,
    the_plant,
)

MOST_DAYS = 200


def add_shift_pattern(doing: Doing, *, valid_from: date, slots: Sequence[Slot]) -> Written:
    """Write down the week's shifts from a date on; what was worked before stays as it was.

    Where a pattern begins on that date already, this one takes its place.

    Raises
    ------
    DoesNotFit
        If it would give other shifts to days that were worked by an earlier pattern: when work
        was due and done, and how old readings were, rests on those.
    ShiftsContradict
        If shifts overlap or share a name.
    """
    require(doing.person, Right.EDIT_SHIFTS)
    named = [
        {
            "weekday": slot.weekday,
            "name": tidy(slot.name),
            "starts": f"{slot.starts:%H:%M}",
            "ends": f"{slot.ends:%H:%M}",
        }
        for slot in slots
    ]

    def do() -> dict[str, Any]:
        if not slots:
            raise Incomplete(_("Give at least one shift."))
        check_shifts([CorePattern(valid_from=valid_from, slots=tuple(slots))])
        _refuse_days_that_were_worked(valid_from, doing=doing)
        earlier = patterns_in_force().filter(valid_from=valid_from).first()
        pattern = ShiftPattern.objects.create(valid_from=valid_from, written_at=doing.now)
        for slot in slots:
            row = ShiftSlot(
                pattern=pattern,
                weekday=slot.weekday,
                name=tidy(slot.name),
                starts=slot.starts,
                ends=slot.ends,
            )
            checked_fact(row)
            row.save()
        entry = plant_entry(
            doing,
            kind="shifts",
            sentence=(
                f"Shifts from {valid_from} on: {_slots_words(slots)}."
                f"{' They take the place of those that were entered before.' if earlier else ''}"
            ),
            facts={
                "valid_from": valid_from,
                "slots": named,
                **({"in_place_of": earlier.pk} if earlier else {}),
            },
        )
        refresh_everything()
        return answer_of(pattern, entry=entry)

    body = {"valid_from": valid_from, "slots": named}
    return with_calendars(doing, act="add_shift_pattern", body=body, do=do)


def take_back_pattern(doing: Doing, *, pattern: ShiftPattern, reason: str) -> Written:
    """Write down that a week that has not begun is not worked: the one before it goes on.

    Raises
    ------
    DoesNotFit
        If days were worked by it.
    NotFound
        If it was taken back or replaced already.
    """
    require(doing.person, Right.EDIT_SHIFTS)

    def do() -> dict[str, Any]:
        words = reason_given(reason)
        if not patterns_in_force().filter(pk=pattern.pk).exists():
            raise NotFound(_("This week was taken back or replaced already; nothing was written."))
        today = _today(doing)
        if pattern.valid_from < today:
            raise DoesNotFit(
                _("Days since %(date)s were worked by this week. Enter another from %(today)s on.")
                % {"date": pattern.valid_from, "today": today}
            )
        row = ShiftPattern.objects.create(
            valid_from=pattern.valid_from, is_taken_back=True, written_at=doing.now
        )
        entry = plant_entry(
            doing,
            kind="shifts_taken_back",
            sentence=(
                f"The shifts from {pattern.valid_from} on are taken back. {sentence_end(words)}"
            ),
            facts={"valid_from": pattern.valid_from, "takes_back": pattern.pk, "reason": words},
        )
        refresh_everything()
        return answer_of(row, entry=entry)

    body = {"pattern": pattern, "reason": reason}
    return with_calendars(doing, act="take_back_pattern", body=body, do=do)


def add_shift_exception(
    doing: Doing,
    *,
    on: date,
    is_worked: bool,
    reason: str,
    shift_name: str = "",
    starts: time | None = None,
    ends: time | None = None,
) -> Written:
    """Write down that a day, or one shift of it, is worked or not against the pattern.

    With `starts` and `ends` the shift has times of its own on that day; the pattern need not
    know it.

    Raises
    ------
    DoesNotFit
        If shifts would overlap then.
    ShiftsContradict
        If the day's pattern knows no shift of that name and no times are given.
    """
    require(doing.person, Right.EDIT_SHIFTS)

    def do() -> dict[str, Any]:
        words, name = reason_given(reason), tidy(shift_name)
        pattern = pattern_on(on)
        slots = list(pattern.slots.all()) if pattern else []
        check_shifts(
            [
                CorePattern(
                    valid_from=pattern.valid_from if pattern else on,
                    slots=tuple(
                        Slot(weekday=s.weekday, name=s.name, starts=s.starts, ends=s.ends)
                        for s in slots
                    ),
                )
            ],
            exceptions=[
                CoreException(on=on, name=name, is_worked=is_worked, starts=starts, ends=ends)
            ],
        )
        row = ShiftException(
            on=on,
            shift_name=name,
            is_worked=is_worked,
            starts=starts,
            ends=ends,
            reason=words,
            written_at=doing.now,
        )
        checked_fact(row)
        row.save()
        if is_worked:
            _refuse_overlap(on)
        what = f"{name or 'The day'} on {on} is {'worked' if is_worked else 'not worked'}"
        times = {"starts": f"{starts:%H:%M}", "ends": f"{ends:%H:%M}"} if starts and ends else {}
        if times:
            what = f"{what} from {times['starts']} to {times['ends']}"
        entry = plant_entry(
            doing,
            kind="shift_exception",
            sentence=f"{what}. {sentence_end(words)}",
            facts={
                "on": on,
                "shift_name": name,
                "is_worked": is_worked,
                "reason": words,
                **times,
            },
        )
        refresh_everything()
        return answer_of(row, entry=entry)

    body = {
        "on": on,
        "is_worked": is_worked,
        "reason": reason,
        "shift_name": shift_name,
        **({"starts": str(starts), "ends": str(ends)} if starts or ends else {}),
    }
    return with_calendars(doing, act="add_shift_exception", body=body, do=do)


def add_days_off(doing: Doing, *, days: Sequence[tuple[date, str]]) -> Written:
    """Write down days without shifts, each with its reason: holidays, a shutdown.

    Raises
    ------
    DoesNotFit
        If one is named twice, or is a day without shifts already.
    Incomplete
        If there is none, or one has no reason.
    """
    require(doing.person, Right.EDIT_SHIFTS)
    wanted = [(on, tidy(reason)) for on, reason in days]

    def do() -> dict[str, Any]:
        if not wanted or len(wanted) > MOST_DAYS:
            raise Incomplete(_("Give at least one day and at most %(n)s.") % {"n": MOST_DAYS})
        _refuse_known_days([on for on, _reason in wanted])
        rows = []
        for on, reason in wanted:
            row = ShiftException(
                on=on, is_worked=False, reason=reason_given(reason), written_at=doing.now
            )
            checked_fact(row)
            row.save()
            rows.append(row)
        said = ", ".join(f"{on} ({reason})" for on, reason in wanted)
        entry = plant_entry(
            doing,
            kind="days_off",
            sentence=f"Without shifts: {said}.",
            facts={"days": [{"on": on, "reason": reason} for on, reason in wanted]},
        )
        refresh_everything()
        return answer_of(rows[0], entry=entry)

    body = {"days": [[on, reason] for on, reason in wanted]}
    return with_calendars(doing, act="add_days_off", body=body, do=do)


def take_back_exception(doing: Doing, *, exception: ShiftException, reason: str) -> Written:
    """Write down that a day is worked by its pattern after all; both rows stay.

    Raises
    ------
    DoesNotFit
        If shifts would overlap then.
    NotFound
        If it was taken back already.
    """
    require(doing.person, Right.EDIT_SHIFTS)

    def do() -> dict[str, Any]:
        words = reason_given(reason)
        if not days_that_differ().filter(pk=exception.pk).exists():
            raise NotFound(_("This was taken back already; nothing was written."))
        row = ShiftException(
            on=exception.on,
            shift_name=exception.shift_name,
            is_worked=not exception.is_worked,
            reason=words,
            takes_back=exception,
            written_at=doing.now,
        )
        checked_fact(row)
        row.save()
        _refuse_overlap(exception.on)
        entry = plant_entry(
            doing,
            kind="shift_exception_taken_back",
            sentence=(
                f"{exception.shift_name or 'The day'} on {exception.on} is as the pattern has it "
                f"again. {sentence_end(words)}"
            ),
            facts={
                "on": exception.on,
                "shift_name": exception.shift_name,
                "takes_back": exception.pk,
                "reason": words,
            },
        )
        refresh_everything()
        return answer_of(row, entry=entry)

    body = {"exception": exception, "reason": reason}
    return with_calendars(doing, act="take_back_exception", body=body, do=do)


def _refuse_known_days(days: Sequence[date]) -> None:
    twice = sorted({on for on in days if days.count(on) > 1})
    # of several words on one day the newest counts
    rows = days_that_differ().filter(on__in=days, shift_name="").order_by("id")
    newest = dict(rows.values_list("on", "is_worked"))
    held = sorted({*twice, *(on for on, is_worked in newest.items() if not is_worked)})
    if held:
        raise DoesNotFit(
            _("Named twice, or without shifts already: %(days)s.")
            % {"days": ", ".join(str(on) for on in held)}
        )


def _slots_words(slots: Sequence[Slot]) -> str:
    days = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
    return ", ".join(
        f"{days[slot.weekday]} {tidy(slot.name)} {slot.starts:%H:%M}-{slot.ends:%H:%M}"
        for slot in slots
    )


def _refuse_days_that_were_worked(valid_from: date, *, doing: Doing) -> None:
    today = _today(doing)
    earlier = pattern_on(valid_from)
    if valid_from < today and earlier is not None:
        raise DoesNotFit(
            _(
                "Days since %(date)s were worked by the shifts that hold from %(earlier)s on, and "
                "what was due and done then rests on them. Begin on %(today)s or later; a single "
                "day can still be put right on its own."
            )
            % {"date": valid_from, "earlier": earlier.valid_from, "today": today}
        )


def _today(doing: Doing) -> date:
    return doing.now.astimezone(ZoneInfo(the_plant().zone)).date()


def _refuse_overlap(on: date) -> None:
    """Refuse a day whose shifts run into each other, or into those of the days beside it."""
    calendar = the_calendar(the_plant())
    days = (on - timedelta(days=1), on, on + timedelta(days=1))
    worked = [shift for day in days for shift in calendar.shifts_of(day)]
    for first, second in pairwise(worked):
        if second.starts_at < first.ends_at:
            raise DoesNotFit(
                _("The shifts “%(first)s” and “%(second)s” would overlap. Change their times.")
                % {"first": first.name, "second": second.name}
            )
