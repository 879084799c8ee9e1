"""The plant's own settings: its record, shifts, spots and rates."""

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from django.utils.translation import gettext as _

from moldcare.acts.answers import Written, answer_of
from moldcare.acts.doing import Doing, once
from moldcare.acts.errors import DoesNotFit, Incomplete
from moldcare.acts.records import (
    add_record,
    change_record,
    change_words,
    checked_fact,
    fill,
    record_facts,
)
from moldcare.acts.refresh import refresh_counts
from moldcare.acts.rights import Right, require
from moldcare.acts.words import reason_given, sentence_end, tidy
from moldcare.core.shifts import ShiftException as CoreException
from moldcare.core.shifts import ShiftPattern as CorePattern
from moldcare.core.shifts import ShiftSlot as Slot
from moldcare.core.shifts import check_shifts
from moldcare.counters.models import Counter
from moldcare.logbook.append import append_entry, plant_chain
from moldcare.logbook.models import Entry
from moldcare.molds.models import Auxiliary, Mold
from moldcare.molds.queries import places_of
from moldcare.plant.models import (
    Plant,
    Rate,
    ShiftException,
    ShiftPattern,
    ShiftSlot,
    Spot,
)
from moldcare.plant.queries import forget_calendars, pattern_on, the_plant

PLANT_FIELDS = (
    "name",
    "zone",
    "currency",
    "language",
    "units",
    "paper",
    "week_starts_on",
    "clock_error_s",
    "reading_age_shifts",
)
SPOT_FIELDS = ("kind", "number", "name", "clamp_kn", "is_in_use")
# what due dates and verdicts are worked out with
_DERIVED_FROM = frozenset({"zone", "clock_error_s", "reading_age_shifts"})
# the entry table takes an hour at most; see WIDEST_CLOCK_ERROR
_WIDEST_CLOCK_ERROR_S = 3600


def set_plant(doing: Doing, *, changes: Mapping[str, Any], is_demo: bool = False) -> Written:
    """Write the plant's record, or change it. The first writing needs a name.

    Raises
    ------
    Incomplete
        If the zone is not known, or another value cannot stand.
    """
    require(doing.person, Right.EDIT_SHIFTS)

    def do() -> dict[str, Any]:
        held = Plant.objects.select_for_update(no_key=True).filter(pk=1).first()
        _check_plant(changes)
        if held is None:
            held = Plant(pk=1, is_demo=is_demo)
            fill(held, values=changes, allowed=PLANT_FIELDS)
            add_record(held)
            after = record_facts(held, fields=PLANT_FIELDS)
            sentence = f"Plant {held.name} set up, time zone {held.zone}."
            facts: dict[str, Any] = after
        else:
            before, after = change_record(held, changes=changes, allowed=PLANT_FIELDS)
            sentence = f"Plant changed: {change_words(before, after=after, of=held)}."
            facts = {"before": before, "after": after}
        entry = _entry(doing, kind="plant_set", sentence=sentence, facts=facts)
        if _DERIVED_FROM & set(after):
            _refresh_everything()
        return answer_of(held, entry=entry)

    body = {"changes": changes, "is_demo": is_demo}
    return Written.read(once(doing, "set_plant", body, do))


def add_shift_pattern(doing: Doing, *, valid_from: date, slots: Sequence[Slot]) -> Written:
    """Write down the week's shifts from a date on; what was worked before stays as it was.

    Raises
    ------
    ShiftsContradict
        If shifts overlap or share a name, or another pattern begins on that date.
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
        if ShiftPattern.objects.filter(valid_from=valid_from).exists():
            raise DoesNotFit(
                _("A pattern begins on %(date)s already. Give another date.") % {"date": valid_from}
            )
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
        entry = _entry(
            doing,
            kind="shifts",
            sentence=f"Shifts from {valid_from} on: {_slots_words(slots)}.",
            facts={"valid_from": valid_from, "slots": named},
        )
        _refresh_everything()
        return answer_of(pattern, entry=entry)

    body = {"valid_from": valid_from, "slots": named}
    return _with_calendars(doing, act="add_shift_pattern", body=body, do=do)


def add_shift_exception(
    doing: Doing, *, on: date, is_worked: bool, reason: str, shift_name: str = ""
) -> Written:
    """Write down that a day, or one shift of it, is worked or not against the pattern.

    Raises
    ------
    ShiftsContradict
        If the day's pattern knows no shift of that name.
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
            exceptions=[CoreException(on=on, name=name, is_worked=is_worked)],
        )
        row = ShiftException(
            on=on, shift_name=name, is_worked=is_worked, reason=words, written_at=doing.now
        )
        checked_fact(row)
        row.save()
        what = f"{name or 'The day'} on {on} is {'worked' if is_worked else 'not worked'}"
        entry = _entry(
            doing,
            kind="shift_exception",
            sentence=f"{what}. {sentence_end(words)}",
            facts={"on": on, "shift_name": name, "is_worked": is_worked, "reason": words},
        )
        _refresh_everything()
        return answer_of(row, entry=entry)

    body = {"on": on, "is_worked": is_worked, "reason": reason, "shift_name": shift_name}
    return _with_calendars(doing, act="add_shift_exception", body=body, do=do)


