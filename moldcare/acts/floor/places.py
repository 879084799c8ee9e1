"""Setting, pulling and moving molds."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _

from moldcare.acts.answers import Written, answer_of
from moldcare.acts.doing import Doing, check_happened, once
from moldcare.acts.errors import DoesNotFit
from moldcare.acts.floor.open_matters import OpenMatter, OpenMatters, open_matters
from moldcare.acts.floor.room import (
    refuse_in_press,
    refuse_press,
    refuse_same_instant,
    room_to_come,
)
from moldcare.acts.locks import counters_touched, known_so_far, lock_mold, lock_spot
from moldcare.acts.records import checked_fact
from moldcare.acts.refresh import refresh_care, refresh_counts
from moldcare.acts.rights import Right, may, require
from moldcare.acts.words import local_words, place_fact, place_words, sentence_end, tidy
from moldcare.logbook.append import append_entry
from moldcare.logbook.models import Entry
from moldcare.molds.models import Mold, Move, Run, RunEvent
from moldcare.molds.queries import moves_around, run_to_begin
from moldcare.plant.models import Spot
from moldcare.plant.queries import the_plant


@dataclass(frozen=True, kw_only=True, slots=True)
class MoldSet(Written):
    """A mold was set. `row_id` is the run event's; `accepted` says what was open and accepted."""

    run_id: int | None
    accepted: list[str]


@dataclass(frozen=True, kw_only=True, slots=True)
class MoldPulled(Written):
    """A mold was pulled. `row_id` is the run event's."""

    press_id: int


def set_mold(
    doing: Doing,
    *,
    mold: Mold,
    press: Spot,
    at: datetime,
    run: Run | None = None,
    accepts_open: str = "",
    note: str = "",
) -> MoldSet:
    """Set a mold in a press.

    Without `run` it begins the planned run of this mold in this press, if there is one.
    `accepts_open` is a lead's reason to set it although something is open.

    Raises
    ------
    DoesNotFit
        If the press holds a mold, the mold is in a press, or a later move contradicts it.
    OpenMatters
        If something is open and nobody who may has accepted it.
    """
    require(doing.person, Right.MOVE_MOLDS)

    def do() -> dict[str, Any]:
        plant = the_plant()
        check_happened(at, doing=doing, plant=plant)
        held, spot = lock_mold(mold), lock_spot(press)
        before = room_to_come(held, spot=spot, at=at, until=None, plant=plant)
        matters = open_matters(held, at=at)
        reason = _accepted(doing, matters=matters, reason=accepts_open)
        if run is not None and (run.mold_id, run.press_id) != (held.pk, spot.pk):
            raise DoesNotFit(_("This run was planned for another mold or press."))
        begun = run or run_to_begin(held, press=spot, at=at)
        touched = counters_touched(molds=[held.pk], presses=[spot.pk])
        known = known_so_far(touched)
        accepted = [matter.plain for matter in matters]
        sentence = f"Set in {place_words(spot)}{_came_from(before)}."
        if accepted:
            sentence += f" Accepted by {doing.person.name}: {'; '.join(accepted)}. Reason: {reason}"
            sentence = sentence_end(sentence)
        if tidy(note):
            sentence += f" {sentence_end(tidy(note))}"
        entry = append_entry(
            held.chain,
            kind="set",
            happened_at=at,
            written_at=doing.now,
            author=doing.person,
            sentence=sentence,
            facts={
                "mold": held.number,
                "to": place_fact(spot),
                "from": place_fact(before.spot) if before else None,
                "run": begun.pk if begun else None,
                "accepted": accepted,
                "accepted_reason": reason,
                "note": tidy(note),
            },
        )
        _move(doing, mold=held, spot=spot, at=at, note=note, entry=entry)
        event = RunEvent.objects.create(
            mold=held,
            press=spot,
            run=begun,
            at=at,
            act=RunEvent.Act.SET,
            person=doing.person,
            entry=entry,
            after_reading=known,
            written_at=doing.now,
        )
        refresh_counts(counters=touched, molds=[held.pk])
        return answer_of(event, entry=entry, run_id=begun.pk if begun else None, accepted=accepted)

    body = {
        "mold": mold,
        "press": press,
        "at": at,
        "run": run,
        "accepts_open": accepts_open,
        "note": note,
    }
    return MoldSet.read(once(doing, "set_mold", body, do))


