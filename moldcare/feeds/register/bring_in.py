"""Bringing in a register or a maintenance sheet through the acts, or trying that out."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from itertools import islice
from typing import Any

from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing
from moldcare.acts.errors import DoesNotFit, LookedOtherwise
from moldcare.acts.moving_in import (
    Brought,
    FileMold,
    FileRule,
    Judged,
    MoldJudge,
    MovedIn,
    RuleJudge,
    import_molds,
    import_rules,
)
from moldcare.acts.rights import Right, require
from moldcare.acts.starting_sets import load_starting_sets
from moldcare.bulk import insert_values
from moldcare.care.models import Family
from moldcare.feeds.models import BroughtIn, ImportBatch, ImportRow, RowMended
from moldcare.feeds.queries import mended_by
from moldcare.feeds.register.judging import Item, items_of, kinds_of_care, verdict_of, verdicts_of
from moldcare.feeds.register_files import REASON, RegisterFile
from moldcare.feeds.remembering import CELLS_KEPT, REASON_LENGTH, kept_cells, remember, storable
from moldcare.feeds.tables import Meaning, RowVerdict, Verdict, verdicts_hash
from moldcare.plant.queries import the_plant

Tell = Callable[[RowVerdict], None]

_KEPT = frozenset({Verdict.REFUSED, Verdict.NOT_OURS, Verdict.NEEDS_ANSWER})


@dataclass(kw_only=True)
class RegisterKeeper:
    """Writes the batch of a register for the acts, and keeps what cannot be taken."""

    doing: Doing
    file: RegisterFile
    items: Sequence[Item]
    mends: ImportRow | None = None
    looked_at: str = ""
    verdicts: list[RowVerdict] = field(default_factory=list)
    batch: ImportBatch | None = None

    def judged(self, judged: Sequence[Judged]) -> tuple[int, dict[str, int]]:
        """Write the batch with its counts and what is kept for mending."""
        self.verdicts = verdicts_of(self.items, judged=iter(judged))
        if self.looked_at and verdicts_hash(self.verdicts) != self.looked_at:
            raise LookedOtherwise(
                _(
                    "What is here has changed since you looked. Look at what becomes of the rows "
                    "now, then bring them in."
                )
            )
        if self.mends is not None:
            self._refuse_unmended()
        counts = counted(self.verdicts)
        self.batch = ImportBatch.objects.create(
            kind=self.file.kind,
            name=self.file.name,
            sha256=self.file.sha256,
            # the headings go with the kept rows when they are mended
            answers=self._answers(),
            counts=counts,
            person=self.doing.person,
            written_at=self.doing.now,
        )
        self._keep()
        if self.mends is not None:
            RowMended.objects.create(row=self.mends, batch=self.batch)
        return self.batch.pk, counts

    def end(self, brought: Sequence[Brought]) -> None:
        """Keep what every row brought, and what the columns meant."""
        number = self.batch.pk if self.batch is not None else 0
        insert_values(
            BroughtIn,
            (
                *("batch", "row", "act", "mold", "rule", "completion"),
                *("owner", "spot", "before", "after", "entry"),
            ),
            (
                (
                    number,
                    each.row,
                    each.act,
                    each.mold,
                    each.rule,
                    each.completion,
                    each.owner,
                    each.spot,
                    dict(each.before),
                    dict(each.after),
                    each.entry,
                )
                for each in brought
            ),
        )
        if self.mends is None:
            remember(self.file.kind, heading=self.file.heading, columns=self.file.plan.columns)

    def _answers(self) -> dict[str, Any]:
        columns = {
            column.name: column.meaning.value
            for column in self.file.plan.columns[:CELLS_KEPT]
            if column.meaning is not Meaning.REST
        }
        return {
            **self.file.answers,
            "headings": self.file.headings[:CELLS_KEPT],
            "columns": columns,
        }

    def _refuse_unmended(self) -> None:
        """Refuse a mended row that is still not good; refuse one that was mended before."""
        if self.mends is not None and mended_by(self.mends) is not None:
            raise DoesNotFit(_("This row was mended already; nothing was written."))
        wrong = [row.reason for row in self.verdicts if row.verdict in _KEPT]
        if wrong:
            raise DoesNotFit(" ".join(dict.fromkeys(wrong)))
        left = [row.reason for row in self.verdicts if row.verdict is Verdict.DIFFERS]
        fine = {Verdict.ACCEPTED, Verdict.CHANGED, Verdict.DUPLICATE}
        if left and not any(row.verdict in fine for row in self.verdicts):
            raise DoesNotFit(
                _("It differs from what is here: %(how)s. Choose what is right.")
                % {"how": "; ".join(left)}
            )

    def _keep(self) -> None:
        reasons: dict[int, tuple[Verdict, dict[str, None]]] = {}
        for row in self.verdicts:
            if row.verdict in _KEPT:
                _verdict, said = reasons.setdefault(row.row, (row.verdict, {}))
                said[row.reason] = None
        cells = self.file.cells_of(set(reasons)) if reasons else {}
        insert_values(
            ImportRow,
            ("batch", "row", "cells", "verdict", "reason"),
            [
                (
                    self.batch.pk if self.batch is not None else 0,
                    number,
                    kept_cells(cells.get(number, [])),
                    verdict.value,
                    storable(" ".join(said))[:REASON_LENGTH],
                )
                for number, (verdict, said) in sorted(reasons.items())
            ],
        )


def bring_in_register(
    doing: Doing,
    *,
    file: RegisterFile,
    tell: Tell | None = None,
    mends: ImportRow | None = None,
    looked_at: str = "",
) -> MovedIn:
    """Bring in what is good in a register or sheet; what is not is kept for mending.

    In one transaction. `mends` is a kept row of an earlier import that this one mends: then it is
    all good or refused. `looked_at` is the hash of the verdicts that somebody agreed to.

    Raises
    ------
    LookedOtherwise
        If the rows are judged otherwise by now; nothing is written.
    DoesNotFit
        If a mended row is still not good, or was mended already.
    Incomplete
        If intervals change and no answer says why.
    """
    require(doing.person, Right.IMPORT)
    items = list(items_of(file))
    keeper = RegisterKeeper(doing=doing, file=file, items=items, mends=mends, looked_at=looked_at)
    body = {"answers": dict(file.answers), "mends": mends.pk if mends is not None else None}
    about: dict[str, Any] = {
        "name": file.name,
        "sha256": file.sha256,
        "body": body,
        "keeper": keeper,
    }
    if file.kind == ImportBatch.Kind.MOLDS:
        molds = [item.taken for item in items if isinstance(item.taken, FileMold)]
        done = import_molds(doing, rows=molds, **about)
    else:
        rules = [item.taken for item in items if isinstance(item.taken, FileRule)]
        _make_families(doing, rules=rules)
        done = import_rules(doing, rows=rules, reason=file.answers.get(REASON, ""), **about)
    if tell is not None:
        for verdict in keeper.verdicts:
            tell(verdict)
    return done


def try_out_register(
    doing: Doing, *, file: RegisterFile, tell: Tell, at_most: int | None = None
) -> None:
    """Say what would become of the rows of a register or sheet; nothing is written."""
    require(doing.person, Right.IMPORT)
    judge = _judge(doing, file=file)
    kinds = cache(kinds_of_care)
    for item in islice(items_of(file), at_most):
        judged = judge(item.taken) if item.taken is not None else None
        tell(verdict_of(item, judged=judged, kinds=kinds))


def counted(rows: Iterable[RowVerdict]) -> dict[str, int]:
    """Return how many rows have which verdict."""
    counts: dict[str, int] = {}
    for row in rows:
        counts[row.verdict.value] = counts.get(row.verdict.value, 0) + 1
    return counts


def _judge(doing: Doing, *, file: RegisterFile) -> Callable[[Any], Judged]:
    plant = the_plant()
    if file.kind == ImportBatch.Kind.MOLDS:
        return MoldJudge(now=doing.now, plant=plant, file=file.name).judge
    return RuleJudge(now=doing.now, plant=plant).judge


def _make_families(doing: Doing, *, rules: Sequence[FileRule]) -> None:
    """Load the care families and sets that a plant begins with where a sheet speaks of them."""
    needed = {rule.family for rule in rules if rule.family}
    if needed - set(Family.objects.values_list("key", flat=True)):
        load_starting_sets(replace(doing, hand_in=None))
