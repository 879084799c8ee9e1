"""What the entry of a signed order holds: its facts, and its words."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from moldcare.acts.signing.outcomes import completes
from moldcare.acts.signing.values import Override, SignedFrom
from moldcare.acts.words import sentence_end, tidy
from moldcare.core.chain import photo_fact
from moldcare.counters.convert import stays_in_press
from moldcare.counters.models import Life
from moldcare.counters.run_events import run_events_of
from moldcare.work.convert import Sheet, SheetStep, SheetTask
from moldcare.work.models import Order, OrderTask, OrderTaskOutcome


def counts_known(order: Order, *, at: datetime) -> dict[str, Any] | None:
    """Return the mold's counts as they are known now: they may move, the entry keeps them.

    Where the mold ran between its newest reading and the work, what it made since is not known:
    the count is an estimate, and says so.
    """
    life = Life.objects.filter(mold=order.mold_id).first() if order.mold_id else None
    if life is None:
        return None
    return {
        "cycles": life.cycles,
        "shots": life.shots,
        "has_dry_cycles": life.has_dry_cycles,
        "as_of": life.newest_at,
        "is_estimated": life.is_estimated or _ran_unread(life, until=at),
        "is_unsure": life.is_unsure,
    }


def _ran_unread(life: Life, *, until: datetime) -> bool:
    """Return whether the mold ran after its newest reading and before an instant."""
    newest_at = life.newest_at
    if newest_at is not None and newest_at >= until:
        return False
    stays = stays_in_press(run_events_of([life.mold_id])[life.mold_id])
    return any(
        set_at < until and (newest_at is None or pulled_at is None or pulled_at > newest_at)
        for _mold, set_at, pulled_at in stays
    )


def step_facts(step: SheetStep) -> dict[str, Any] | None:
    """Return what was written at a step; None where nothing was."""
    value = step.value
    if value is None:
        return None
    return {
        "step": step.place,
        "text": step.text,
        "kind": step.kind,
        "value": value.value,
        "unit": value.unit,
        "low": step.low,
        "high": step.high,
        "is_within": value.is_within,
        "reason": value.reason,
        "earlier": [each.value for each in step.earlier],
        "photo": (
            photo_fact(
                name=value.photo.name or value.photo.sha256[:12],
                content_sha256=value.photo.sha256,
            )
            if value.photo
            else None
        ),
        "at": value.at,
        "by": value.person.name,
    }


def task_facts(task: SheetTask, *, source: str) -> list[dict[str, Any]]:
    """Return the line's facts and those of the lines it covers; `completes` is what they do."""
    line = task.task
    rows = [
        {
            **_line_facts(line),
            "covered_by": None,
            "steps": [facts for step in task.steps if (facts := step_facts(step))],
            "steps_on_paper": source == SignedFrom.PAPER,
        }
    ]
    for covered in task.covers:
        rows.append({**_line_facts(covered), "covered_by": line.rule_id, "steps": []})
    return rows


def _line_facts(line: OrderTask) -> dict[str, Any]:
    return {
        "rule": line.rule_id,
        "name": line.rule.name,
        "family": line.rule.family.key,
        "reach": line.rule.reach,
        "outcome": line.outcome,
        "reason": line.reason,
        "grade": line.grade,
        "is_brought_forward": line.is_brought_forward,
        "is_ticked": line.is_ticked,
        "why": line.why,
        "completes": completes(line),
    }


def override_facts(override: Override | None) -> dict[str, Any] | None:
    """Return who let the work be signed, and why."""
    if override is None:
        return None
    return {
        "id": override.person.pk,
        "name": override.person.name,
        "reason": tidy(override.reason),
    }


def order_sentence(
    order: Order,
    *,
    sheet: Sheet,
    minutes: int,
    counts: Mapping[str, Any] | None,
    source: str,
    note: str,
    beside: Sequence[str] = (),
) -> str:
    """Return the entry in words that can be read without any table."""
    done, left, not_needed, covered = [], [], [], []
    for task in sheet.tasks:
        line = task.task
        name = line.rule.name
        match line.outcome:
            case OrderTaskOutcome.DONE:
                found = [f"found {line.grade}"] if line.grade else []
                found += ["brought forward: signs seen"] if line.is_brought_forward else []
                found += [
                    f"{step.text}: {step.value.value} {step.value.unit}".strip()
                    + (" (outside its limits)" if step.value.is_within is False else "")
                    for step in task.steps
                    if step.value is not None and step.value.number is not None
                ]
                done.append(f"{name} ({'; '.join(found)})" if found else name)
                covered += [each.rule.name for each in task.covers if completes(each)]
            case OrderTaskOutcome.LEFT:
                left.append(f"{name} ({line.reason})")
            case _:
                not_needed.append(f"{name} ({line.reason})" if line.reason else name)
    parts = [f"Order {order.number}"]
    parts[0] += f": done {', '.join(done)}." if done else ": nothing done."
    if covered:
        parts.append(f"Covered by it: {', '.join(covered)}.")
    if left:
        parts.append(f"Left: {', '.join(left)}.")
    if not_needed:
        parts.append(f"Found not needed: {', '.join(not_needed)}.")
    parts += beside
    parts.append(f"{minutes} minutes.")
    if counts is not None:
        mark = ", estimated" if counts["is_estimated"] else ""
        mark += ", unsure" if counts["is_unsure"] else ""
        parts.append(f"Life count as known then: {counts['cycles']:,} cycles{mark}.")
    if source == SignedFrom.PAPER:
        parts.append("Typed in from paper.")
    if note:
        parts.append(sentence_end(note))
    return " ".join(parts)
