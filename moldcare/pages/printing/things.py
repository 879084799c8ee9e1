"""What gets a label: molds, circuits, presses and other places, as somebody asked for them."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from enum import StrEnum

from django.http import QueryDict
from django.urls import reverse
from django.utils.translation import gettext as _

from moldcare.molds.models import Circuit, Mold, name_key
from moldcare.molds.queries import molds_in_use, molds_matching
from moldcare.paper.labels import Label
from moldcare.plant.models import Spot
from moldcare.plant.queries import spots_in_use

MOST_LISTED = 300
LONGEST_QUESTION = 120


class What(StrEnum):
    """The kinds of things that get labels."""

    MOLDS = "molds"
    CIRCUITS = "circuits"
    PRESSES = "presses"
    SPOTS = "spots"


class CodeHolds(StrEnum):
    """What the square code holds: the address of the thing's page, or its number alone."""

    ADDRESS = "address"
    NUMBER = "number"


@dataclass(frozen=True, kw_only=True, slots=True)
class Thing:
    """Something that gets a label; `parameter` and `value` name it in an address."""

    parameter: str
    value: str
    kind: str
    number: str
    name: str
    path: str
    is_ticked: bool = True

    def label(self, *, address: str, holds: str) -> Label:
        """Return its label; bars hold its number, for scanners that type."""
        is_number = holds == CodeHolds.NUMBER
        return Label(
            kind=self.kind,
            number=self.number,
            name=self.name,
            code_text=self.number if is_number else f"{address.rstrip('/')}{self.path}",
            bar_text=self.number,
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class Listed:
    """Things to choose from, and how many more there are than a page shows.

    `unknown` are the numbers that were asked for and name nothing.
    """

    things: list[Thing]
    more: int = 0
    unknown: tuple[str, ...] = ()

    @property
    def ticked(self) -> list[Thing]:
        """Those that get a label."""
        return [thing for thing in self.things if thing.is_ticked]


def listed_things(asked: QueryDict) -> Listed:
    """Return what an address asks for: things by their numbers, or all that hold a text.

    What was listed before and is not ticked any more stays in the list.
    """
    what, text = asked.get("what", ""), _clean(asked.get("q", ""))
    has_ticks = "listed" in asked and asked["listed"] == f"{what} {text}".strip()
    named: list[Thing] = []
    unknown: list[str] = []
    for each in What:
        values = _values(asked, each)
        there = list(_named(each, values=values))
        named += there
        unknown += _unknown(each, values=values, there=there)
    if what not in set(What):
        return Listed(things=named, unknown=tuple(unknown))
    # one more than is shown tells that there are more
    found = list(_matching(What(what), text=text))
    if has_ticks:
        ticked = {(thing.parameter, thing.value) for thing in named}
        found = [
            replace(thing, is_ticked=(thing.parameter, thing.value) in ticked) for thing in found
        ]
    return Listed(
        things=found[:MOST_LISTED],
        more=max(0, len(found) - MOST_LISTED),
        unknown=tuple(unknown),
    )


def listing_key(asked: QueryDict) -> str:
    """Return what names a list, so that ticks of another one are not taken for its own."""
    return f"{asked.get('what', '')} {_clean(asked.get('q', ''))}".strip()


def _clean(text: str) -> str:
    return text.replace("\0", "").strip()[:LONGEST_QUESTION]


def _values(asked: QueryDict, what: What) -> list[str]:
    return [_clean(value) for value in asked.getlist(what)[:2_000] if _clean(value)]


def _named(what: What, *, values: list[str]) -> Iterator[Thing]:
    """Return the things with these numbers, in the order in which the plant counts them."""
    if not values:
        return
    if what is What.MOLDS:
        yield from map(_mold, _molds_numbered(values))
    elif what is What.CIRCUITS:
        yield from _circuits_named(values)
    else:
        wanted = {name_key(value) for value in values}
        for spot in _spots(what):
            thing = _spot(spot, what=what)
            if name_key(thing.value) in wanted or name_key(spot.number) in wanted:
                yield thing


def _unknown(what: What, *, values: list[str], there: list[Thing]) -> list[str]:
    """Return the numbers that name nothing; a mold without circuits names no circuit."""
    known = {name_key(thing.value) for thing in there}
    if what in (What.PRESSES, What.SPOTS):
        known |= {name_key(thing.number) for thing in there}
    elif what is What.CIRCUITS and not all(_is_key(value) for value in values):
        with_circuits = molds_in_use().filter(circuits__isnull=False)
        keys = {name_key(value) for value in values}
        known |= set(with_circuits.filter(number_key__in=keys).values_list("number_key", flat=True))
    return [value for value in values if name_key(value) not in known]


def _molds_numbered(values: Iterable[str]) -> list[Mold]:
    return list(molds_in_use().filter(number_key__in={name_key(value) for value in values}))


def _circuits_named(values: list[str]) -> Iterator[Thing]:
    """Return circuits by their keys, and all circuits of molds by the molds' numbers."""
    keys = {int(value[1:]) for value in values if _is_key(value)}
    numbers = [value for value in values if not _is_key(value)]
    rows = Circuit.objects.filter(mold__withdrawn_at__isnull=True).select_related("mold")
    found = {row.pk: row for row in rows.filter(pk__in=keys)}
    found |= {row.pk: row for row in rows.filter(mold__in=_molds_numbered(numbers))}
    order = sorted(found.values(), key=lambda row: (row.mold.sort_key, row.half, row.pk))
    yield from map(_circuit, order)


def _is_key(value: str) -> bool:
    return len(value) < 19 and value[:1] == "." and value[1:].isascii() and value[1:].isdecimal()


def _matching(what: What, *, text: str) -> Iterator[Thing]:
    wanted = name_key(text)
    if what in (What.MOLDS, What.CIRCUITS):
        molds = molds_matching(text) if text else list(molds_in_use().order_by("sort_key"))
        if what is What.MOLDS:
            yield from map(_mold, molds)
            return
        rows = Circuit.objects.filter(mold__in=[mold.pk for mold in molds]).select_related("mold")
        yield from map(_circuit, rows.order_by("mold__sort_key", "half", "id"))
        return
    for spot in _spots(what):
        if wanted in name_key(spot.number) or wanted in name_key(spot.name):
            yield _spot(spot, what=what)


def _spots(what: What) -> list[Spot]:
    kinds = [Spot.Kind.PRESS] if what is What.PRESSES else [Spot.Kind.BENCH, Spot.Kind.RACK]
    return list(spots_in_use(kinds=kinds).order_by("kind", "number"))


def _mold(mold: Mold) -> Thing:
    return Thing(
        parameter=What.MOLDS,
        value=mold.number,
        kind=_("mold"),
        number=mold.number,
        name=mold.name,
        path=reverse("mold", kwargs={"number": mold.number}),
    )


def _circuit(circuit: Circuit) -> Thing:
    mold = circuit.mold
    return Thing(
        parameter=What.CIRCUITS,
        value=f".{circuit.pk}",
        kind=_("circuit"),
        number=f"{mold.number} {circuit.ident}",
        name=mold.name,
        path=f"{reverse('mold', kwargs={'number': mold.number})}#circuit-{circuit.pk}",
    )


def _spot(spot: Spot, *, what: What) -> Thing:
    return Thing(
        parameter=what,
        value=f"{spot.kind}:{spot.number}" if what is What.SPOTS else spot.number,
        kind=str(spot.get_kind_display()),
        number=spot.number,
        name=spot.name,
        path=reverse("spot", kwargs={"kind": spot.kind, "spot_number": spot.number}),
    )
