"""Every route of the product, with arguments that name something: what the generated tests visit.

The routes come from the URL configuration, so a new page is visited without a list being kept. A
new *kind of argument* needs a line in `SAMPLES` or `PK_SAMPLES`; the tests say so when one is
missing, or names nothing.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from uuid import UUID

from django.http import HttpResponseBase
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from moldcare.pages.access import Guard
from moldcare.plant.models import Person
from tests.pages.small_world import World

# what anybody may open who is not signed in; every other route sends strangers to sign in
PUBLIC = frozenset(
    {"sign-in", "sign-at-tablet", "sign-off", "tables-sign-in", "health", "service-worker"}
    | {"contact", "tablet-sign-on"}
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


# what the parameter of an address names: by its name, or by its converter and name
SAMPLES: dict[str, Callable[[World], object]] = {
    "number": lambda world: world.mold.number,
    "IntConverter number": lambda world: world.order.number,
    "SlugConverter name": lambda _: "molds",
    "SlugConverter format": lambda _: "csv",
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
    "kind": lambda world: world.press.kind,
    "spot_number": lambda world: world.press.number,
    "person": lambda world: world.people["technician"].pk,
    "position": lambda world: world.position.pk,
    "circuit": lambda world: world.circuit.pk,
    "configuration": lambda world: world.configuration.pk,
    "component": lambda world: world.component.pk,
    "month": lambda _: "2026-01",
    "year": lambda _: 2026,
    "on": lambda _: "2026-01-05",
    "sha256": lambda world: world.photo.sha256,
    "hand_in": lambda _: UUID(int=1),
    "example": lambda _: "shift-round.csv",
    "qualification": lambda world: world.qualification.pk,
    "kept": lambda world: world.kept.pk,
    # the admin's own
    "object_id": lambda world: world.mold.pk,
    "content_type_id": lambda _: 1,
    "app_label": lambda _: "molds",
    "url": lambda _: "nowhere",
}
# a bare `pk` names what the route is about: by the first words of the route's name
PK_SAMPLES: dict[str, Callable[[World], int]] = {
    "auxiliary": lambda world: world.auxiliary.pk,
    "setup-auxiliary": lambda world: world.auxiliary.pk,
    "setup-caution": lambda world: world.caution.pk,
    "setup-owner": lambda world: world.owner.pk,
    "setup-shifts-take-back": lambda world: world.day_off.pk,
    "setup-shifts-week-take-back": lambda world: world.week_ahead.pk,
    "setup-spot": lambda world: world.press.pk,
    "setup-supply": lambda world: world.supply.pk,
    "counter": lambda world: world.counter.pk,
    "handover": lambda world: world.handover.pk,
    "held-reading": lambda world: world.reading.pk,
    "import": lambda world: world.batch.pk,
    "import-preview": lambda world: world.upload.pk,
    "import-undo": lambda world: world.register.pk,
    "interruption": lambda world: world.interruption.pk,
    "logbook": lambda world: world.entry.pk,
    "logbook-take-back": lambda world: world.completion.entry_id,
    "rule": lambda world: world.rule.pk,
    "rule-set": lambda world: world.rule_set.pk,
    "run": lambda world: world.run.pk,
    "set-rule": lambda world: world.set_rule.pk,
}


def sample_kwargs(route: Route, *, world: World) -> dict[str, object]:
    """Return arguments of the route that name something in the world."""
    kwargs = {}
    for name, converter in route.parameters.items():
        sample = (
            SAMPLES.get(f"{converter} {name}")
            or SAMPLES.get(name)
            or (PK_SAMPLES.get(_longest_start(route.name)) if name == "pk" else None)
        )
        assert sample is not None, (
            f"Route {route.name} has a parameter {name!r} without a sample: say in "
            "tests/pages/routes.py what it names."
        )
        kwargs[name] = sample(world)
    return kwargs


def _longest_start(name: str) -> str:
    """The longest of the words in `PK_SAMPLES` that a route's name begins with."""
    return max((words for words in PK_SAMPLES if name.startswith(words)), key=len, default="")


def sample_path(route: Route, *, world: World) -> str:
    """Return an address of the route that names something in the world."""
    return reverse(route.name, kwargs=sample_kwargs(route, world=world))


def signed_in(role: str, *, world: World) -> Client:
    """Return a client of the world's person with the role; `stranger` is nobody."""
    client = Client()
    if role != "stranger":
        client.force_login(world.people[role])
    return client
