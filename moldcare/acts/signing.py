"""Signing an order: one entry, its completions, and what follows from them, or nothing at all."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib.auth.hashers import check_password
from django.utils.translation import gettext as _

from moldcare.acts import refresh
from moldcare.acts.doing import Doing, check_happened, checked, once
from moldcare.acts.errors import (
    ActRefused,
    AlreadySigned,
    DoesNotFit,
    Incomplete,
    NotAllowed,
    NotFound,
    NotQualified,
)
from moldcare.acts.orders import open_order
from moldcare.acts.rights import Right, require
from moldcare.acts.sheet import check_minutes
from moldcare.acts.words import reason_given, sentence_end, tidy
from moldcare.care.models import CareRuleTarget, Completion, Grade
from moldcare.core.chain import photo_fact
from moldcare.counters.models import Life
from moldcare.logbook.append import append_entry
from moldcare.logbook.models import Entry, EntryMeaning
from moldcare.molds.models import Auxiliary, Mold
from moldcare.molds.queries import components_in
from moldcare.plant.models import Person
from moldcare.plant.queries import the_plant
from moldcare.work.convert import Sheet, SheetStep, SheetTask
from moldcare.work.models import Order, OrderTask, OrderTaskOutcome
from moldcare.work.queries import (
    ACCEPTED_AS_DONE_ENTRY,
    ACCEPTED_ENTRY,
    CHECKED_ENTRY,
    ORDER_ENTRY,
    missing_qualifications,
    sheet_of,
    signatures_of,
    wanted_signatures,
)


class PinIsWrong(ActRefused):
    """The PIN is not that of the person who signs."""


class SignedFrom(StrEnum):
    """What the signature stands on."""

    SHEET = "sheet"
    PAPER = "paper"


@dataclass(frozen=True, kw_only=True, slots=True)
class TaskResult:
    """What became of a task, where the signature says it and the sheet does not.

    Parameters
    ----------
    outcome : str
        `done`, `left`, `not_needed`; empty leaves what the sheet says.
    reason : str
        Why it was left.
    grade : str
        As found; empty leaves what the sheet says.
    is_brought_forward, is_ticked : bool or None
        None leaves what the sheet says. Ticks are those of covered lines.
    """

    outcome: str = ""
    reason: str = ""
    grade: str = ""
    is_brought_forward: bool | None = None
    is_ticked: bool | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Override:
    """A lead lets work be signed without a qualification, and says why."""

    person: Person
    reason: str
    pin: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class SignedOrder:
    """A signed order: its entry, its completions, and the signatures that it still wants."""

    number: int
    entry_pk: int
    entry_number: int
    completions: tuple[int, ...]
    wanted: tuple[str, ...]


def sign_order(
    doing: Doing,
    *,
    order: Order,
    signer: Person,
    minutes: int,
    pin: str = "",
    happened_at: datetime | None = None,
    results: Mapping[int, TaskResult] | None = None,
    source: str = SignedFrom.SHEET,
    override: Override | None = None,
    note: str = "",
) -> SignedOrder:
    """Sign an order as done: one entry and its completions, in one transaction.

    Tasks that were left or found not needed keep that outcome; every other one is done. From the
    sheet, each of its steps must be done and the rule graded; from paper, the lines are taken as
    the signature gives them, and the entry says so.

    Parameters
    ----------
    signer : Person
        Who did the work.
    pin : str
        The signer's PIN, at a shared tablet. Without one, the signer must be who is signed in.
    happened_at : datetime, optional
        When the work was finished; now, unless given.
    results : mapping, optional
        What the signature itself says of lines, by their numbers.
    override : Override, optional
        Asked for when the signer lacks a qualification.

    Raises
    ------
    NotQualified, PinIsWrong, AlreadySigned, Incomplete, DoesNotFit
        Each with what to do; nothing is written then.
    """
    identify(doing, signer=signer, pin=pin, right=Right.LOG_WORK)
    if override is not None:
        identify(doing, signer=override.person, pin=override.pin, right=Right.HAND_OUT_ORDERS)
        reason_given(override.reason)
    check_minutes(minutes)
    if source not in list(SignedFrom):
        raise DoesNotFit(_("An order is signed from its sheet or from paper."))
    plant = the_plant()
    at = happened_at or doing.now
    check_happened(at, doing=doing, plant=plant)
    said = dict(results or {})
    note_text = tidy(note)
    body = {
        "order": order.pk,
        "signer": signer.pk,
        "minutes": minutes,
        "happened_at": happened_at,
        "results": {str(pk): _result_body(result) for pk, result in said.items()},
        "source": str(source),
        "override": [override.person.pk, override.reason] if override else None,
        "note": note,
    }

    def do() -> dict[str, Any]:
        row = open_order(order)
        sheet = sheet_of(row)
        _apply_results(sheet, results=said)
        if not sheet.tasks:
            raise Incomplete(_("The order has no task. Add one, or strike the order out."))
        _settle_outcomes(sheet, results=said, is_paper=source == SignedFrom.PAPER)
        done = [task for task in sheet.tasks if task.task.outcome == OrderTaskOutcome.DONE]
        missing = missing_qualifications(
            signer,
            subjects=[task.task.rule.qualification for task in done],
            on=at.astimezone(ZoneInfo(plant.zone)).date(),
        )
        if missing and override is None:
            raise NotQualified(
                _(
                    "%(name)s has no valid qualification: %(missing)s. A lead may let it be "
                    "signed with a reason; the sheet is kept as it is."
                )
                % {"name": signer.name, "missing": ", ".join(missing)}
            )
        subject = _subject_of(row)
        counts = _counts_known(row)
        entry = append_entry(
            subject.chain,
            kind=ORDER_ENTRY,
            happened_at=at,
            written_at=doing.now,
            author=signer,
            meaning=EntryMeaning.DONE,
            sentence=_sentence(
                row, sheet, minutes=minutes, counts=counts, source=source, note=note_text
            ),
            facts={
                "order": row.number,
                "source": str(source),
                "minutes": minutes,
                "note": note_text,
                "counts": counts,
                "look": _step_facts(sheet.look),
                "tasks": [
                    facts for task in sheet.tasks for facts in _task_facts(task, source=source)
                ],
                "without_qualification": missing,
                "override": _override_facts(override) if missing else None,
                "entered_by": None if doing.person == signer else doing.person.name,
            },
        )
        completions = _complete(
            row, sheet, entry=entry, signer=signer, at=at, minutes=minutes, doing=doing
        )
        OrderTask.objects.bulk_update(
            _all_lines(sheet), ["outcome", "reason", "grade", "is_brought_forward", "is_ticked"]
        )
        row.minutes = minutes
        row.handed_out_at = row.handed_out_at or doing.now
        row.begun_at = row.begun_at or doing.now
        row.held_up_by = ""
        row.signed_at = doing.now
        row.entry = entry
        row.save(
            update_fields=[
                "minutes", "handed_out_at", "begun_at", "held_up_by", "signed_at", "entry",
            ]
        )  # fmt: skip
        _refresh(row)
        return {
            "number": row.number,
            "entry_pk": entry.pk,
            "entry_number": entry.number,
            "completions": [completion.pk for completion in completions],
            "wanted": sorted(_wanted(done)),
        }

    answer = once(doing, "sign_order", body, do)
    return SignedOrder(
        number=answer["number"],
        entry_pk=answer["entry_pk"],
        entry_number=answer["entry_number"],
        completions=tuple(answer["completions"]),
        wanted=tuple(answer["wanted"]),
    )


def sign_checked(
    doing: Doing, *, order: Order, signer: Person, pin: str = "", note: str = ""
) -> Entry:
    """Sign, as a second person, that the work was checked. Only where a rule asks for it."""
    return _sign_also(
        doing,
        order=order,
        signer=signer,
        pin=pin,
        note=note,
        meaning=EntryMeaning.CHECKED,
        right=Right.LOG_WORK,
    )


def sign_accepted(
    doing: Doing, *, order: Order, signer: Person, pin: str = "", note: str = ""
) -> Entry:
    """Sign, as a lead who did neither do nor check it, that the work is accepted."""
    return _sign_also(
        doing,
        order=order,
        signer=signer,
        pin=pin,
        note=note,
        meaning=EntryMeaning.ACCEPTED,
        right=Right.HAND_OUT_ORDERS,
    )


def accept_as_done(
    doing: Doing, *, task: OrderTask, signer: Person, reason: str, pin: str = ""
) -> int:
    """Let a lead accept as done what was found not needed; return the completion's number."""
    identify(doing, signer=signer, pin=pin, right=Right.HAND_OUT_ORDERS)
    why = reason_given(reason)

    def do() -> dict[str, Any]:
        order = Order.objects.select_for_update().get(pk=task.order_id)
        row = OrderTask.objects.select_related("rule__family").get(pk=task.pk)
        if order.entry is None or row.outcome != OrderTaskOutcome.NOT_NEEDED:
            raise DoesNotFit(
                _("Only a task of a signed order that was found not needed is accepted as done.")
            )
        if (
            Completion.objects.filter(
                rule=row.rule,
                entry__kind=ACCEPTED_AS_DONE_ENTRY,
                happened_at=order.entry.happened_at,
            ).exists()
            or Completion.objects.filter(rule=row.rule, entry=order.entry).exists()
        ):
            raise DoesNotFit(_("This task is completed by its order already."))
        happened_at = order.entry.happened_at
        entry = append_entry(
            _subject_of(order).chain,
            kind=ACCEPTED_AS_DONE_ENTRY,
            happened_at=happened_at,
            written_at=doing.now,
            author=signer,
            meaning=EntryMeaning.ACCEPTED,
            sentence=(
                f"Order {order.number}: {row.rule.name}, found not needed, accepted as done: "
                f"{sentence_end(why)}"
            ),
            facts={
                "order": order.number,
                "entry": order.entry.number,
                "rule": row.rule_id,
                "reason": why,
            },
        )
        completion = Completion.objects.create(
            rule=row.rule,
            happened_at=happened_at,
            grade=row.grade,
            person=signer,
            entry=entry,
            written_at=doing.now,
        )
        _refresh(order)
        return {"pk": completion.pk}

    body = {"task": task.pk, "signer": signer.pk, "reason": reason}
    pk: int = once(doing, "accept_as_done", body, do)["pk"]
    return pk


