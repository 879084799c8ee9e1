"""The list of orders: which ones, in the order of when, a page at a time."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from urllib.parse import urlencode

from django.core.paginator import Page, Paginator
from django.db.models import Q
from django.utils.translation import gettext as _

from moldcare.core.shifts import ShiftCalendar
from moldcare.molds.queries import molds_matching
from moldcare.pages.orders.forms import planned_words
from moldcare.plant.models import Person
from moldcare.work.models import Order, OrderState
from moldcare.work.queries import orders_in_state

ORDERS_A_PAGE = 25
LONGEST_QUESTION = 120
LARGEST_NUMBER = 2**31 - 1


@dataclass(frozen=True, kw_only=True, slots=True)
class Wanted:
    """What somebody looks for; anything that is not known is left out."""

    state: str = "open"
    text: str = ""
    mine: bool = False

    @property
    def query(self) -> str:
        """The same as parameters of an address, without the page."""
        named = {
            "state": "" if self.state == "open" else self.state,
            "q": self.text,
            "mine": "1" if self.mine else "",
        }
        return urlencode({name: value for name, value in named.items() if value})


@dataclass(frozen=True, kw_only=True, slots=True)
class ListedOrder:
    """An order in the list."""

    order: Order
    edge: str
    planned: str
    tasks: list[str]
    covered: int
    people: list[str]

    @property
    def ended_at(self) -> datetime | None:
        """When it was signed or struck out."""
        return self.order.signed_at or self.order.struck_out_at


def state_choices() -> list[tuple[str, str]]:
    """Return the states that the list can be narrowed to."""
    return [
        ("open", _("not signed yet")),
        (OrderState.WRITTEN, _("being written")),
        (OrderState.HANDED_OUT, _("handed out")),
        (OrderState.BEGUN, _("begun")),
        (OrderState.HELD_UP, _("held up")),
        ("wanting", _("wanting a signature")),
        (OrderState.SIGNED, _("signed")),
        (OrderState.STRUCK_OUT, _("struck out")),
        ("all", _("all")),
    ]


def wanted(asked: Mapping[str, str]) -> Wanted:
    """Return what the parameters of an address ask for."""
    state = asked.get("state", "")
    return Wanted(
        state=state if state in {key for key, _label in state_choices()} else "open",
        text=asked.get("q", "").replace("\0", "").strip()[:LONGEST_QUESTION],
        mine=asked.get("mine", "") == "1",
    )


def orders_page(
    ask: Wanted, *, number: str, person: Person, now: datetime, calendar: ShiftCalendar
) -> tuple[Page[Order], list[ListedOrder]]:
    """Return a page of the list."""
    orders = orders_in_state(ask.state)
    if ask.text:
        matching = Q(mold__in=[mold.pk for mold in molds_matching(ask.text)])
        if ask.text.isascii() and ask.text.isdigit() and int(ask.text) <= LARGEST_NUMBER:
            matching |= Q(number=int(ask.text))
        orders = orders.filter(matching)
    if ask.mine:
        orders = orders.filter(people=person)
    page = Paginator(orders, ORDERS_A_PAGE).get_page(number)
    return page, [listed(order, now=now, calendar=calendar) for order in page]


def listed(order: Order, *, now: datetime, calendar: ShiftCalendar) -> ListedOrder:
    """Return an order as the list shows it."""
    tasks = list(order.tasks.all())
    return ListedOrder(
        order=order,
        edge=_edge(order, now=now),
        planned=planned_words(order.planned_at, calendar=calendar),
        tasks=[task.rule.name for task in tasks if task.covered_by_id is None],
        covered=sum(task.covered_by_id is not None and task.is_ticked for task in tasks),
        people=[person.name for person in order.people.all()],
    )


def _edge(order: Order, *, now: datetime) -> str:
    """Return the edge in the margin: solid for what waits longer than was planned."""
    if order.state in (OrderState.SIGNED, OrderState.STRUCK_OUT):
        return "not_due"
    if order.state is OrderState.HELD_UP:
        return "unsure"
    if order.state is OrderState.BEGUN:
        return "due"
    if order.planned_at is not None and order.planned_at <= now:
        return "due"
    return "due_soon" if order.state is OrderState.HANDED_OUT else "not_due"
