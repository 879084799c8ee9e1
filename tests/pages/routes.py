"""Every route of the product, with arguments that name something: what the generated tests visit.

The routes come from the URL configuration, so a new page is visited without a list being kept. A
new *kind of argument* needs a line in `SAMPLES`; the tests say so when one is missing.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any
from uuid import UUID

from django.http import HttpResponseBase
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from moldcare.acts.refresh import refresh_counts
from moldcare.care.models import CareRule
from moldcare.counters.models import Counter, Reading
from moldcare.logbook.models import Entry
from moldcare.molds.models import Mold
from moldcare.pages.access import Guard
from moldcare.plant.models import Person, Spot
from moldcare.work.models import Order
from tests import factories

# what anybody may open who is not signed in; every other route sends strangers to sign in
PUBLIC = frozenset(
    {"sign-in", "sign-at-tablet", "sign-off", "tables-sign-in", "health", "service-worker"}
)

ROLES = tuple(Person.Role.values)


@dataclass(frozen=True, kw_only=True)
class Route:
    """A named route: its full name, its parameters with the kinds of them, and its view."""

    name: str
    parameters: dict[str, str] = field(compare=False)
    view: Callable[..., HttpResponseBase] = field(compare=False)

    @property
    def guard(self) -> Guard | None:
        """What the view asks of whoever opens it, where it asks by `page`."""
        return getattr(self.view, "guard", None)

    @property
    def is_admin(self) -> bool:
        """Whether it belongs to the read-only look at the tables."""
        return self.name.startswith("admin:")


@dataclass(kw_only=True)
class World:
    """A small plant in which every kind of page has something to show."""

    people: dict[str, Person]
    press: Spot
    mold: Mold
    counter: Counter
    reading: Reading
    rule: CareRule
    entry: Entry
    order: Order


def routes() -> list[Route]:
    """Every route of the product; a route without a name cannot be linked to, and is refused."""
    return sorted(_walk(get_resolver(), spaces=(), before={}), key=lambda route: route.name)


def _walk(
    resolver: URLResolver, *, spaces: tuple[str, ...], before: dict[str, str]
) -> Iterator[Route]:
    for each in resolver.url_patterns:
        parameters = {**before, **_parameters(each)}
        if isinstance(each, URLResolver):
            deeper = (*spaces, each.namespace) if each.namespace else spaces
            yield from _walk(each, spaces=deeper, before=parameters)
        elif isinstance(each, URLPattern):
            if not each.name:
                # the admin's catch-alls and shortcuts have no name and no page of their own
                assert spaces[:1] == ("admin",), f"{each.pattern} has no name"
                continue
            yield Route(
                name=":".join((*spaces, each.name)), parameters=parameters, view=each.callback
            )


def _parameters(each: URLPattern | URLResolver) -> dict[str, str]:
    """The parameters of one piece of an address, each with the name of its converter's class."""
    converters = {name: type(found).__name__ for name, found in each.pattern.converters.items()}
    return {name: converters.get(name, "") for name in each.pattern.regex.groupindex} | converters


def small_world() -> World:
    """Build the small plant: one mold in a press, read twice, with a rule, an entry, an order."""
    factories.plant()
    people = {role: factories.person(role=role) for role in ROLES}
    lead = people["lead"]
    press = factories.spot(kind="press")
    world = World(people=people, press=press, **_one_mold(lead, press=press))
    refresh_counts(counters=[world.counter.pk], molds=[world.mold.pk])
    return world


def enlarge(world: World, *, by: int) -> None:
    """Add that many more molds, each in a press of its own with all that the first one has."""
    lead = world.people["lead"]
    for _ in range(by):
        more = _one_mold(lead, press=factories.spot(kind="press"))
        refresh_counts(counters=[more["counter"].pk], molds=[more["mold"].pk])


def _one_mold(lead: Person, *, press: Spot) -> dict[str, Any]:
    start = factories.ENTERED_AT
    mold = factories.mold()
    factories.cycle_time(mold, author=lead)
    factories.set_in_press(mold, press=press, author=lead, at=start + timedelta(hours=1))
    counter = factories.counter(on=mold, author=lead)
    first, second = (start + timedelta(hours=8), start + timedelta(hours=16))
    _, reading = factories.readings(counter, rows=[(first, 2_000), (second, 4_000)], author=lead)
    rule = factories.care_rule(mold=mold, count_base=3_000)
    factories.step(rule)
    order = factories.order(mold, rules=[rule], author=lead)
    return {
        "mold": mold,
        "counter": counter,
        "reading": reading,
        "rule": rule,
        "entry": factories.entry(mold.chain, author=lead),
        "order": order,
    }


# what the parameter of an address names: by its name, or by its converter and name
SAMPLES: dict[str, Callable[[World], object]] = {
    "pk": lambda world: world.mold.pk,
    "number": lambda world: world.mold.number,
    "IntConverter number": lambda world: world.order.number,
    "mold": lambda world: world.mold.pk,
    "mold_id": lambda world: world.mold.pk,
    "mold_number": lambda world: world.mold.number,
    "order": lambda world: world.order.number,
    "order_number": lambda world: world.order.number,
    "task": lambda world: world.order.tasks.get().pk,
    "rule": lambda world: world.rule.pk,
    "counter": lambda world: world.counter.pk,
    "reading": lambda world: world.reading.pk,
    "entry": lambda world: world.entry.pk,
    "chain": lambda world: world.mold.chain_id,
    "press": lambda world: world.press.pk,
    "spot": lambda world: world.press.pk,
    "person": lambda world: world.people["technician"].pk,
    "month": lambda _: "2026-01",
    "year": lambda _: 2026,
    "on": lambda _: "2026-01-05",
    "sha256": lambda _: "0" * 64,
    "hand_in": lambda _: UUID(int=1),
    # the admin's own
    "object_id": lambda world: world.mold.pk,
    "content_type_id": lambda _: 1,
    "app_label": lambda _: "molds",
    "url": lambda _: "nowhere",
}
# the same, for one route whose parameter's name says something else elsewhere
ROUTE_SAMPLES: dict[tuple[str, str], Callable[[World], object]] = {
    ("logbook-entry", "pk"): lambda world: world.entry.pk,
    ("logbook-correct", "pk"): lambda world: world.entry.pk,
    ("logbook-take-back", "pk"): lambda world: world.entry.pk,
}


def sample_kwargs(route: Route, *, world: World) -> dict[str, object]:
    """Return arguments of the route that name something in the world."""
    kwargs = {}
    for name, converter in route.parameters.items():
        sample = (
            ROUTE_SAMPLES.get((route.name, name))
            or SAMPLES.get(f"{converter} {name}")
            or SAMPLES.get(name)
        )
        assert sample is not None, (
            f"Route {route.name} has a parameter {name!r} without a sample: say in "
            "tests/pages/routes.py what it names."
        )
        kwargs[name] = sample(world)
    return kwargs


def sample_path(route: Route, *, world: World) -> str:
    """Return an address of the route that names something in the world."""
    return reverse(route.name, kwargs=sample_kwargs(route, world=world))


def signed_in(role: str, *, world: World) -> Client:
    """Return a client of the world's person with the role; `stranger` is nobody."""
    client = Client()
    if role != "stranger":
        client.force_login(world.people[role])
    return client
