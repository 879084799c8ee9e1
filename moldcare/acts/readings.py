"""Counter readings: taking them in, and what people decide about those that are held."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing, once
from moldcare.acts.errors import DoesNotFit, Incomplete
from moldcare.acts.records import checked_fact
from moldcare.acts.refresh import refresh_counts, refresh_readings
from moldcare.acts.rights import Right, require
from moldcare.acts.words import local_words, sentence_end
from moldcare.core.counting import check_entry
from moldcare.core.counting.values import State
from moldcare.core.errors import ReadingRefused
from moldcare.counters.convert import microseconds, setup_of
from moldcare.counters.counter_facts import CountersAtHand, fittings_of
from moldcare.counters.models import (
    Counter,
    CounterFitting,
    Reading,
    ReadingDecision,
    Verdict,
)
from moldcare.counters.queries import lock_counters, molds_of_counters, newest_reading_number
from moldcare.files.models import File
from moldcare.logbook.append import append_entry, plant_chain
from moldcare.logbook.models import Chain, Entry
from moldcare.molds.models import Mold
from moldcare.plant.queries import the_plant


@dataclass(frozen=True, kw_only=True, slots=True)
class ReadingEntry:
    """A reading as it is handed in."""

    counter: Counter
    at: datetime
    value: int
    source: str = Reading.Source.TYPED
    note: str = ""
    photo: File | None = None
    device_sent_at: datetime | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class ReadingAnswer:
    """What became of a reading.

    `verdict` is accepted, estimated, held, duplicate or refused; `cycles` are those since the
    accepted reading before it. What was refused is not stored: its `reading_id` is 0.
    """

    reading_id: int
    counter_id: int
    value: int
    verdict: str
    reason: str = ""
    cycles: int | None = None


def record_readings(
    doing: Doing, entries: Sequence[ReadingEntry], *, keep_good: bool = False
) -> list[ReadingAnswer]:
    """Take in readings, in one transaction, and answer what became of each, in their order.

    Doubtful ones are held, repeated ones answered and not stored again. With `keep_good`, one that
    cannot be a reading at all is answered as refused, and the others are stored.

    Raises
    ------
    NotAllowed
        The role enters no readings.
    ReadingRefused
        Without `keep_good`: one of them cannot be a reading at all; then none is stored.
    """
    require(doing.person, Right.ENTER_READINGS)
    body = {
        "readings": [
            [entry.counter.pk, entry.at, entry.value, entry.source, entry.note] for entry in entries
        ]
    }
    answer = once(
        doing, "record_readings", body, lambda: _record(doing, entries, keep_good=keep_good)
    )
    return [ReadingAnswer(**row) for row in answer["readings"]]


def _record(
    doing: Doing, entries: Sequence[ReadingEntry], *, keep_good: bool = False
) -> dict[str, Any]:
    lock_counters(entry.counter.pk for entry in entries)
    known = _known(entries)
    # under the lock: how far a counter counts may have been said since the page was opened
    counters = Counter.objects.in_bulk({entry.counter.pk for entry in entries})
    at_hand = CountersAtHand(counters=counters, fittings=fittings_of(counters))
    plant = the_plant()
    became: list[Reading | dict[str, Any]] = []
    taken: dict[tuple[int, int, int], Reading] = {}
    for entry in entries:
        _check_note(entry.note)
        at_us = microseconds(entry.at)
        key = (entry.counter.pk, at_us, entry.value)
        try:
            passed = check_entry(
                entry.value,
                at_us=at_us,
                received_us=microseconds(doing.now),
                setup=setup_of(counters[entry.counter.pk]),
                fitted_from_us=_first_fitted(at_hand.fittings.get(entry.counter.pk, ())),
                is_from_device=entry.source == Reading.Source.DEVICE,
                device_sent_us=microseconds(entry.device_sent_at) if entry.device_sent_at else None,
                clock_error_us=plant.clock_error_s * 1_000_000,
                known=known[entry.counter.pk],
            )
        except ReadingRefused as error:
            if not keep_good:
                raise
            became.append(_refused(entry, reason=str(error)))
            continue
        if passed.is_duplicate or key in taken:
            row = known[entry.counter.pk].get((at_us, entry.value), 0)
            became.append(_duplicate(entry, row))
            continue
        taken[key] = Reading(
            counter=entry.counter,
            at=entry.at,
            value=entry.value,
            source=entry.source,
            person=doing.person,
            hand_in_id=doing.hand_in,
            photo=entry.photo,
            note=entry.note,
            written_at=doing.now,
        )
        became.append(taken[key])
    fresh = list(taken.values())
    Reading.objects.bulk_create(fresh)
    refresh_readings({reading.counter_id for reading in fresh}, plant=plant, at_hand=at_hand)
    verdicts = Verdict.objects.in_bulk([reading.pk for reading in fresh])
    answers = [
        _answer(each, verdicts.get(each.pk)) if isinstance(each, Reading) else each
        for each in became
    ]
    return {"readings": answers}


def _check_note(note: str) -> None:
    longest = Reading._meta.get_field("note").max_length
    if longest is not None and len(note) > longest:
        raise Incomplete(
            _("The note has %(n)d signs; at most %(most)d fit.") % {"n": len(note), "most": longest}
        )


def _known(entries: Sequence[ReadingEntry]) -> dict[int, dict[tuple[int, int], int]]:
    """Return the stored readings of the same counters and instants, by instant and value."""
    known: dict[int, dict[tuple[int, int], int]] = defaultdict(dict)
    rows = Reading.objects.filter(
        counter__in={entry.counter.pk for entry in entries},
        at__in={entry.at for entry in entries},
    ).values_list("counter_id", "at", "value", "id")
    for counter_id, at, value, number in rows:
        known[counter_id][(microseconds(at), value)] = number
    return known


def _first_fitted(fittings: Iterable[CounterFitting]) -> int | None:
    """Return when a counter was first fitted [us since 1970]."""
    fitted = (row.at for row in fittings if row.act == CounterFitting.Act.FITTED)
    first = min(fitted, default=None)
    return None if first is None else microseconds(first)


def _duplicate(entry: ReadingEntry, number: int) -> dict[str, Any]:
    return {
        "reading_id": number,
        "counter_id": entry.counter.pk,
        "value": entry.value,
        "verdict": "duplicate",
    }


def _refused(entry: ReadingEntry, *, reason: str) -> dict[str, Any]:
    return {
        "reading_id": 0,
        "counter_id": entry.counter.pk,
        "value": entry.value,
        "verdict": "refused",
        "reason": reason,
    }


def _answer(reading: Reading, verdict: Verdict | None) -> dict[str, Any]:
    """Return what became of a reading; inside a round that is derived later, it is taken in."""
    is_held = verdict is not None and verdict.state == State.HELD
    word = "held" if is_held else "accepted"
    if not is_held and reading.source == Reading.Source.ESTIMATED:
        word = "estimated"
    return {
        "reading_id": reading.pk,
        "counter_id": reading.counter_id,
        "value": reading.value,
        "verdict": word,
        "reason": verdict.reason if verdict is not None else "",
        "cycles": verdict.cycles if verdict is not None and not is_held else None,
    }


@dataclass(frozen=True, kw_only=True, slots=True)
class Decided:
    """What was decided: the decision's number, the entry's, and the reading put in its place."""

    decision_id: int
    entry_id: int
    replaced_by: int | None = None


def accept_reading(doing: Doing, *, reading: Reading, reason: str) -> Decided:
    """Accept a held reading as it is: what it says was counted."""
    return _decide(doing, reading, kind=ReadingDecision.Kind.ACCEPT, reason=reason)


def set_reading_aside(doing: Doing, *, reading: Reading, reason: str) -> Decided:
    """Set a reading aside: it was wrong. What depended on it is judged again."""
    return _decide(doing, reading, kind=ReadingDecision.Kind.SET_ASIDE, reason=reason)


def restart_from_reading(doing: Doing, *, reading: Reading, reason: str) -> Decided:
    """Let the counter go on from a reading: it was reset or replaced, the total runs on."""
    return _decide(doing, reading, kind=ReadingDecision.Kind.RESTART, reason=reason)


def say_turns(doing: Doing, *, reading: Reading, turns: int, reason: str) -> Decided:
    """Say how many full turns the counter made before a reading."""
    if turns < 0:
        raise Incomplete(_("A counter makes no less than 0 full turns."))
    return _decide(doing, reading, kind=ReadingDecision.Kind.TURNS, reason=reason, turns=turns)


def correct_reading(
    doing: Doing,
    *,
    reading: Reading,
    reason: str,
    value: int | None = None,
    at: datetime | None = None,
) -> Decided:
    """Put a corrected reading in the place of one; both stay visible."""
    if value is None and at is None:
        raise Incomplete(_("Say what the counter showed, or when it was read."))
    corrected = (reading.value if value is None else value, at or reading.at)
    if corrected == (reading.value, reading.at):
        raise DoesNotFit(_("The corrected reading is the same as the one it replaces."))
    return _decide(
        doing,
        reading,
        kind=ReadingDecision.Kind.SET_ASIDE,
        reason=reason,
        corrected=corrected,
    )


def _decide(
    doing: Doing,
    reading: Reading,
    *,
    kind: str,
    reason: str,
    turns: int | None = None,
    corrected: tuple[int, datetime] | None = None,
) -> Decided:
    require(doing.person, Right.DECIDE_READINGS)
    if not reason.strip():
        raise Incomplete(_("Say why; the logbook keeps the reason."))
    body = {
        "reading": reading.pk,
        "kind": kind,
        "reason": reason,
        "turns": turns,
        "corrected": None if corrected is None else [corrected[0], corrected[1].isoformat()],
    }

    def do() -> dict[str, Any]:
        lock_counters([reading.counter_id])
        _check_open(reading, kind=kind)
        replaced_by = None if corrected is None else _corrected(doing, reading, corrected)
        decision = ReadingDecision(
            reading=reading,
            kind=kind,
            turns=turns,
            replaced_by=replaced_by,
            reason=reason.strip(),
            person=doing.person,
            after_reading=newest_reading_number(),
            written_at=doing.now,
        )
        checked_fact(decision)
        decision.entry = _decision_entry(doing, decision)
        decision.save()
        refresh_counts(counters=[reading.counter_id])
        return {
            "decision_id": decision.pk,
            "entry_id": decision.entry.pk,
            "replaced_by": replaced_by.pk if replaced_by else None,
        }

    return Decided(**once(doing, "decide_reading", body, do))


def _check_open(reading: Reading, *, kind: str) -> None:
    """Raise DoesNotFit when the reading was set aside already."""
    verdict = Verdict.objects.filter(pk=reading.pk).first()
    if verdict is not None and verdict.state == State.SET_ASIDE:
        raise DoesNotFit(
            _("This reading was set aside already. Open the list again to see how it stands.")
        )


def _corrected(doing: Doing, reading: Reading, corrected: tuple[int, datetime]) -> Reading:
    value, at = corrected
    check_entry(
        value,
        at_us=microseconds(at),
        received_us=microseconds(doing.now),
        setup=setup_of(reading.counter),
    )
    if Reading.objects.filter(counter=reading.counter_id, at=at, value=value).exists():
        raise DoesNotFit(_("That reading is stored already; set this one aside instead."))
    row = Reading(
        counter_id=reading.counter_id,
        at=at,
        value=value,
        source=Reading.Source.CORRECTED,
        person=doing.person,
        hand_in_id=doing.hand_in,
        written_at=doing.now,
    )
    row.save()
    return row


def chain_of_counter(counter: Counter) -> Chain:
    """Return the chain that decisions about a counter are written in.

    That of the mold it sits on; for a press's counter the plant's own.
    """
    found = molds_of_counters([counter.pk]).get(counter.pk)
    if found is None:
        return plant_chain()
    return Mold.objects.select_related("chain").get(pk=found[0]).chain


def _decision_entry(doing: Doing, decision: ReadingDecision) -> Entry:
    reading = decision.reading
    said = {
        ReadingDecision.Kind.ACCEPT: "was accepted as it is",
        ReadingDecision.Kind.SET_ASIDE: "was set aside",
        ReadingDecision.Kind.RESTART: "is where the counter goes on from, reset or replaced",
        ReadingDecision.Kind.TURNS: f"came after {decision.turns} full turns of the counter",
    }[ReadingDecision.Kind(decision.kind)]
    put, plant = decision.replaced_by, the_plant()
    read_at = local_words(reading.at, plant=plant)
    instead = f" {put.value} at {local_words(put.at, plant=plant)} takes its place." if put else ""
    return append_entry(
        chain_of_counter(reading.counter),
        kind="reading decision",
        happened_at=doing.now,
        written_at=doing.now,
        author=doing.person,
        sentence=(
            f"Reading {reading.value} of counter {reading.counter.label} at {read_at} {said}: "
            f"{sentence_end(decision.reason)}{instead}"
        ),
        facts={
            "reading": reading.pk,
            "counter": reading.counter.label,
            "at": reading.at,
            "value": reading.value,
            "decision": decision.kind,
            "turns": decision.turns,
            "reason": decision.reason,
            "replaced_by_value": put.value if put else None,
            "replaced_by_at": put.at if put else None,
        },
    )
