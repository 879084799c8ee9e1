"""What happens to an order from handing out until it is signed or struck out."""

from typing import Any

from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing, checked, once
from moldcare.acts.errors import AlreadySigned, DoesNotFit, Incomplete, NotAllowed, NotFound
from moldcare.acts.rights import Right, may, require
from moldcare.acts.words import reason_given, sentence_end, tidy
from moldcare.logbook.append import append_entry
from moldcare.work.models import Order, OrderState
from moldcare.work.queries import STRUCK_OUT_ENTRY

# columns of an order that acts set and nobody types
NOT_TYPED = (
    "number",
    "mold",
    "auxiliary",
    "written_by",
    "handed_out_at",
    "begun_at",
    "minutes",
    "signed_at",
    "entry",
    "struck_out_at",
)


def hand_out(doing: Doing, *, order: Order) -> None:
    """Hand an order out: from now on it is on the bench, on screen and on paper."""
    require(doing.person, Right.HAND_OUT_ORDERS)

    def do() -> dict[str, Any]:
        row = open_order(order)
        if not row.tasks.exists():
            raise Incomplete(_("The order has no task. Add one before you hand it out."))
        if row.handed_out_at is None:
            row.handed_out_at = doing.now
            row.save(update_fields=["handed_out_at"])
        return {}

    once(doing, "hand_out", {"order": order.pk}, do)


def begin(doing: Doing, *, order: Order) -> None:
    """Begin the work. Who may hand out orders begins one that was not handed out, too."""
    require(doing.person, Right.LOG_WORK)

    def do() -> dict[str, Any]:
        begin_now(open_order(order), doing=doing)
        return {}

    once(doing, "begin", {"order": order.pk}, do)


def begin_now(order: Order, *, doing: Doing) -> None:
    """Let the locked order be begun, unless it is."""
    if order.begun_at is not None:
        return
    if order.handed_out_at is None:
        if not may(doing.person, Right.HAND_OUT_ORDERS):
            raise NotAllowed(
                _("This order is still being written. Ask a lead to hand it out; nothing is lost.")
            )
        order.handed_out_at = doing.now
    order.begun_at = doing.now
    order.save(update_fields=["handed_out_at", "begun_at"])


def hold_up(doing: Doing, *, order: Order, by: str) -> None:
    """Say what holds the work up: a person, a part, a decision, outside work."""
    require(doing.person, Right.LOG_WORK)
    if not tidy(by):
        raise Incomplete(_("Say what holds the order up."))

    def do() -> dict[str, Any]:
        row = open_order(order)
        row.held_up_by = tidy(by)
        checked(row, exclude=NOT_TYPED)
        row.save(update_fields=["held_up_by"])
        return {}

    once(doing, "hold_up", {"order": order.pk, "by": by}, do)


def go_on(doing: Doing, *, order: Order) -> None:
    """Go on with an order that was held up."""
    require(doing.person, Right.LOG_WORK)

    def do() -> dict[str, Any]:
        row = open_order(order)
        row.held_up_by = ""
        row.save(update_fields=["held_up_by"])
        return {}

    once(doing, "go_on", {"order": order.pk}, do)


def strike_out(doing: Doing, *, order: Order, reason: str) -> None:
    """Strike an order out, with a reason that the logbook keeps. Its sheet stays readable."""
    require(doing.person, Right.HAND_OUT_ORDERS)
    why = reason_given(reason)

    def do() -> dict[str, Any]:
        row = open_order(order)
        row.struck_out_at = doing.now
        row.struck_out_reason = why
        checked(row, exclude=NOT_TYPED)
        row.save(update_fields=["struck_out_at", "struck_out_reason"])
        subject = row.mold or row.auxiliary
        if subject is not None:
            append_entry(
                subject.chain,
                kind=STRUCK_OUT_ENTRY,
                happened_at=doing.now,
                written_at=doing.now,
                author=doing.person,
                sentence=f"Order {row.number} struck out: {sentence_end(why)}",
                facts={
                    "order": row.number,
                    "reason": why,
                    "was": OrderState.BEGUN if row.begun_at else OrderState.WRITTEN,
                    "rules": list(row.tasks.order_by("place").values_list("rule_id", flat=True)),
                },
            )
        return {}

    once(doing, "strike_out", {"order": order.pk, "reason": reason}, do)


def open_order(order: Order) -> Order:
    """Lock an order that can still be worked on, and return its row as it is now.

    Raises
    ------
    AlreadySigned
        If it is signed.
    DoesNotFit
        If it was struck out.
    """
    row = (
        Order.objects.select_for_update(of=("self",), no_key=True)
        .select_related("mold__chain", "auxiliary__chain")
        .filter(pk=order.pk)
        .first()
    )
    if row is None:
        raise NotFound(_("This order is not there."))
    if row.signed_at is not None:
        raise AlreadySigned(
            _("Order %(number)d is signed. What was done since goes into a new order.")
            % {"number": row.number}
        )
    if row.struck_out_at is not None:
        raise DoesNotFit(
            _("Order %(number)d was struck out (%(reason)s). Nothing was written.")
            % {"number": row.number, "reason": row.struck_out_reason}
        )
    return row
