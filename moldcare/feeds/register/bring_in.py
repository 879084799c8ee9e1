"""Bringing in a register or a maintenance sheet through the acts, or trying that out."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, fields, replace
from functools import cache
from itertools import islice
from typing import Any, NamedTuple

from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing
from moldcare.acts.errors import DoesNotFit
from moldcare.acts.moving_in import (
    LEAVE,
    NEW,
    TAKE,
    Became,
    Brought,
    FileCircuit,
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
from moldcare.care.families import FAMILIES
from moldcare.care.models import Family
from moldcare.feeds.models import (
    BroughtIn,
    ColumnMatch,
    ImportBatch,
    ImportRow,
    RowMended,
)
from moldcare.feeds.queries import headings_hash, mended_by
from moldcare.feeds.register.rows import CareRow, MoldRow
from moldcare.feeds.register_files import RegisterFile
from moldcare.feeds.tables import (
    Meaning,
    Problem,
    Proposal,
    RowVerdict,
    Verdict,
    words_of,
)
from moldcare.molds.models import name_key
from moldcare.plant.queries import the_plant

#: A longer reason or cell is cut in what is kept; the file itself has the whole.
REASON_LENGTH = 400
CELL_LENGTH = 200
CELLS_KEPT = 60
#: So much of a task stands in the key of an answer.
KEY_LENGTH = 100

Tell = Callable[[RowVerdict], None]
Row = MoldRow | CareRow

_VERDICTS = {
    Became.NEW: Verdict.ACCEPTED,
    Became.CHANGED: Verdict.CHANGED,
    Became.SAME: Verdict.DUPLICATE,
    Became.DIFFERS: Verdict.DIFFERS,
    Became.ASKED: Verdict.NEEDS_ANSWER,
    Became.REFUSED: Verdict.REFUSED,
}
_KEPT = frozenset({Verdict.REFUSED, Verdict.NOT_OURS, Verdict.NEEDS_ANSWER})
# what a row of a file and what the acts take of it have in common
_MOLD_FIELDS = tuple(
    each.name for each in fields(FileMold) if each.name not in {"circuits", "choice"}
)
_RULE_FIELDS = tuple(
    each.name for each in fields(FileRule) if each.name not in {"family", "choice"}
)


class _Item(NamedTuple):
    """A row with what the acts take of it, or why they cannot."""

    row: Row
    taken: FileMold | FileRule | None
    problem: Problem | None


def choice_key(row: Row) -> str:
    """Return what it is answered under that the file is right where it differs."""
    task = f":{name_key(row.task)[:KEY_LENGTH]}" if isinstance(row, CareRow) else ""
    return f"change:{row.row}{task}"


def family_key(task: str) -> str:
    """Return what it is answered under what kind of care a task is."""
    return f"family:{name_key(task)[:KEY_LENGTH]}"


@dataclass(kw_only=True)
class RegisterKeeper:
    """Writes the batch of a register for the acts, and keeps what cannot be taken."""

    doing: Doing
    file: RegisterFile
    items: Sequence[_Item]
    mends: ImportRow | None = None
    verdicts: list[RowVerdict] = field(default_factory=list)
    batch: ImportBatch | None = None

    def judged(self, judged: Sequence[Judged]) -> tuple[int, dict[str, int]]:
        """Write the batch with its counts and what is kept for mending."""
        self.verdicts = _verdicts(self.items, judged=iter(judged))
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
            _remember(self.file)

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
                    [_storable(text)[:CELL_LENGTH] for text in cells.get(number, [])[:CELLS_KEPT]],
                    verdict.value,
                    _storable(" ".join(said))[:REASON_LENGTH],
                )
                for number, (verdict, said) in sorted(reasons.items())
            ],
        )


def bring_in_register(
    doing: Doing, *, file: RegisterFile, tell: Tell | None = None, mends: ImportRow | None = None
) -> MovedIn:
    """Bring in what is good in a register or sheet; what is not is kept for mending.

    In one transaction. `mends` is a kept row of an earlier import that this one mends: then it is
    all good or refused.

    Raises
    ------
    DoesNotFit
        If a mended row is still not good, or was mended already.
    """
    require(doing.person, Right.IMPORT)
    items = list(_items(file))
    keeper = RegisterKeeper(doing=doing, file=file, items=items, mends=mends)
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
        done = import_rules(doing, rows=rules, **about)
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
    kinds = cache(_kinds_of_care)
    for item in islice(_items(file), at_most):
        judged = judge(item.taken) if item.taken is not None else None
        tell(_verdict(item, judged=judged, kinds=kinds))


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


def _items(file: RegisterFile) -> Iterator[_Item]:
    takes_all = file.answers.get("changes") == TAKE
    for row in file.plan.rows():
        problem = row.problem
        if problem is not None:
            yield _Item(row, None, problem)
            continue
        choice = TAKE if takes_all else file.answers.get(choice_key(row), LEAVE)
        choice = choice if choice in {TAKE, NEW} else LEAVE
        if isinstance(row, MoldRow):
            values = {name: getattr(row, name) for name in _MOLD_FIELDS}
            circuits = tuple(
                FileCircuit(
                    ident=each.ident,
                    half=each.half,
                    bore_mm=each.bore_mm,
                    length_mm=each.length_mm,
                )
                for each in row.circuits
            )
            yield _Item(row, FileMold(**values, circuits=circuits, choice=choice), None)
        elif row.mold is None:
            yield _Item(row, None, _no_mold(row))
        else:
            values = {name: getattr(row, name) for name in _RULE_FIELDS}
            family = row.family or file.answers.get(family_key(row.task), "")
            yield _Item(row, FileRule(**values, family=family, choice=choice), None)


def _no_mold(row: CareRow) -> Problem:
    return Problem(
        verdict=Verdict.NOT_OURS,
        reason=_("No mold of ours is called “%(text)s”. Assign it or leave it.")
        % {"text": row.number},
    )


def _verdicts(items: Iterable[_Item], *, judged: Iterator[Judged]) -> list[RowVerdict]:
    kinds = cache(_kinds_of_care)
    return [
        _verdict(item, judged=next(judged) if item.taken is not None else None, kinds=kinds)
        for item in items
    ]


def _verdict(
    item: _Item, *, judged: Judged | None, kinds: Callable[[], tuple[Proposal, ...]]
) -> RowVerdict:
    row = item.row
    said = RowVerdict(
        row=row.row,
        column=row.column if isinstance(row, CareRow) else "",
        verdict=Verdict.SKIPPED,
        reason="",
        mold=row.number or None,
        counter=None,
        at=None,
        value=None,
        task=row.task if isinstance(row, CareRow) else None,
    )
    if judged is None:
        problem = item.problem or Problem(verdict=Verdict.REFUSED, reason="")
        return replace(
            said, verdict=problem.verdict, reason=problem.reason, proposals=problem.proposals
        )
    verdict = _VERDICTS[judged.became]
    if judged.became is Became.CHANGED and not judged.changes:
        verdict = Verdict.ACCEPTED
    said = replace(said, verdict=verdict, reason=" ".join([judged.reason, *row.notes]).strip())
    if judged.became is Became.ASKED and isinstance(row, CareRow):
        return replace(said, choice_key=family_key(row.task), proposals=kinds())
    if judged.became is Became.DIFFERS or judged.changes or judged.may_be_new:
        return replace(said, choice_key=choice_key(row), proposals=_ways(judged))
    return said


def _ways(judged: Judged) -> tuple[Proposal, ...]:
    """Return what may be chosen for a row that differs; to leave it needs no choice."""
    take = Proposal(value=TAKE, text=_("Take what the file says."))
    if not judged.may_be_new:
        return (take,)
    one = _("It is that rule: take the interval of the file.")
    return (
        replace(take, text=one),
        Proposal(value=NEW, text=_("It is a rule of its own.")),
    )


def _kinds_of_care() -> tuple[Proposal, ...]:
    """Return the care families of the plant, or those that it would begin with."""
    names = dict(Family.objects.values_list("key", "name")) or {
        each.key: each.name for each in FAMILIES
    }
    return tuple(Proposal(value=key, text=name) for key, name in names.items())


def _make_families(doing: Doing, *, rules: Sequence[FileRule]) -> None:
    """Load the care families and sets that a plant begins with where a sheet speaks of them."""
    needed = {rule.family for rule in rules if rule.family}
    if needed - set(Family.objects.values_list("key", flat=True)):
        load_starting_sets(replace(doing, hand_in=None))


def _remember(file: RegisterFile) -> None:
    """Keep what the columns meant, for the next file with the same headings."""
    if not file.heading:
        return
    known: dict[str, str] = {}
    for column in file.plan.columns:
        if words_of(column.name) and column.meaning is not Meaning.REST:
            known.setdefault(words_of(column.name), column.meaning.value)
    ColumnMatch.objects.update_or_create(
        kind=file.kind, headings=headings_hash(file.heading), defaults={"meanings": known}
    )


def _storable(text: str) -> str:
    """Return a text without the one sign that PostgreSQL cannot keep."""
    return text.replace("\0", "")
