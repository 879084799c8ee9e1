"""What others sign after the order was done: checked, accepted, and accepted as done."""

from typing import Any

from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing, once
from moldcare.acts.errors import AlreadySigned, DoesNotFit
from moldcare.acts.rights import Right
from moldcare.acts.sign_in import UNKNOWN_DEVICE
from moldcare.acts.signing.signer import identify, refresh_subject, subject_of
from moldcare.acts.words import reason_given, sentence_end, tidy
from moldcare.care.models import Completion
from moldcare.logbook.append import append_entry
from moldcare.logbook.models import Entry, EntryMeaning
from moldcare.plant.models import Person
from moldcare.work.models import Order, OrderTask, OrderTaskOutcome
from moldcare.work.queries import (
    ACCEPTED_AS_DONE_ENTRY,
    ACCEPTED_ENTRY,
    CHECKED_ENTRY,
    signatures_of,
    wanted_signatures,
)


def sign_checked(
    doing: Doing,
    *,
    order: Order,
    signer: Person,
    pin: str = "",
    device: str = UNKNOWN_DEVICE,
    note: str = "",
) -> Entry:
    """Sign, as a second person, that the work was checked. Only where a rule asks for it."""
    return _sign_also(
        doing,
        order=order,
        signer=signer,
        pin=pin,
        device=device,
        note=note,
        meaning=EntryMeaning.CHECKED,
        right=Right.LOG_WORK,
    )


def sign_accepted(
    doing: Doing,
    *,
    order: Order,
    signer: Person,
    pin: str = "",
    device: str = UNKNOWN_DEVICE,
    note: str = "",
) -> Entry:
    """Sign, as a lead who did neither do nor check it, that the work is accepted."""
    return _sign_also(
        doing,
        order=order,
        signer=signer,
        pin=pin,
        device=device,
        note=note,
        meaning=EntryMeaning.ACCEPTED,
        right=Right.HAND_OUT_ORDERS,
    )


def accept_as_done(
    doing: Doing,
    *,
    task: OrderTask,
    signer: Person,
    reason: str,
    pin: str = "",
    device: str = UNKNOWN_DEVICE,
) -> int:
    """Let a lead accept as done what was found not needed; return the completion's number."""
    identify(doing, signer=signer, pin=pin, device=device, right=Right.HAND_OUT_ORDERS)
    why = reason_given(reason)

    def do() -> dict[str, Any]:
        order = Order.objects.select_for_update(no_key=True).get(pk=task.order_id)
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
            subject_of(order).chain,
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
        refresh_subject(order)
        return {"pk": completion.pk}

    body = {"task": task.pk, "signer": signer.pk, "reason": reason}
    pk: int = once(doing, "accept_as_done", body, do)["pk"]
    return pk


def _sign_also(
    doing: Doing,
    *,
    order: Order,
    signer: Person,
    pin: str,
    device: str,
    note: str,
    meaning: EntryMeaning,
    right: Right,
) -> Entry:
    identify(doing, signer=signer, pin=pin, device=device, right=right)

    def do() -> dict[str, Any]:
        row = Order.objects.select_for_update(no_key=True).get(pk=order.pk)
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
            subject_of(row).chain,
            kind=CHECKED_ENTRY if meaning == EntryMeaning.CHECKED else ACCEPTED_ENTRY,
            happened_at=doing.at,
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
