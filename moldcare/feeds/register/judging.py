"""Rows of a register or sheet as the acts take them, and what the acts' judges say of them."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import fields, replace
from functools import cache
from typing import NamedTuple

from django.utils.translation import gettext as _

from moldcare.acts.moving_in import (
    LEAVE,
    NEW,
    TAKE,
    Became,
    FileCircuit,
    FileMold,
    FileRule,
    Judged,
)
from moldcare.care.families import FAMILIES
from moldcare.care.models import Family
from moldcare.feeds.register.rows import CareRow, MoldRow
from moldcare.feeds.register_files import RegisterFile
from moldcare.feeds.tables import Problem, Proposal, RowVerdict, Verdict
from moldcare.molds.models import name_key

#: So much of a task stands in the key of an answer.
KEY_LENGTH = 100

Row = MoldRow | CareRow

_VERDICTS = {
    Became.NEW: Verdict.ACCEPTED,
    Became.CHANGED: Verdict.CHANGED,
    Became.SAME: Verdict.DUPLICATE,
    Became.DIFFERS: Verdict.DIFFERS,
    Became.ASKED: Verdict.NEEDS_ANSWER,
    Became.REFUSED: Verdict.REFUSED,
}
# what a row of a file and what the acts take of it have in common
_MOLD_FIELDS = tuple(
    each.name for each in fields(FileMold) if each.name not in {"circuits", "choice"}
)
_RULE_FIELDS = tuple(
    each.name for each in fields(FileRule) if each.name not in {"family", "choice"}
)


class Item(NamedTuple):
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


def items_of(file: RegisterFile) -> Iterator[Item]:
    """Give the rows of a file with what the acts take of each, or why they cannot."""
    takes_all = file.answers.get("changes") == TAKE
    for row in file.plan.rows():
        problem = row.problem
        if problem is not None:
            yield Item(row, None, problem)
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
            yield Item(row, FileMold(**values, circuits=circuits, choice=choice), None)
        elif row.mold is None:
            yield Item(row, None, _no_mold(row))
        else:
            values = {name: getattr(row, name) for name in _RULE_FIELDS}
            family = row.family or file.answers.get(family_key(row.task), "")
            yield Item(row, FileRule(**values, family=family, choice=choice), None)


def _no_mold(row: CareRow) -> Problem:
    return Problem(
        verdict=Verdict.NOT_OURS,
        reason=_("No mold of ours is called “%(text)s”. Assign it or leave it.")
        % {"text": row.number},
    )


def verdicts_of(items: Iterable[Item], *, judged: Iterator[Judged]) -> list[RowVerdict]:
    """Return the verdicts on rows; those that the acts take were judged, in their order."""
    kinds = cache(kinds_of_care)
    return [
        verdict_of(item, judged=next(judged) if item.taken is not None else None, kinds=kinds)
        for item in items
    ]


def verdict_of(
    item: Item, *, judged: Judged | None, kinds: Callable[[], tuple[Proposal, ...]]
) -> RowVerdict:
    """Return the verdict on a row as pages and commands say it."""
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


def kinds_of_care() -> tuple[Proposal, ...]:
    """Return the care families of the plant, or those that it would begin with."""
    names = dict(Family.objects.values_list("key", "name")) or {
        each.key: each.name for each in FAMILIES
    }
    return tuple(Proposal(value=key, text=name) for key, name in names.items())
