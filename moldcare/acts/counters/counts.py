"""What counts for a mold: which of two counters, and how many cycles were dry."""

from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _

from moldcare.acts.answers import Written, answer_of
from moldcare.acts.counters.entries import counter_entry
from moldcare.acts.doing import Doing, check_happened, once
from moldcare.acts.errors import DoesNotFit, Incomplete
from moldcare.acts.locks import counters_that_count, known_so_far, lock_mold
from moldcare.acts.records import checked_fact
from moldcare.acts.refresh import refresh_counts
from moldcare.acts.rights import Right, require
from moldcare.acts.words import local_words, reason_given
from moldcare.counters.models import CountPreference, DryCycles
from moldcare.molds.models import Mold
from moldcare.plant.queries import the_plant


def prefer_count(
    doing: Doing,
    *,
    mold: Mold,
    source: str,
    from_at: datetime,
    to_at: datetime | None = None,
    reason: str,
) -> Written:
    """Decide which counter counts for a mold over a span: its own, or the press's.

    Without `to_at` it holds from then on. A later decision about the same time takes its place.

    Raises
    ------
    Incomplete
        If there is no reason, or the span ends before it begins.
    """
    require(doing.person, Right.DECIDE_READINGS)

    def do() -> dict[str, Any]:
        plant = the_plant()
        check_happened(from_at, doing=doing, plant=plant)
        held = lock_mold(mold)
        words = reason_given(reason)
        counters = counters_that_count(held)
        row = CountPreference(
            mold=held,
            from_at=from_at,
            to_at=to_at,
            source=source,
            reason=words,
            person=doing.person,
            after_reading=known_so_far(counters),
            written_at=doing.now,
        )
        if to_at is not None and to_at <= from_at:
            raise Incomplete(_("The span ends before it begins. Check the two times."))
        checked_fact(row)
        whose = "the mold's own" if source == CountPreference.Source.MOLD else "the press's"
        since = local_words(from_at, plant=plant)
        until = f" until {local_words(to_at, plant=plant)}" if to_at else ""
        row.entry = counter_entry(
            doing,
            on=held,
            kind="count_preferred",
            at=doing.now,
            sentence=f"From {since}{until} {whose} counter counts.",
            facts={"source": source, "from_at": from_at, "to_at": to_at},
            reason=words,
        )
        row.save()
        refresh_counts(counters=counters, molds=[held.pk])
        return answer_of(row, entry=row.entry)

    body = {"mold": mold, "source": source, "from_at": from_at, "to_at": to_at, "reason": reason}
    return Written.read(once(doing, "prefer_count", body, do))


def report_dry_cycles(
    doing: Doing, *, mold: Mold, from_at: datetime, to_at: datetime, cycles: int
) -> Written:
    """Report how many cycles of a span were without plastic.

    Raises
    ------
    DoesNotFit
        If dry cycles were reported for a part of that span already.
    Incomplete
        If the span ends before it begins, or the number is below 1.
    """
    require(doing.person, Right.ENTER_READINGS)

    def do() -> dict[str, Any]:
        plant = the_plant()
        check_happened(to_at, doing=doing, plant=plant)
        held = lock_mold(mold)
        if to_at <= from_at:
            raise Incomplete(_("The span ends before it begins. Check the two times."))
        if cycles < 1:
            raise Incomplete(_("Give how many cycles were dry: 1 or more."))
        other = DryCycles.objects.filter(mold=held, from_at__lt=to_at, to_at__gt=from_at).first()
        if other is not None:
            raise DoesNotFit(
                _("%(cycles)s dry cycles from %(from)s to %(to)s were reported already.")
                % {
                    "cycles": other.cycles,
                    "from": local_words(other.from_at, plant=plant),
                    "to": local_words(other.to_at, plant=plant),
                }
            )
        row = DryCycles(
            mold=held,
            from_at=from_at,
            to_at=to_at,
            cycles=cycles,
            person=doing.person,
            written_at=doing.now,
        )
        checked_fact(row)
        row.entry = counter_entry(
            doing,
            on=held,
            kind="dry_cycles",
            at=to_at,
            sentence=(
                f"{cycles:,} cycles without plastic since {local_words(from_at, plant=plant)}."
            ),
            facts={"from_at": from_at, "to_at": to_at, "cycles": cycles},
            reason="",
        )
        row.save()
        refresh_counts(molds=[held.pk])
        return answer_of(row, entry=row.entry)

    body = {"mold": mold, "from_at": from_at, "to_at": to_at, "cycles": cycles}
    return Written.read(once(doing, "report_dry_cycles", body, do))
