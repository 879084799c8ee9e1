"""Interruptions: a run stopped by a fault of the mold."""

from datetime import datetime, timedelta
from typing import Any

from django.db.models import Q
from django.utils.translation import gettext as _

from moldcare.acts.answers import Written, answer_of
from moldcare.acts.doing import Doing, check_happened, once
from moldcare.acts.errors import DoesNotFit, Incomplete
from moldcare.acts.locks import lock_mold
from moldcare.acts.records import checked_fact
from moldcare.acts.refresh import refresh_care
from moldcare.acts.rights import Right, require
from moldcare.acts.words import local_words, sentence_end, tidy
from moldcare.care.models import Family, Grade
from moldcare.logbook.append import append_entry
from moldcare.molds.models import Mold
from moldcare.molds.queries import place_of
from moldcare.plant.models import Plant, Spot
from moldcare.plant.queries import the_plant
from moldcare.production.models import Interruption, InterruptionEnd

_FACTS = (
    "waiting_min",
    "repair_min",
    "defect",
    "finding",
    "position",
    "mechanism",
    "cause",
    "action",
    "family_key",
    "grade",
    "scrap_pieces",
)


def report_interruption(
    doing: Doing,
    *,
    mold: Mold,
    from_at: datetime,
    finding: str,
    to_at: datetime | None = None,
    waiting_min: int | None = None,
    repair_min: int | None = None,
    defect: str = "",
    position: str = "",
    mechanism: str = "",
    cause: str = "",
    action: str = "",
    family_key: str = "",
    grade: str = "",
    scrap_pieces: int = 0,
) -> Written:
    """Report that a run stopped: since when, what was seen, what it traced back to.

    Without `to_at` it lasts; `end_interruption` says when the mold runs again. The press is the
    one that the mold was in when it began.

    Raises
    ------
    DoesNotFit
        If another interruption of this mold lasts, or was in the same time.
    Incomplete
        If nothing was found, a word is not known, or the times do not add up.
    """
    require(doing.person, Right.REPORT_INTERRUPTION)
    told: dict[str, Any] = {
        "waiting_min": waiting_min,
        "repair_min": repair_min,
        "defect": defect,
        "finding": tidy(finding),
        "position": tidy(position),
        "mechanism": mechanism,
        "cause": tidy(cause),
        "action": tidy(action),
        "family_key": family_key,
        "grade": grade,
        "scrap_pieces": scrap_pieces,
    }

    def do() -> dict[str, Any]:
        plant = the_plant()
        check_happened(to_at or from_at, doing=doing, plant=plant)
        held = lock_mold(mold)
        if not told["finding"]:
            raise Incomplete(_("Say what was found, before anything was done about it."))
        _check_words(family_key=family_key, grade=grade)
        if to_at is not None:
            _check_times(from_at, to_at=to_at, waiting_min=waiting_min, repair_min=repair_min)
        _refuse_overlap(held, from_at=from_at, to_at=to_at, plant=plant)
        place = place_of(held, at=from_at)
        press = place.spot if place and place.spot.kind == Spot.Kind.PRESS else None
        row = Interruption(
            mold=held,
            press=press,
            from_at=from_at,
            to_at=to_at,
            person=doing.person,
            written_at=doing.now,
            **told,
        )
        checked_fact(row)
        row.entry = append_entry(
            held.chain,
            kind="interruption",
            happened_at=from_at,
            written_at=doing.now,
            author=doing.person,
            sentence=_sentence(row),
            facts={
                "mold": held.number,
                "press": press.number if press else None,
                "from_at": from_at,
                "to_at": to_at,
                **{name: told[name] for name in _FACTS},
            },
        )
        row.save()
        refresh_care(molds=[held.pk])
        return answer_of(row, entry=row.entry)

    body = {"mold": mold, "from_at": from_at, "to_at": to_at, **told}
    return Written.read(once(doing, "report_interruption", body, do))


