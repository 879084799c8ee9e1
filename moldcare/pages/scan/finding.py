"""What a code or a number names: molds, circuits, presses, places and orders."""

from collections.abc import Iterator
from dataclasses import dataclass
from urllib.parse import unquote

from django.urls import Resolver404, resolve, reverse
from django.utils.translation import gettext as _

from moldcare.core.scanning import address_path, other_keyboards, scanned_code
from moldcare.molds.models import Circuit, Mold, name_key
from moldcare.molds.queries import mold_numbered, molds_in_use
from moldcare.pages.sign_in.forms import keyboard_words
from moldcare.plant.models import Spot
from moldcare.plant.queries import spots_in_use
from moldcare.work.models import Order
from moldcare.work.queries import order_numbered

# an order's number is no longer than this; more digits would not fit the database
LONGEST_ORDER_NUMBER = 9


@dataclass(frozen=True, kw_only=True, slots=True)
class Found:
    """Something that a code names, and its page."""

    label: str
    path: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Guess:
    """What a code may have meant, had it not come through another keyboard."""

    keyboard: str
    found: list[Found]


def found_by(text: str) -> list[Found]:
    """Return what a code or number names; several things may have the same number.

    Of an address only its path counts: a label may have been printed for another name of the
    server.
    """
    code = scanned_code(text)
    if not code:
        return []
    path = address_path(code)
    return list(_at(path) if path is not None else _numbered(code))


def guesses_of(text: str) -> list[Guess]:
    """Return what a code that names nothing may have meant on another keyboard."""
    guesses = []
    for other in other_keyboards(scanned_code(text)):
        found = found_by(other.meant)
        if found:
            guesses.append(Guess(keyboard=keyboard_words(other.keyboard), found=found))
    return guesses


def mold_of_code(text: str) -> Mold | None:
    """Return the mold that a code names, as a number or as the address of its page."""
    code = scanned_code(text)
    path = address_path(code)
    if path is None:
        return mold_numbered(code)
    return _mold_at(path)


def _mold_at(path: str) -> Mold | None:
    try:
        match = resolve(unquote(path.partition("#")[0]))
    except Resolver404:
        return None
    return mold_numbered(match.kwargs["number"]) if match.url_name == "mold" else None


def _at(path: str) -> Iterator[Found]:
    """Return what lies at a path that our labels and papers carry."""
    plain, _sign, part = path.partition("#")
    try:
        match = resolve(unquote(plain))
    except Resolver404:
        return
    if match.url_name == "mold":
        mold = mold_numbered(match.kwargs["number"])
        circuit = _circuit_of_part(mold, part=part)
        if circuit is not None:
            yield _circuit(circuit)
        elif mold is not None:
            yield _mold(mold)
    elif match.url_name == "spot":
        kind, number = match.kwargs["kind"], match.kwargs["spot_number"]
        for spot in Spot.objects.filter(kind=kind, number=number):
            yield _spot(spot)
    elif match.url_name in ("sheet", "order"):
        order = order_numbered(match.kwargs["number"])
        if order is not None:
            yield _order(order)


def _circuit_of_part(mold: Mold | None, *, part: str) -> Circuit | None:
    key = part.removeprefix("circuit-")
    if mold is None or key == part or not key.isascii() or not key.isdigit() or len(key) > 18:
        return None
    return Circuit.objects.select_related("mold").filter(mold=mold, pk=int(key)).first()


def _numbered(code: str) -> Iterator[Found]:
    wanted = name_key(code)
    mold = mold_numbered(code)
    if mold is not None:
        yield _mold(mold)
    for spot in spots_in_use().order_by("kind", "number"):
        if name_key(spot.number) == wanted or name_key(str(spot)) == wanted:
            yield _spot(spot)
    # a circuit's label carries the mold's number and its own
    if " " in code:
        number, _blank, ident = code.rpartition(" ")
        rows = Circuit.objects.select_related("mold").filter(
            mold__in=molds_in_use().filter(number_key=name_key(number))
        )
        yield from (_circuit(row) for row in rows if name_key(row.ident) == name_key(ident))
    if code.isascii() and code.isdigit() and len(code) <= LONGEST_ORDER_NUMBER:
        order = order_numbered(int(code))
        if order is not None:
            yield _order(order)


def _mold(mold: Mold) -> Found:
    return Found(
        label=_("Mold %(number)s, %(name)s") % {"number": mold.number, "name": mold.name},
        path=reverse("mold", kwargs={"number": mold.number}),
    )


def _circuit(circuit: Circuit) -> Found:
    page = reverse("mold", kwargs={"number": circuit.mold.number})
    return Found(
        label=_("Circuit %(ident)s of mold %(number)s")
        % {"ident": circuit.ident, "number": circuit.mold.number},
        path=f"{page}#circuit-{circuit.pk}",
    )


def _spot(spot: Spot) -> Found:
    return Found(
        label=str(spot).capitalize(),
        path=reverse("spot", kwargs={"kind": spot.kind, "spot_number": spot.number}),
    )


def _order(order: Order) -> Found:
    is_open = order.signed_at is None and order.struck_out_at is None
    name = "sheet" if is_open else "order"
    return Found(
        label=_("Order %(number)d") % {"number": order.number},
        path=reverse(name, kwargs={"number": order.number}),
    )
