"""Taking back an import of counter readings: all of them are set aside, but those decided since."""

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any, NamedTuple

from django.db import connection
from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing, once
from moldcare.acts.refresh import refresh_counts
from moldcare.acts.rights import Right, require
from moldcare.acts.taking_back.values import Undone, Work
from moldcare.acts.words import local_words, sentence_end
from moldcare.bulk import insert_values
from moldcare.counters.models import Counter, Reading, ReadingDecision
from moldcare.counters.queries import (
    decided_among,
    judged_anew_in,
    lock_counters,
    molds_of_counters,
    newest_reading_number,
)
from moldcare.logbook.append import EntryDraft
from moldcare.molds.models import Mold
from moldcare.plant.models import Plant
from moldcare.plant.queries import the_plant


@dataclass(frozen=True, kw_only=True, slots=True)
class BroughtReadings:
    """The readings of one import: those of `batch` among the arrival numbers from after to last."""

    batch: int
    after: int
    last: int


class _Row(NamedTuple):
    """A reading that an import brought."""

    pk: int
    counter: int
    at: datetime
    value: int


def take_back_readings(
    doing: Doing,
    *,
    batch: int,
    name: str,
    reason: str,
    brought: Callable[[], Sequence[BroughtReadings]],
    keep: Callable[[Undone], None],
) -> Undone:
    """Set aside all readings that an import brought, in one transaction.

    What somebody decided about a reading since stands: such a reading stays and is listed. Each
    mold whose counter is concerned has one entry, the counters of presses stand in the plant's.
    A later file that brings the same readings has them judged like new ones.

    Parameters
    ----------
    batch, name : int, str
        The import, and the file's name.
    reason : str
        Why; the logbook keeps it.
    brought : callable
        Gives what it brought, its rows that were mended since included; asked in the transaction.
    keep : callable
        Keeps the answer; raises when the import was taken back already.

    Raises
    ------
    Incomplete
        If there is no reason.
    DoesNotFit
        If nothing of it can be taken back.
    """
    require(doing.person, Right.IMPORT)

    def do() -> dict[str, Any]:
        work = Work.begun(doing, batch=batch, name=name, reason=reason)
        spans = brought()
        rows = _rows(spans)
        counters = {row.counter for row in rows}
        lock_counters(counters)
        labels = dict(Counter.objects.filter(pk__in=counters).values_list("pk", "label"))
        plant = the_plant()
        batches = [span.batch for span in spans]
        free = _free(rows, batches=batches, labels=labels, plant=plant, work=work)
        on_molds, on_presses = _lines(free, labels=labels, plant=plant)
        entries = _mold_entries(on_molds, work=work)
        said = "".join(f" {each['said']}." for each in on_presses)
        undone = work.end(
            counts={"readings_set_aside": len(free)},
            sentence=said,
            counters=[each["fact"] for each in on_presses],
        )
        _set_aside(free, entries=entries, otherwise=undone.entry_id, batch=batch, work=work)
        keep(undone)
        refresh_counts(counters=counters)
        return asdict(undone)

    body = {"batch": batch, "reason": reason}
    return Undone(**once(doing, "take_back_import", body, do))


def _rows(spans: Sequence[BroughtReadings]) -> list[_Row]:
    found = []
    for span in spans:
        rows = Reading.objects.filter(pk__gt=span.after, pk__lte=span.last, batch_id=span.batch)
        found += [_Row(*row) for row in rows.values_list("pk", "counter_id", "at", "value")]
    anew = Reading.objects.filter(pk__in=judged_anew_in(span.batch for span in spans))
    found += [_Row(*row) for row in anew.values_list("pk", "counter_id", "at", "value")]
    return found


def _free(
    rows: Sequence[_Row],
    *,
    batches: Sequence[int],
    labels: dict[int, str],
    plant: Plant,
    work: Work,
) -> list[_Row]:
    """Return the readings that nobody decided about since; write down the others."""
    decided = decided_among((row.pk for row in rows), but_by=batches)
    free = []
    for row in rows:
        decision = decided.get(row.pk)
        if decision is None:
            free.append(row)
        elif decision.kind != ReadingDecision.Kind.SET_ASIDE or decision.replaced_by_id:
            what = _("%(value)s of counter %(counter)s, %(at)s") % {
                "value": f"{row.value:,}",
                "counter": labels[row.counter],
                "at": local_words(row.at, plant=plant),
            }
            why = _("Somebody decided about it since: %(what)s.") % {
                "what": decision.get_kind_display()
            }
            if decision.replaced_by_id:
                why = _("Somebody corrected it since: the corrected reading stays.")
            work.stays(what, row=0, why=why)
    return free


def _lines(
    free: Sequence[_Row], *, labels: dict[int, str], plant: Plant
) -> tuple[dict[int, list[dict[str, Any]]], list[dict[str, Any]]]:
    """Return what is said of each counter: by the mold that it sits on, and of all others."""
    of_counter: dict[int, list[_Row]] = {}
    for row in free:
        of_counter.setdefault(row.counter, []).append(row)
    sits_on = molds_of_counters(of_counter)
    on_molds: dict[int, list[dict[str, Any]]] = {}
    elsewhere = []
    for counter in sorted(of_counter):
        rows = sorted(of_counter[counter], key=lambda row: (row.at, row.pk))
        first, last = (local_words(row.at, plant=plant) for row in (rows[0], rows[-1]))
        count = f"{len(rows)} readings" if len(rows) > 1 else "1 reading"
        line = {
            "counter": counter,
            "said": f"{count} of counter {labels[counter]} set aside, from {first} to {last}",
            "fact": {
                "counter": labels[counter],
                "readings": [row.pk for row in rows],
                "from": rows[0].at,
                "to": rows[-1].at,
            },
        }
        if counter in sits_on:
            on_molds.setdefault(sits_on[counter][0], []).append(line)
        else:
            elsewhere.append(line)
    return on_molds, elsewhere


def _mold_entries(on_molds: dict[int, list[dict[str, Any]]], *, work: Work) -> dict[int, int]:
    """Write an entry a mold; return the entry of each counter."""
    molds = dict(Mold.objects.filter(pk__in=on_molds).values_list("pk", "chain_id"))
    order = sorted(on_molds)
    keys = work.append(
        [
            EntryDraft(
                chain=molds[mold],
                kind="readings taken back",
                sentence=(
                    f"{work.said}: {'; '.join(line['said'] for line in on_molds[mold])}. "
                    f"Reason: {sentence_end(work.reason)}"
                ),
                facts={**work.facts, "counters": [line["fact"] for line in on_molds[mold]]},
            )
            for mold in order
        ]
    )
    return {
        line["counter"]: key
        for mold, key in zip(order, keys, strict=True)
        for line in on_molds[mold]
    }


def _set_aside(
    free: Sequence[_Row], *, entries: dict[int, int], otherwise: int, batch: int, work: Work
) -> None:
    # under the counters' locks: what a replay knows of them when it comes to these decisions
    after = newest_reading_number()
    now = connection.ops.adapt_datetimefield_value(work.doing.now)
    insert_values(
        ReadingDecision,
        (
            *("reading", "kind", "reason", "person", "entry"),
            *("batch_id", "after_reading", "written_at"),
        ),
        (
            (
                row.pk,
                ReadingDecision.Kind.SET_ASIDE.value,
                work.reason[:200],
                work.doing.person.pk,
                entries.get(row.counter, otherwise),
                batch,
                after,
                now,
            )
            for row in free
        ),
    )