def add_spot(doing: Doing, *, kind: str, number: str, **fields: Any) -> Written:
    """Add a press, a bench, a rack or a place away; `fields` are of SPOT_FIELDS."""
    require(doing.person, Right.EDIT_SHIFTS)
    values = {"kind": kind, "number": number, **fields}

    def do() -> dict[str, Any]:
        row = Spot()
        fill(row, values=values, allowed=SPOT_FIELDS)
        add_record(row)
        entry = _entry(
            doing,
            kind="spot_added",
            sentence=f"{row.kind.capitalize()} {row.number} added.",
            facts=record_facts(row, fields=SPOT_FIELDS),
        )
        return answer_of(row, entry=entry)

    return Written.read(once(doing, "add_spot", values, do))


def edit_spot(doing: Doing, *, spot: Spot, changes: Mapping[str, Any]) -> Written:
    """Change a spot, or put it out of use. Its kind stays: what was done there was done so.

    Raises
    ------
    DoesNotFit
        If it would go out of use while a mold is there.
    """
    require(doing.person, Right.EDIT_SHIFTS)

    def do() -> dict[str, Any]:
        held = Spot.objects.select_for_update(no_key=True).get(pk=spot.pk)
        before, after = change_record(
            held, changes=changes, allowed=tuple(set(SPOT_FIELDS) - {"kind"})
        )
        if not held.is_in_use and "is_in_use" in after:
            there = [move.mold_id for move in places_of().values() if move.spot_id == held.pk]
            mold = Mold.objects.filter(pk__in=there, withdrawn_at__isnull=True).first()
            if mold is not None:
                raise DoesNotFit(
                    _("Mold %(mold)s is there. Move it first.") % {"mold": mold.number}
                )
        entry = _entry(
            doing,
            kind="spot_edited",
            sentence=(
                f"{held.kind.capitalize()} {held.number} changed: "
                f"{change_words(before, after=after, of=held)}."
            ),
            facts={"spot": held.pk, "before": before, "after": after},
        )
        return answer_of(held, entry=entry)

    return Written.read(once(doing, "edit_spot", {"spot": spot, "changes": changes}, do))


def add_rate(
    doing: Doing, *, kind: str, amount: Decimal, valid_from: date, spot: Spot | None = None
) -> Written:
    """Write down what an hour costs from a date on: of one spot, or of all that have none.

    The first rate of a kind may begin at any date. Later ones begin in this month at the
    earliest: a month that is over keeps its money.

    Raises
    ------
    DoesNotFit
        If it would change the money of a month that is over, or is there already.
    """
    require(doing.person, Right.EDIT_RATES)

    def do() -> dict[str, Any]:
        plant = the_plant()
        month = doing.now.astimezone(ZoneInfo(plant.zone)).date().replace(day=1)
        same_kind = Rate.objects.filter(kind=kind)
        if valid_from < month and same_kind.exists():
            raise DoesNotFit(
                _("A rate from %(date)s would change months that are over. Begin on %(month)s.")
                % {"date": valid_from, "month": month}
            )
        if same_kind.filter(spot=spot, valid_from=valid_from).exists():
            raise DoesNotFit(_("There is a rate from this date already."))
        row = Rate(kind=kind, spot=spot, amount=amount, valid_from=valid_from, written_at=doing.now)
        checked_fact(row)
        row.save()
        where = f" of {spot.kind} {spot.number}" if spot else ""
        entry = _entry(
            doing,
            kind="rate",
            sentence=f"An hour ({kind}){where} costs {amount} {plant.currency} from {valid_from}.",
            facts={
                "kind": kind,
                "spot": spot.pk if spot else None,
                "amount": amount,
                "currency": plant.currency,
                "valid_from": valid_from,
            },
        )
        return answer_of(row, entry=entry)

    body = {"kind": kind, "amount": amount, "valid_from": valid_from, "spot": spot}
    return Written.read(once(doing, "add_rate", body, do))


def _check_plant(changes: Mapping[str, Any]) -> None:
    if "zone" in changes:
        try:
            ZoneInfo(str(changes["zone"]))
        except (ZoneInfoNotFoundError, ValueError, OSError) as error:
            raise Incomplete(
                _("“%(zone)s” is no time zone. Give one such as Europe/Berlin.")
                % {"zone": changes["zone"]}
            ) from error
    if int(changes.get("clock_error_s", 0)) > _WIDEST_CLOCK_ERROR_S:
        raise Incomplete(_("A clock may be off by an hour at most: 3600 seconds."))


def _with_calendars(doing: Doing, *, act: str, body: Mapping[str, Any], do: Any) -> Written:
    """Do it; when it fails, forget calendars that hold rows which were rolled back."""
    try:
        return Written.read(once(doing, act, body, do))
    except BaseException:
        forget_calendars()
        raise


def _refresh_everything() -> None:
    """Derive all counts and standings again: due dates hang on shifts and the zone."""
    refresh_counts(
        counters=Counter.objects.values_list("pk", flat=True),
        molds=Mold.objects.filter(withdrawn_at__isnull=True).values_list("pk", flat=True),
        auxiliaries=Auxiliary.objects.filter(withdrawn_at__isnull=True).values_list(
            "pk", flat=True
        ),
    )


def _slots_words(slots: Sequence[Slot]) -> str:
    days = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
    return ", ".join(
        f"{days[slot.weekday]} {tidy(slot.name)} {slot.starts:%H:%M}-{slot.ends:%H:%M}"
        for slot in slots
    )


def _entry(doing: Doing, *, kind: str, sentence: str, facts: dict[str, Any]) -> Entry:
    return append_entry(
        plant_chain(),
        kind=kind,
        happened_at=doing.now,
        written_at=doing.now,
        author=doing.person,
        sentence=sentence,
        facts=facts,
    )