def identify(doing: Doing, *, signer: Person, pin: str, right: Right) -> None:
    """Raise unless the signer has the right and is who signs: by PIN, or by being signed in."""
    require(signer, right)
    if pin:
        if not signer.pin_hash or not check_password(pin, signer.pin_hash):
            raise PinIsWrong(_("This is not the PIN of %(name)s.") % {"name": signer.name})
    elif signer.pk != doing.person.pk:
        raise NotAllowed(_("%(name)s signs with a PIN.") % {"name": signer.name})


def _sign_also(
    doing: Doing,
    *,
    order: Order,
    signer: Person,
    pin: str,
    note: str,
    meaning: EntryMeaning,
    right: Right,
) -> Entry:
    identify(doing, signer=signer, pin=pin, right=right)

    def do() -> dict[str, Any]:
        row = Order.objects.select_for_update().get(pk=order.pk)
        if row.entry is None:
            raise DoesNotFit(_("The order is not signed as done yet."))
        if meaning not in wanted_signatures(row):
            raise DoesNotFit(_("No task of this order asks for this signature."))
        signed = signatures_of(row)
        if meaning in {entry.meaning for entry in signed}:
            raise AlreadySigned(_("The order has this signature already."))
        if signer.pk in {entry.author_id for entry in signed}:
            raise DoesNotFit(
                _("%(name)s has signed this order. Somebody else must sign this.")
                % {"name": signer.name}
            )
        words = tidy(note)
        entry = append_entry(
            _subject_of(row).chain,
            kind=CHECKED_ENTRY if meaning == EntryMeaning.CHECKED else ACCEPTED_ENTRY,
            happened_at=doing.now,
            written_at=doing.now,
            author=signer,
            meaning=meaning,
            sentence=f"Order {row.number} {meaning.value}"
            + (f": {sentence_end(words)}" if words else "."),
            facts={"order": row.number, "entry": row.entry.number, "note": words},
        )
        return {"pk": entry.pk}

    body = {"order": order.pk, "signer": signer.pk, "meaning": str(meaning), "note": note}
    return Entry.objects.get(pk=once(doing, "sign_also", body, do)["pk"])


