"""The rows of a file of readings on their way to the act, and the verdicts on them."""

from typing import NamedTuple

from django.utils.translation import gettext as _

from moldcare.acts.imports import FileReading, Intake
from moldcare.feeds.tables import Problem, Proposal, ReadingRow, RowVerdict, Verdict


class Item(NamedTuple):
    """A row on its way: its reading where it can be one, else why not; its cells as they came."""

    row: ReadingRow
    reading: FileReading | None
    problem: Problem | None
    cells: list[str]


def told(item: Item, *, intake: Intake) -> RowVerdict:
    """Return the verdict on a row that was not stored."""
    problem = item.problem
    if problem is None and item.reading is not None:
        reason = intake.reason_against(item.reading)
        problem = Problem(verdict=Verdict.REFUSED, reason=reason or "")
    if problem is None:
        problem = nothing()
    return row_verdict(
        item,
        intake=intake,
        verdict=problem.verdict,
        reason=problem.reason,
        proposals=problem.proposals,
    )


def row_verdict(
    item: Item,
    *,
    intake: Intake,
    verdict: Verdict,
    reason: str = "",
    proposals: tuple[Proposal, ...] = (),
) -> RowVerdict:
    """Return the verdict on a row, with what it names and says."""
    row = item.row
    counter = row.counter.label if row.counter else row.counter_text or None
    if item.reading is not None:
        counter = intake.counters[item.reading.counter].label
    return RowVerdict(
        row=row.row,
        column=row.column,
        verdict=verdict,
        reason=reason,
        mold=row.mold.label if row.mold else row.mold_text or None,
        counter=counter,
        at=row.at,
        value=row.value,
        proposals=proposals,
    )


def nothing() -> Problem:
    """Return why a row without anything is not taken."""
    return Problem(verdict=Verdict.SKIPPED, reason=_("There is no reading in this row."))


def uncounted(row: ReadingRow) -> Problem:
    """Return why a row is not taken at whose time nothing counted."""
    if row.mold is not None:
        reason = _(
            "Nothing counted for mold %(mold)s at that time: neither it nor its press had a "
            "counter. Add one, or leave the row."
        ) % {"mold": row.mold.label}
    else:
        press = row.press.label if row.press else row.press_text
        reason = _("Press %(press)s had no counter at that time. Add one, or leave the row.") % {
            "press": press
        }
    return Problem(verdict=Verdict.NOT_OURS, reason=reason)


def estimate(value: int) -> Problem:
    """Return why a row is not taken that the file calls an estimate."""
    return Problem(
        verdict=Verdict.ESTIMATED,
        reason=_("The file calls it an estimate. It is taken as one once somebody says so."),
        proposals=(
            Proposal(value=str(value), text=_("Take %(value)s as an estimate.") % {"value": value}),
        ),
    )
