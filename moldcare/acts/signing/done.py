"""Signing an order as done."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing, check_happened, once
from moldcare.acts.errors import DoesNotFit, Incomplete, NotQualified
from moldcare.acts.orders import open_order
from moldcare.acts.rights import Right
from moldcare.acts.sheet import check_minutes
from moldcare.acts.sign_in import UNKNOWN_DEVICE
from moldcare.acts.signing.completing import complete_lines
from moldcare.acts.signing.outcomes import (
    all_lines,
    apply_results,
    result_body,
    settle_outcomes,
)
from moldcare.acts.signing.record import (
    counts_known,
    order_sentence,
    override_facts,
    step_facts,
    task_facts,
)
from moldcare.acts.signing.signer import identify, refresh_subject, subject_of
from moldcare.acts.signing.spent import (
    out_facts,
    out_words,
    spent_facts,
    spent_words,
    store_spent,
    tidied,
)
from moldcare.acts.signing.values import (
    Override,
    SignedFrom,
    SignedOrder,
    SupplySpent,
    TaskResult,
)
from moldcare.acts.words import reason_given, tidy
from moldcare.logbook.append import append_entry
from moldcare.logbook.models import EntryMeaning
from moldcare.plant.models import Person
from moldcare.plant.queries import the_plant
from moldcare.work.convert import SheetTask
from moldcare.work.models import Order, OrderTask, OrderTaskOutcome
from moldcare.work.queries import ORDER_ENTRY, missing_qualifications, parts_out, sheet_of


def sign_order(
    doing: Doing,
    *,
    order: Order,
    signer: Person,
    minutes: int,
    pin: str = "",
    device: str = UNKNOWN_DEVICE,
    happened_at: datetime | None = None,
    results: Mapping[int, TaskResult] | None = None,
    source: str = SignedFrom.SHEET,
    override: Override | None = None,
    note: str = "",
    supplies: Sequence[SupplySpent] = (),
    parts_stay_out: bool = False,
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
    device : str, optional
        Which tablet the PIN was typed at: wrong ones are counted for a person on a device.
    happened_at : datetime, optional
        When the work was finished; now, unless given.
    results : mapping, optional
        What the signature itself says of lines, by their numbers.
    override : Override, optional
        Asked for when the signer lacks a qualification.
    supplies : sequence of SupplySpent, optional
        What the work used up.
    parts_stay_out : bool
        That parts are still out of the mold is meant so; otherwise they are asked about.

    Raises
    ------
    NotQualified, SignInRefused, TooManyTries, AlreadySigned, Incomplete, DoesNotFit
        Each with what to do; nothing is written then.
    """
    identify(doing, signer=signer, pin=pin, device=device, right=Right.LOG_WORK)
    if override is not None:
        identify(
            doing,
            signer=override.person,
            pin=override.pin,
            device=override.device,
            right=Right.HAND_OUT_ORDERS,
        )
        reason_given(override.reason)
    check_minutes(minutes)
    if source not in list(SignedFrom):
        raise DoesNotFit(_("An order is signed from its sheet or from paper."))
    plant = the_plant()
    at = happened_at or doing.at
    check_happened(at, doing=doing, plant=plant)
    said = dict(results or {})
    note_text = tidy(note)
    spent = tidied(supplies)
    body = {
        "order": order.pk,
        "signer": signer.pk,
        "minutes": minutes,
        "happened_at": happened_at,
        "results": {str(pk): result_body(result) for pk, result in said.items()},
        "source": str(source),
        "override": [override.person.pk, override.reason] if override else None,
        "note": note,
        "supplies": [[each.name, each.amount, each.unit, each.supply] for each in spent],
        "parts_stay_out": parts_stay_out,
    }

    def do() -> dict[str, Any]:
        row = open_order(order)
        sheet = sheet_of(row)
        apply_results(sheet, results=said)
        if not sheet.tasks:
            raise Incomplete(_("The order has no task. Add one, or strike the order out."))
        settle_outcomes(sheet, results=said, is_paper=source == SignedFrom.PAPER)
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
        out = parts_out(order=row)
        if out and not parts_stay_out:
            raise Incomplete(
                _("Parts are still out: %(parts)s. Take them in, or say that they stay out.")
                % {"parts": "; ".join(f"{part.what} ({part.lies})" for part in out)}
            )
        subject = subject_of(row)
        counts = counts_known(row, at=at)
        entry = append_entry(
            subject.chain,
            kind=ORDER_ENTRY,
            happened_at=at,
            written_at=doing.now,
            author=signer,
            meaning=EntryMeaning.DONE,
            sentence=order_sentence(
                row,
                sheet=sheet,
                minutes=minutes,
                counts=counts,
                source=source,
                note=note_text,
                beside=(*spent_words(spent), *out_words(out)),
            ),
            facts={
                "order": row.number,
                "source": str(source),
                "minutes": minutes,
                "note": note_text,
                "counts": counts,
                "look": step_facts(sheet.look),
                "tasks": [
                    facts for task in sheet.tasks for facts in task_facts(task, source=source)
                ],
                "after": step_facts(sheet.after),
                "supplies": [spent_facts(each) for each in spent],
                "parts_out": [out_facts(part) for part in out],
                "without_qualification": missing,
                "override": override_facts(override) if missing else None,
                "entered_by": None if doing.person == signer else doing.person.name,
            },
        )
        completions = complete_lines(
            row, sheet=sheet, entry=entry, signer=signer, at=at, minutes=minutes, doing=doing
        )
        store_spent(row, entry=entry, spent=spent, doing=doing)
        OrderTask.objects.bulk_update(
            all_lines(sheet), ["outcome", "reason", "grade", "is_brought_forward", "is_ticked"]
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
        refresh_subject(row)
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


def _wanted(done: Sequence[SheetTask]) -> set[str]:
    wanted = set()
    for task in done:
        if task.task.rule.asks_checked:
            wanted.add(EntryMeaning.CHECKED.value)
        if task.task.rule.asks_accepted:
            wanted.add(EntryMeaning.ACCEPTED.value)
    return wanted