def _result_body(result: TaskResult) -> list[Any]:
    return [
        result.outcome, result.reason, result.grade, result.is_brought_forward, result.is_ticked,
    ]  # fmt: skip


def _all_lines(sheet: Sheet) -> list[OrderTask]:
    return [line for task in sheet.tasks for line in (task.task, *task.covers)]


def _apply_results(sheet: Sheet, *, results: Mapping[int, TaskResult]) -> None:
    """Put what the signature says onto the lines; a line that is not there is refused."""
    lines = {line.pk: line for line in _all_lines(sheet)}
    for pk, result in results.items():
        line = lines.get(pk)
        if line is None:
            raise NotFound(_("A task that was signed is not in the order any more. Load it again."))
        if result.outcome and result.outcome not in OrderTaskOutcome.values:
            raise DoesNotFit(_("A task is done, left or found not needed."))
        if result.grade and result.grade not in Grade.values:
            raise DoesNotFit(_("%(grade)s is no as-found grade.") % {"grade": result.grade})
        if result.outcome and line.covered_by_id is None:
            line.outcome = result.outcome
            line.reason = tidy(result.reason)
        line.grade = result.grade or line.grade
        if result.is_brought_forward is not None:
            line.is_brought_forward = result.is_brought_forward
        if result.is_ticked is not None:
            line.is_ticked = result.is_ticked
        if line.outcome == OrderTaskOutcome.LEFT and not line.reason:
            raise Incomplete(_("Say why this was left: %(task)s.") % {"task": line.rule.name})
        checked(line, exclude=("order", "rule", "covered_by"))