def pull_mold(
    doing: Doing,
    *,
    mold: Mold,
    to: Spot,
    at: datetime,
    last_shot_kept: bool | None = None,
    note: str = "",
) -> MoldPulled:
    """Pull a mold out of the press it is in, to a bench, a rack or away.

    Raises
    ------
    DoesNotFit
        If it was in no press at that instant, or was pulled already.
    """
    require(doing.person, Right.MOVE_MOLDS)

    def do() -> dict[str, Any]:
        plant = the_plant()
        check_happened(at, doing=doing, plant=plant)
        held, spot = lock_mold(mold), lock_spot(to)
        refuse_press(spot)
        before, after = moves_around(held, at=at)
        refuse_same_instant(before, at=at, plant=plant)
        if before is None or before.spot.kind != Spot.Kind.PRESS:
            raise DoesNotFit(
                _("Mold %(mold)s was in no press then (%(place)s). Enter the set first.")
                % {"mold": held.number, "place": before.spot if before else _("place not known")}
            )
        if after is not None:
            raise DoesNotFit(
                _("Mold %(mold)s was pulled already on %(at)s. Correct that entry if it is wrong.")
                % {"mold": held.number, "at": local_words(after.at, plant=plant)}
            )
        return _pull(
            doing, mold=held, came=before, to=spot, at=at, last_shot_kept=last_shot_kept, note=note
        )

    body = {"mold": mold, "to": to, "at": at, "last_shot_kept": last_shot_kept, "note": note}
    return MoldPulled.read(once(doing, "pull_mold", body, do))


def move_mold(doing: Doing, *, mold: Mold, to: Spot, at: datetime, note: str = "") -> Written:
    """Move a mold that is in no press to a bench, a rack or away.

    Raises
    ------
    DoesNotFit
        If it is in a press, is there already, or another move has the same instant.
    """
    require(doing.person, Right.MOVE_MOLDS)

    def do() -> dict[str, Any]:
        plant = the_plant()
        check_happened(at, doing=doing, plant=plant)
        held, spot = lock_mold(mold), lock_spot(to)
        refuse_press(spot)
        before, _after = moves_around(held, at=at)
        refuse_same_instant(before, at=at, plant=plant)
        if before is not None:
            refuse_in_press(before, mold=held, plant=plant)
            if before.spot_id == spot.pk:
                raise DoesNotFit(
                    _("Mold %(mold)s has been there since %(at)s; nothing was written.")
                    % {"mold": held.number, "at": local_words(before.at, plant=plant)}
                )
        words = tidy(note)
        sentence = f"Moved to {place_words(spot)}{_came_from(before)}."
        entry = append_entry(
            held.chain,
            kind="moved",
            happened_at=at,
            written_at=doing.now,
            author=doing.person,
            sentence=f"{sentence} {sentence_end(words)}" if words else sentence,
            facts={
                "mold": held.number,
                "to": place_fact(spot),
                "from": place_fact(before.spot) if before else None,
                "note": words,
            },
        )
        move = _move(doing, mold=held, spot=spot, at=at, note=note, entry=entry)
        refresh_care(molds=[held.pk])
        return answer_of(move, entry=entry)

    body = {"mold": mold, "to": to, "at": at, "note": note}
    return Written.read(once(doing, "move_mold", body, do))


