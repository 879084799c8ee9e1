"""The water map of a mold: which hose goes where, from its circuits and what sits in them."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from moldcare.core.errors import DomainError


class CircuitsUnclear(DomainError):
    """Two circuits of one mold have the same name, so that no hose can be told from another."""


class InlineKind(StrEnum):
    """What sits in a circuit along its path."""

    BUBBLER = "bubbler"
    STRAIGHT_BAFFLE = "straight_baffle"
    SPIRAL_BAFFLE = "spiral_baffle"


class HoseKind(StrEnum):
    """Where a hose comes from and goes to."""

    SUPPLY = "supply"
    LOOP = "loop"
    RETURN = "return"


class Unclear(StrEnum):
    """Why what is said of a loop cannot be drawn as one."""

    NO_SUCH_CIRCUIT = "no_such_circuit"
    ITSELF = "itself"
    IN_IS_TAKEN = "in_is_taken"
    IN_CIRCLE = "in_circle"


@dataclass(frozen=True, kw_only=True, slots=True)
class InlineItem:
    """A bubbler or baffle: its number as stamped or counted, and where it sits."""

    kind: InlineKind
    number: str
    at: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class WaterPath:
    """A circuit as it is entered; `items` from IN to OUT, `counted` where they are not listed."""

    ident: str
    half: str
    items: tuple[InlineItem, ...] = ()
    counted: tuple[tuple[InlineKind, int], ...] = ()
    looped_with: str = ""
    couplings: str = ""
    medium: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class MappedCircuit:
    """A circuit on the map: its two ends, and what each of them is joined to.

    `from_label` and `to_label` name another circuit's end; they are empty where the hose comes
    from the supply or goes to the return.
    """

    path: WaterPath
    in_label: str
    out_label: str
    from_label: str = ""
    to_label: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class MappedHalf:
    """One half of the mold with its circuits, in the order in which they were entered."""

    half: str
    circuits: tuple[MappedCircuit, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Hose:
    """One hose; a label is empty where the supply or the return is."""

    kind: HoseKind
    from_label: str
    to_label: str


@dataclass(frozen=True, kw_only=True, slots=True)
class UnclearLoop:
    """What is said of a circuit's loop and cannot be drawn: the circuit is drawn without it."""

    ident: str
    said: str
    why: Unclear


@dataclass(frozen=True, kw_only=True, slots=True)
class WaterMap:
    """All circuits by half, all hoses along the water's way, and what could not be drawn."""

    halves: tuple[MappedHalf, ...]
    hoses: tuple[Hose, ...]
    unclear: tuple[UnclearLoop, ...]


def water_map(paths: Sequence[WaterPath]) -> WaterMap:
    """Return which hose goes where.

    Parameters
    ----------
    paths : Sequence[WaterPath]
        The circuits of one mold, in the order in which they shall be drawn.

    Returns
    -------
    WaterMap
        Halves in the order A, B; hoses in the order of the water: supply, loops, return of one
        chain of circuits after the other.

    Raises
    ------
    CircuitsUnclear
        If two circuits have one name.

    Notes
    -----
    "A1 looped with A2" joins the OUT of A1 with the IN of A2. Where the two name each other, the
    one that was entered first is upstream. An IN takes one hose, and water that only goes round
    cools nothing: what would need either is left out and said to be unclear.

    Examples
    --------
    >>> found = water_map(
    ...     [WaterPath(ident="A1", half="A", looped_with="A2"), WaterPath(ident="A2", half="A")]
    ... )
    >>> [f"{hose.from_label or 'supply'} to {hose.to_label or 'return'}" for hose in found.hoses]
    ['supply to A1 IN', 'A1 OUT to A2 IN', 'A2 OUT to return']
    """
    keys = [_key(path.ident) for path in paths]
    if len(set(keys)) != len(keys):
        raise CircuitsUnclear("Two circuits of this mold have the same name. Rename one of them.")
    by_key = dict(zip(keys, paths, strict=True))
    following, unclear = _loops(by_key)
    fed_by = {after: before for before, after in following.items()}
    mapped = {
        key: MappedCircuit(
            path=path,
            in_label=_in(path),
            out_label=_out(path),
            from_label=_out(by_key[fed_by[key]]) if key in fed_by else "",
            to_label=_in(by_key[following[key]]) if key in following else "",
        )
        for key, path in by_key.items()
    }
    halves = tuple(
        MappedHalf(
            half=half, circuits=tuple(each for each in mapped.values() if each.path.half == half)
        )
        for half in sorted({path.half for path in paths})
    )
    hoses = tuple(
        hose for key in by_key if key not in fed_by for hose in _chain(key, mapped, following)
    )
    return WaterMap(halves=halves, hoses=hoses, unclear=tuple(unclear))


def _loops(by_key: dict[str, WaterPath]) -> tuple[dict[str, str], list[UnclearLoop]]:
    """Return the circuit after each circuit, and what was said and cannot be drawn."""
    following: dict[str, str] = {}
    fed: set[str] = set()
    unclear = []
    for key, path in by_key.items():
        if not path.looped_with.strip():
            continue
        other = _key(path.looped_with)
        if following.get(other) == key:
            # the other one named this one already: one loop, said twice
            continue
        why = _why_not(key, other=other, by_key=by_key, following=following, fed=fed)
        if why is not None:
            unclear.append(UnclearLoop(ident=path.ident, said=path.looped_with.strip(), why=why))
            continue
        following[key] = other
        fed.add(other)
    return following, unclear


def _why_not(
    key: str,
    *,
    other: str,
    by_key: dict[str, WaterPath],
    following: dict[str, str],
    fed: set[str],
) -> Unclear | None:
    if other == key:
        return Unclear.ITSELF
    if other not in by_key:
        return Unclear.NO_SUCH_CIRCUIT
    if other in fed:
        return Unclear.IN_IS_TAKEN
    last = other
    while last in following:
        last = following[last]
    return Unclear.IN_CIRCLE if last == key else None


def _chain(
    first: str, mapped: dict[str, MappedCircuit], following: dict[str, str]
) -> tuple[Hose, ...]:
    """Return the hoses of one chain of circuits, from the supply to the return."""
    here = mapped[first]
    hoses = [Hose(kind=HoseKind.SUPPLY, from_label="", to_label=here.in_label)]
    key = first
    while key in following:
        key = following[key]
        hoses.append(
            Hose(kind=HoseKind.LOOP, from_label=here.out_label, to_label=mapped[key].in_label)
        )
        here = mapped[key]
    hoses.append(Hose(kind=HoseKind.RETURN, from_label=here.out_label, to_label=""))
    return tuple(hoses)


def _key(ident: str) -> str:
    return " ".join(ident.split()).casefold()


def _in(path: WaterPath) -> str:
    return f"{path.ident} IN"


def _out(path: WaterPath) -> str:
    return f"{path.ident} OUT"
