"""Bringing a file of readings in through the act, or trying that out."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from itertools import islice
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing
from moldcare.acts.errors import DoesNotFit
from moldcare.acts.imports import (
    Duplicate,
    FileReading,
    ImportAnswer,
    Intake,
    Refused,
    import_readings,
)
from moldcare.bulk import insert_values
from moldcare.counters.doubts import held_of, proposals_for
from moldcare.counters.models import Reading
from moldcare.counters.queries import held_among
from moldcare.feeds.convert import count_proposals, held_reason
from moldcare.feeds.models import ImportBatch, ImportRow, RowMended
from moldcare.feeds.queries import mended_by
from moldcare.feeds.reading_files import ReadingFile
from moldcare.feeds.reading_verdicts import (
    Item,
    estimate,
    nothing,
    row_verdict,
    told,
    uncounted,
)
from moldcare.feeds.remembering import CELLS_KEPT, REASON_LENGTH, kept_cells, remember, storable
from moldcare.feeds.tables import (
    Form,
    Problem,
    RowVerdict,
    Verdict,
)

ROWS_AT_ONCE = 5_000


Tell = Callable[[RowVerdict], None]


@dataclass(kw_only=True)
class Source:
    """Walks a file for the import act, keeps what cannot be taken, and writes the batch.

    `at_most` rows are looked at, or all of them for None. `tell` is called with the verdict on each
    row once everything is judged. `mends` is a kept row of an earlier import that this one mends.
    """

    file: ReadingFile
    doing: Doing
    at_most: int | None = None
    is_trial: bool = False
    tell: Tell | None = None
    mends: ImportRow | None = None
    number: int = 0
    counts: dict[Verdict, int] = field(default_factory=dict)

    def begin(self) -> int:
        """Return the number of the batch; its row is written at the end, with its counts."""
        with transaction.atomic():
            row = ImportBatch.objects.create(
                kind=ImportBatch.Kind.READINGS,
                name=self.file.name,
                sha256=self.file.sha256,
                person=self.doing.person,
                written_at=self.doing.now,
            )
            self.number = row.pk
            transaction.set_rollback(True)
        return self.number

    def walk(self, intake: Intake) -> dict[str, int]:
        """Give all readings to the intake; keep the rows that cannot be taken."""
        for chunk in self._chunks(intake):
            self._take(chunk, intake=intake)
        return {str(verdict): number for verdict, number in self.counts.items()}

    def end(self, intake: Intake, counts: Mapping[str, int]) -> None:
        """Write the batch, remember the columns, and tell what became of each row."""
        ImportBatch(
            pk=self.number,
            kind=ImportBatch.Kind.READINGS,
            name=self.file.name,
            sha256=self.file.sha256,
            # the headings go with the kept rows when they are sent to be mended
            answers={**self.file.answers, "headings": list(self.file.heading[:CELLS_KEPT])},
            counts=dict(counts),
            after_reading=intake.before,
            last_reading=intake.last,
            person=self.doing.person,
            written_at=self.doing.now,
        ).save()
        if self.mends is None:
            self._remember()
        elif mended_by(self.mends) is not None:
            raise DoesNotFit(_("This row was mended already; nothing was written."))
        else:
            RowMended.objects.create(row=self.mends, batch_id=self.number)
        if self.tell is not None:
            self._tell_all(intake, tell=self.tell)

    def _remember(self) -> None:
        # in a table with a column a mold, columns mean nothing for the next file
        if self.file.plan.form is not Form.WIDE:
            remember(
                ImportBatch.Kind.READINGS,
                heading=self.file.heading,
                columns=self.file.plan.columns,
            )

    def _chunks(self, intake: Intake) -> Iterator[list[Item]]:
        items = islice(self._items(intake), self.at_most)
        while chunk := list(islice(items, ROWS_AT_ONCE)):
            yield chunk

    def _items(self, intake: Intake) -> Iterator[Item]:
        tee, takes_estimates = self.file.tee, self.file.takes_estimates
        counter_of = intake.sitting.counter_of
        for row in self.file.plan.rows():
            cells = tee.last.cells if tee.last is not None else []
            problem = row.problem
            if problem is not None or row.at is None or row.value is None:
                yield Item(row, None, problem or nothing(), cells)
                continue
            if row.counter is not None:
                counter: int | None = row.counter.key
            else:
                counter = counter_of(
                    mold=row.mold.key if row.mold is not None else None,
                    press=row.press.key if row.press is not None else None,
                    at=row.at,
                )
            if counter is None:
                yield Item(row, None, uncounted(row), cells)
                continue
            if row.is_estimated and not takes_estimates:
                yield Item(row, None, estimate(row.value), cells)
                continue
            source = Reading.Source.ESTIMATED if row.is_estimated else Reading.Source.FILE
            note = row.note
            if row.reported_by:
                note = f"{note}; {row.reported_by}" if note else row.reported_by
            yield Item(row, FileReading(counter, row.at, row.value, source, note), None, cells)

    def _take(self, chunk: list[Item], *, intake: Intake) -> None:
        good = [item for item in chunk if item.reading is not None]
        taken = intake.take([item.reading for item in good if item.reading is not None])
        kept: list[Item] = []
        for item, became in zip(good, taken, strict=True):
            if isinstance(became, Duplicate):
                self._count(Verdict.DUPLICATE)
            elif isinstance(became, Refused):
                problem = Problem(verdict=Verdict.REFUSED, reason=became.reason)
                kept.append(item._replace(problem=problem))
        kept += [item for item in chunk if item.problem is not None]
        for item in kept:
            self._count(item.problem.verdict if item.problem else Verdict.REFUSED)
        kept = [item for item in kept if item.problem and item.problem.verdict != Verdict.SKIPPED]
        self._keep(kept, intake=intake)

    def _count(self, verdict: Verdict) -> None:
        self.counts[verdict] = self.counts.get(verdict, 0) + 1

    def _keep(self, kept: list[Item], *, intake: Intake) -> None:
        if not kept or self.is_trial:
            return
        kept.sort(key=lambda item: item.row.row)
        insert_values(
            ImportRow,
            ("batch", "row", "cells", "verdict", "reason"),
            [
                (
                    self.number,
                    item.row.row,
                    kept_cells(item.cells),
                    item.problem.verdict.value,
                    storable(item.problem.reason)[:REASON_LENGTH],
                )
                for item in kept
                if item.problem is not None
            ],
        )
        strange = [
            (
                storable(item.row.mold_text or item.row.counter_text or item.row.press_text)[:120],
                item.row.at,
                "" if item.row.value is None else str(item.row.value),
            )
            for item in kept
            if item.problem is not None and item.problem.verdict is Verdict.NOT_OURS
        ]
        if strange:
            intake.leave(strange)

    def _tell_all(self, intake: Intake, *, tell: Tell) -> None:
        """Go through the file once more and say what became of each row."""
        met = bytearray()
        anew = set(intake.anew)
        for chunk in self._chunks(intake):
            readings = [
                item.reading
                for item in chunk
                if item.reading is not None and intake.reason_against(item.reading) is None
            ]
            numbers = iter([*_in_places(intake.find(readings), len(readings))])
            numbered: list[tuple[Item, int | None]] = []
            for item in chunk:
                is_asked = item.reading is not None and not intake.reason_against(item.reading)
                numbered.append((item, next(numbers) if is_asked else None))
            fresh = {number for _item, number in numbered if number and number > intake.before}
            fresh |= {number for _item, number in numbered if number in anew}
            verdicts = held_among(fresh)
            meant = proposals_for(list(verdicts.values()))
            for item, number in numbered:
                if item.reading is None or number is None:
                    tell(told(item, intake=intake))
                    continue
                if not _is_first(number, intake=intake, met=met, anew=anew):
                    tell(row_verdict(item, intake=intake, verdict=Verdict.DUPLICATE))
                    continue
                stored = verdicts.get(number)
                held = None if stored is None else held_of(stored)
                if held is not None:
                    tell(
                        row_verdict(
                            item,
                            intake=intake,
                            verdict=Verdict.HELD,
                            reason=held_reason(held),
                            proposals=count_proposals(meant.get(number, [])),
                        )
                    )
                elif item.reading.source == Reading.Source.ESTIMATED:
                    reason = _("Taken as an estimate.")
                    tell(row_verdict(item, intake=intake, verdict=Verdict.ESTIMATED, reason=reason))
                else:
                    tell(row_verdict(item, intake=intake, verdict=Verdict.ACCEPTED))


def _is_first(number: int, *, intake: Intake, met: bytearray, anew: set[int]) -> bool:
    """Tell whether a row brought its reading: the first that names it, of those that are new."""
    if number in anew:
        anew.remove(number)
        return True
    place = number - intake.before
    if place >= len(met):
        met.extend(bytes(place + 1 - len(met)))
    if place <= 0 or met[place]:
        return False
    met[place] = 1
    return True


def bring_in(
    doing: Doing,
    *,
    file: ReadingFile,
    tell: Tell | None = None,
    at_most: int | None = None,
    mends: ImportRow | None = None,
) -> ImportAnswer:
    """Bring in what is good in a file; what is not is kept for mending. In one transaction.

    Raises
    ------
    DoesNotFit
        If the row that this one mends was mended already.
    """
    source = Source(file=file, doing=doing, tell=tell, at_most=at_most, mends=mends)
    return _run(source, is_trial=False)


def try_out(
    doing: Doing, *, file: ReadingFile, tell: Tell | None = None, at_most: int | None = None
) -> ImportAnswer:
    """Say what would become of a file; nothing is written.

    Everything is done as when it is brought in, and rolled back.
    """
    trial = replace(doing, hand_in=None)
    source = Source(file=file, doing=trial, tell=tell, at_most=at_most, is_trial=True)
    with transaction.atomic():
        answer = _run(source, is_trial=True)
        transaction.set_rollback(True)
    return answer


def _run(source: Source, *, is_trial: bool) -> ImportAnswer:
    file = source.file
    body: dict[str, Any] = {"answers": dict(file.answers)}
    if source.mends is not None:
        body["mends"] = source.mends.pk
    return import_readings(
        source.doing,
        name=file.name,
        sha256=file.sha256,
        body=body,
        source=source,
        is_trial=is_trial,
    )


def _in_places(found: Mapping[int, int], size: int) -> Iterator[int | None]:
    return (found.get(place) for place in range(size))