def add_past_run(
    doing: Doing,
    *,
    mold: Mold,
    press: Spot,
    set_at: datetime,
    pulled_at: datetime,
    to: Spot,
    last_shot_kept: bool | None = None,
    note: str = "",
) -> tuple[MoldSet, MoldPulled]:
    """Write down a run that is over and that nobody entered, even before moves that are known.

    What was open on the mold then is not asked: it ran. Both ends are written or neither.

    Raises
    ------
    DoesNotFit
        If the mold was elsewhere in a part of that time, or the press held another mold.
    """
    require(doing.person, Right.MOVE_MOLDS)

    def do() -> dict[str, Any]:
        plant = the_plant()
        check_happened(pulled_at, doing=doing, plant=plant)
        if pulled_at <= set_at:
            raise DoesNotFit(_("It was pulled before it was set. Check the two times."))
        held = lock_mold(mold)
        spot, target = lock_spot(press), lock_spot(to)
        refuse_press(target)
        before = room_to_come(held, spot=spot, at=set_at, until=pulled_at, plant=plant)
        touched = counters_touched(molds=[held.pk], presses=[spot.pk])
        known = known_so_far(touched)
        words = tidy(note)
        sentence = f"Set in {place_words(spot)}{_came_from(before)}; entered after the run."
        entry = append_entry(
            held.chain,
            kind="set",
            happened_at=set_at,
            written_at=doing.now,
            author=doing.person,
            sentence=f"{sentence} {sentence_end(words)}" if words else sentence,
            facts={
                "mold": held.number,
                "to": place_fact(spot),
                "from": place_fact(before.spot) if before else None,
                "run": None,
                "accepted": [],
                "accepted_reason": "",
                "note": words,
            },
        )
        came = _move(doing, mold=held, spot=spot, at=set_at, note=note, entry=entry)
        event = RunEvent.objects.create(
            mold=held,
            press=spot,
            at=set_at,
            act=RunEvent.Act.SET,
            person=doing.person,
            entry=entry,
            after_reading=known,
            written_at=doing.now,
        )
        pulled = _pull(
            doing,
            mold=held,
            came=came,
            to=target,
            at=pulled_at,
            last_shot_kept=last_shot_kept,
            note="",
        )
        return {
            "set": answer_of(event, entry=entry, run_id=None, accepted=[]),
            "pulled": pulled,
        }

    body = {
        "mold": mold,
        "press": press,
        "set_at": set_at,
        "pulled_at": pulled_at,
        "to": to,
        "last_shot_kept": last_shot_kept,
        "note": note,
    }
    answer = once(doing, "add_past_run", body, do)
    return MoldSet.read(answer["set"]), MoldPulled.read(answer["pulled"])


def _pull(
    doing: Doing,
    *,
    mold: Mold,
    came: Move,
    to: Spot,
    at: datetime,
    last_shot_kept: bool | None,
    note: str,
) -> dict[str, Any]:
    begun = RunEvent.objects.filter(mold=mold, at=came.at, act=RunEvent.Act.SET).first()
    touched = counters_touched(molds=[mold.pk], presses=[came.spot_id])
    known = known_so_far(touched)
    kept = {True: " Last shot kept.", False: " Last shot not kept.", None: ""}[last_shot_kept]
    words = tidy(note)
    sentence = f"Pulled from {place_words(came.spot)} to {place_words(to)}.{kept}"
    entry = append_entry(
        mold.chain,
        kind="pulled",
        happened_at=at,
        written_at=doing.now,
        author=doing.person,
        sentence=f"{sentence} {sentence_end(words)}" if words else sentence,
        facts={
            "mold": mold.number,
            "from": place_fact(came.spot),
            "to": place_fact(to),
            "run": begun.run_id if begun else None,
            "last_shot_kept": last_shot_kept,
            "note": words,
        },
    )
    _move(doing, mold=mold, spot=to, at=at, note=note, entry=entry)
    event = RunEvent.objects.create(
        mold=mold,
        press_id=came.spot_id,
        run_id=begun.run_id if begun else None,
        at=at,
        act=RunEvent.Act.PULLED,
        last_shot_kept=last_shot_kept,
        person=doing.person,
        entry=entry,
        after_reading=known,
        written_at=doing.now,
    )
    refresh_counts(counters=touched, molds=[mold.pk])
    return answer_of(event, entry=entry, press_id=came.spot_id)


def _move(doing: Doing, *, mold: Mold, spot: Spot, at: datetime, note: str, entry: Entry) -> Move:
    move = Move(
        mold=mold,
        spot=spot,
        at=at,
        note=tidy(note),
        person=doing.person,
        entry=entry,
        written_at=doing.now,
    )
    checked_fact(move)
    move.save()
    return move


def _came_from(before: Move | None) -> str:
    return f" from {place_words(before.spot)}" if before else ""


def _accepted(doing: Doing, *, matters: tuple[OpenMatter, ...], reason: str) -> str:
    """Return the reason with which open matters were accepted; raise OpenMatters otherwise."""
    words = tidy(reason)
    if not matters:
        return ""
    if not words:
        raise OpenMatters(
            _("Something is open. Settle it, or let a lead accept it with a reason: %(what)s")
            % {"what": " ".join(matter.text for matter in matters)},
            matters=matters,
        )
    if not may(doing.person, Right.DEFER):
        raise OpenMatters(
            _("Only a lead may accept what is open: %(what)s")
            % {"what": " ".join(matter.text for matter in matters)},
            matters=matters,
        )
    return words
