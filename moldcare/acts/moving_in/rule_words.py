"""What a sheet brought to a mold, as its entry says and keeps it: plain English."""

from collections.abc import Iterable
from typing import Any

from moldcare.acts.moving_in.values import Became, FileRule, Judged
from moldcare.acts.rules.words import terms_words
from moldcare.acts.words import tidy
from moldcare.care.models import CareRule


def brought_sentence(taken: Iterable[tuple[FileRule, Judged]], *, file: str) -> str:
    """Return the sentence of a mold's entry: every task with its interval and its last time."""
    said = "; ".join(_said(row, judged=judged) for row, judged in taken)
    return f"Care brought in from the file {file}: {said}."


def rule_fact(row: FileRule, *, judged: Judged, rule: int) -> dict[str, Any]:
    """Return a task as it stands in the facts of the entry."""
    done = judged.takes_last_done
    fact = {
        "rule": rule,
        "name": tidy(row.task),
        "row": row.row,
        "is_new": judged.became is Became.NEW,
        "count": row.count_interval,
        "basis": row.count_basis if row.count_interval is not None else None,
        "period": f"{row.period_n} {row.period_unit}" if row.period_n else None,
        "hours": row.hours_limit,
        "event": row.event or None,
        "done_on": str(row.last_done) if done and row.last_done else None,
        "done_count": judged.done_count if done else None,
    }
    return {name: value for name, value in fact.items() if value is not None}


def _said(row: FileRule, *, judged: Judged) -> str:
    words = f"“{tidy(row.task)}”"
    if judged.became is Became.NEW:
        words += " " + terms_words(
            CareRule(
                count_base=row.count_interval,
                count_basis=row.count_basis,
                period_n=row.period_n,
                period_unit=row.period_unit if row.period_n else "",
                hours_limit=row.hours_limit,
                event=row.event,
            )
        )
    if not judged.takes_last_done:
        return words
    last = ["last done"]
    if row.last_done is not None:
        last.append(f"on {row.last_done}")
    if judged.done_count is not None:
        last.append(f"at a count of {judged.done_count:,} {row.count_basis}")
    return f"{words}, {' '.join(last)}"