def _settle_outcomes(sheet: Sheet, *, results: Mapping[int, TaskResult], is_paper: bool) -> None:
    """Make every line done, left, or found not needed; refuse while something is open."""
    if not is_paper and not sheet.look.is_done:
        raise Incomplete(_("Look before cleaning first: take the photo, or say why there is none."))
    for task in sheet.tasks:
        line = task.task
        if line.outcome in {OrderTaskOutcome.LEFT, OrderTaskOutcome.NOT_NEEDED}:
            continue
        if not is_paper:
            _check_done(task)
        elif results.get(line.pk, TaskResult()).outcome != OrderTaskOutcome.DONE:
            raise Incomplete(
                _("Say of every line of the paper what became of it: %(task)s is open.")
                % {"task": line.rule.name}
            )
        line.outcome = OrderTaskOutcome.DONE
    for task in sheet.tasks:
        for covered in task.covers:
            is_done = covered.is_ticked and task.task.outcome == OrderTaskOutcome.DONE
            covered.outcome = OrderTaskOutcome.DONE if is_done else OrderTaskOutcome.OPEN
            covered.reason = ""


def _check_done(task: SheetTask) -> None:
    name = task.task.rule.name
    for step in task.steps:
        if step.needs_reason:
            raise Incomplete(
                _(
                    "%(task)s, step %(place)d: the value is outside its limits. Give a reason "
                    "or measure again."
                )
                % {"task": name, "place": step.place}
            )
        if not step.is_done:
            raise Incomplete(
                _(
                    "%(task)s, step %(place)d is open: %(step)s. Do it, or leave the task with "
                    "a reason."
                )
                % {"task": name, "place": step.place, "step": step.text}
            )
    if task.task.order.mold_id and not task.task.grade:
        raise Incomplete(
            _("Say how %(task)s was found: clean, light, heavy or failed.") % {"task": name}
        )


def _subject_of(order: Order) -> Mold | Auxiliary:
    subject = order.mold or order.auxiliary
    if subject is None:
        raise NotFound(_("The order is for nothing that is there."))
    return subject


def _counts_known(order: Order) -> dict[str, Any] | None:
    """Return the mold's counts as they are known now: they may move, the entry keeps them."""
    life = Life.objects.filter(mold=order.mold_id).first() if order.mold_id else None
    if life is None:
        return None
    return {
        "cycles": life.cycles,
        "shots": life.shots,
        "has_dry_cycles": life.has_dry_cycles,
        "as_of": life.newest_at,
        "is_estimated": life.is_estimated,
        "is_unsure": life.is_unsure,
    }


def _step_facts(step: SheetStep) -> dict[str, Any] | None:
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