def end_interruption(
    doing: Doing,
    *,
    interruption: Interruption,
    to_at: datetime,
    waiting_min: int | None = None,
    repair_min: int | None = None,
    mechanism: str = "",
    cause: str = "",
    action: str = "",
    scrap_pieces: int = 0,
) -> Written:
    """End an interruption that was reported while it lasted: the mold runs again.

    `scrap_pieces` are those since the report, beside the ones reported with it.

    Raises
    ------
    DoesNotFit
        If it has ended already.
    Incomplete
        If it would end before it began, or the times do not add up.
    """
    require(doing.person, Right.REPORT_INTERRUPTION)
    told: dict[str, Any] = {
        "waiting_min": waiting_min,
        "repair_min": repair_min,
        "mechanism": mechanism,
        "cause": tidy(cause),
        "action": tidy(action),
        "scrap_pieces": scrap_pieces,
    }

    def do() -> dict[str, Any]:
        check_happened(to_at, doing=doing, plant=the_plant())
        held = lock_mold(interruption.mold)
        ended = InterruptionEnd.objects.filter(interruption=interruption).exists()
        if ended or interruption.to_at is not None:
            raise DoesNotFit(_("This interruption has ended already; nothing was written."))
        _check_times(
            interruption.from_at, to_at=to_at, waiting_min=waiting_min, repair_min=repair_min
        )
        row = InterruptionEnd(
            interruption=interruption,
            from_at=interruption.from_at,
            to_at=to_at,
            person=doing.person,
            written_at=doing.now,
            **told,
        )
        checked_fact(row)
        minutes = int((to_at - interruption.from_at).total_seconds() // 60)
        sentence = f"Runs again after {minutes} min ({interruption.finding})."
        if row.action:
            sentence += f" Done: {sentence_end(row.action)}"
        row.entry = append_entry(
            held.chain,
            kind="interruption_ended",
            happened_at=to_at,
            written_at=doing.now,
            author=doing.person,
            sentence=sentence,
            facts={
                "mold": held.number,
                "interruption": interruption.pk,
                "from_at": interruption.from_at,
                "to_at": to_at,
                **told,
            },
        )
        row.save()
        refresh_care(molds=[held.pk])
        return answer_of(row, entry=row.entry)

    body = {"interruption": interruption, "to_at": to_at, **told}
    return Written.read(once(doing, "end_interruption", body, do))


def _check_words(*, family_key: str, grade: str) -> None:
    if family_key and not Family.objects.filter(key=family_key).exists():
        raise Incomplete(_("There is no care family “%(key)s”.") % {"key": family_key})
    if grade and grade not in Grade.values:
        raise Incomplete(_("“%(grade)s” is no as-found grade.") % {"grade": grade})


def _check_times(
    from_at: datetime, *, to_at: datetime, waiting_min: int | None, repair_min: int | None
) -> None:
    """Raise Incomplete unless waiting and repair fit into the time, give or take a minute."""
    if to_at <= from_at:
        raise Incomplete(_("It ends before it begins. Check the two times."))
    parts = timedelta(minutes=(waiting_min or 0) + (repair_min or 0))
    if parts > to_at - from_at + timedelta(minutes=1):
        raise Incomplete(
            _("Waiting and repair together are longer than the interruption. Check the minutes.")
        )


def _refuse_overlap(mold: Mold, *, from_at: datetime, to_at: datetime | None, plant: Plant) -> None:
    others = Interruption.objects.filter(mold=mold).filter(
        Q(to_at__gt=from_at) | Q(end__to_at__gt=from_at) | Q(to_at=None, end=None)
    )
    if to_at is not None:
        others = others.filter(from_at__lt=to_at)
    other = others.order_by("from_at").first()
    if other is not None:
        raise DoesNotFit(
            _("An interruption since %(at)s is known (%(finding)s). End it first, if it lasts.")
            % {"at": local_words(other.from_at, plant=plant), "finding": other.finding}
        )


def _sentence(row: Interruption) -> str:
    where = f" in press {row.press.number}" if row.press else ""
    seen = f", {row.defect.replace('_', ' ')} on the part" if row.defect else ""
    sentence = f"Interruption{where}{seen}: {sentence_end(row.finding)}"
    if row.action:
        sentence += f" Done: {sentence_end(row.action)}"
    if row.to_at:
        minutes = int((row.to_at - row.from_at).total_seconds() // 60)
        sentence += f" It lasted {minutes} min."
    return sentence