def _task_facts(task: SheetTask, *, source: str) -> list[dict[str, Any]]:
    """Return the line's facts and those of the lines it covers; `completes` is what they do."""
    line = task.task
    rows = [
        {
            **_line_facts(line),
            "covered_by": None,
            "steps": [facts for step in task.steps if (facts := _step_facts(step))],
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
        "completes": _completes(line),
    }


def _completes(line: OrderTask) -> bool:
    """Return whether the line restarts its rule. *Not needed* does so for an inspection only."""
    if line.outcome == OrderTaskOutcome.NOT_NEEDED:
        return line.rule.family.is_inspection
    return line.outcome == OrderTaskOutcome.DONE


def _override_facts(override: Override | None) -> dict[str, Any] | None:
    if override is None:
        return None
    return {
        "id": override.person.pk,
        "name": override.person.name,
        "reason": tidy(override.reason),
    }


def _sentence(
    order: Order,
    sheet: Sheet,
    *,
    minutes: int,
    counts: Mapping[str, Any] | None,
    source: str,
    note: str,
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
                covered += [each.rule.name for each in task.covers if _completes(each)]
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
    parts.append(f"{minutes} minutes.")
    if counts is not None:
        mark = ", estimated" if counts["is_estimated"] else ""
        mark += ", unsure" if counts["is_unsure"] else ""
        parts.append(f"Life count as known then: {counts['cycles']} cycles{mark}.")
    if source == SignedFrom.PAPER:
        parts.append("Typed in from paper.")
    if note:
        parts.append(sentence_end(note))
    return " ".join(parts)


def _complete(
    order: Order,
    sheet: Sheet,
    *,
    entry: Entry,
    signer: Person,
    at: datetime,
    minutes: int,
    doing: Doing,
) -> list[Completion]:
    """Write the completions of what was done, then of the ticked lines covered by them."""
    lines = [line for line in _all_lines(sheet) if _completes(line)]
    positions = [
        line.rule.position_id
        for line in lines
        if line.rule.target == CareRuleTarget.POSITION and line.rule.position_id is not None
    ]
    sitting = components_in(positions, at=at) if positions else {}
    components = {position: component.pk for position, component in sitting.items()}

    def completion(
        line: OrderTask, *, covering: Completion | None, spent: int | None
    ) -> Completion:
        return Completion(
            rule=line.rule,
            happened_at=at,
            grade=line.grade,
            is_brought_forward=line.is_brought_forward,
            is_not_needed=line.outcome == OrderTaskOutcome.NOT_NEEDED,
            covering=covering,
            component_id=components.get(line.rule.position_id or 0),
            minutes=spent,
            order_number=order.number,
            person=signer,
            entry=entry,
            written_at=doing.now,
        )

    own = [line for line in lines if line.covered_by_id is None]
    first = Completion.objects.bulk_create(
        [
            completion(line, covering=None, spent=spent)
            for line, spent in zip(own, _shares(minutes, lines=own), strict=True)
        ]
    )
    by_line = {line.pk: row for line, row in zip(own, first, strict=True)}
    under = Completion.objects.bulk_create(
        [
            completion(line, covering=by_line[line.covered_by_id], spent=None)
            for line in lines
            if line.covered_by_id is not None
        ]
    )
    return [*first, *under]


def _shares(minutes: int, *, lines: Sequence[OrderTask]) -> list[int]:
    """Part the order's minutes among the tasks that were done, as their rules' minutes are.

    Whole minutes that add up: what is left over goes to the largest remainders.
    """
    weights = [
        max(line.rule.minutes, 1) if line.outcome == OrderTaskOutcome.DONE else 0 for line in lines
    ]
    total = sum(weights)
    if not total:
        return [0 for _line in lines]
    shares = [minutes * weight // total for weight in weights]
    remainders = [minutes * weight % total for weight in weights]
    largest = sorted(range(len(lines)), key=lambda at: (-remainders[at], at))
    for at in largest[: minutes - sum(shares)]:
        shares[at] += 1
    return shares


def _wanted(done: Sequence[SheetTask]) -> set[str]:
    wanted = set()
    for task in done:
        if task.task.rule.asks_checked:
            wanted.add(EntryMeaning.CHECKED.value)
        if task.task.rule.asks_accepted:
            wanted.add(EntryMeaning.ACCEPTED.value)
    return wanted


def _refresh(order: Order) -> None:
    if order.mold_id is not None:
        refresh.refresh_care(molds=[order.mold_id])
    elif order.auxiliary_id is not None:
        refresh.refresh_care(auxiliaries=[order.auxiliary_id])
