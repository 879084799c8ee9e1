"""The water map: every end has one hose, loops run one way, what is unclear is said."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from moldcare.core.water_map import (
    CircuitsUnclear,
    HoseKind,
    Unclear,
    WaterPath,
    water_map,
)


def path(ident: str, *, half: str = "A", to: str = "") -> WaterPath:
    return WaterPath(ident=ident, half=half, looped_with=to)


def ends(*paths: WaterPath) -> list[tuple[str, str]]:
    return [(hose.from_label, hose.to_label) for hose in water_map(paths).hoses]


def test_a_circuit_alone_has_a_supply_and_a_return() -> None:
    assert ends(path("A1")) == [("", "A1 IN"), ("A1 OUT", "")]


def test_a_loop_across_halves_is_one_hose() -> None:
    found = water_map([path("A1", to="b1"), path("B1", half="B")])
    assert [hose.kind for hose in found.hoses] == [
        HoseKind.SUPPLY,
        HoseKind.LOOP,
        HoseKind.RETURN,
    ]
    assert [half.half for half in found.halves] == ["A", "B"]
    assert found.halves[0].circuits[0].to_label == "B1 IN"
    assert found.halves[1].circuits[0].from_label == "A1 OUT"


def test_two_that_name_each_other_are_one_loop_from_the_first() -> None:
    assert ends(path("A1", to="A2"), path("A2", to="A1")) == [
        ("", "A1 IN"),
        ("A1 OUT", "A2 IN"),
        ("A2 OUT", ""),
    ]


@pytest.mark.parametrize(
    ("paths", "why"),
    [
        ([path("A1", to="A9")], Unclear.NO_SUCH_CIRCUIT),
        ([path("A1", to="A1")], Unclear.ITSELF),
        ([path("A1", to="A3"), path("A2", to="A3"), path("A3")], Unclear.IN_IS_TAKEN),
        ([path("A1", to="A2"), path("A2", to="A3"), path("A3", to="A1")], Unclear.IN_CIRCLE),
    ],
)
def test_what_cannot_be_drawn_is_said(paths: list[WaterPath], why: Unclear) -> None:
    found = water_map(paths)
    assert [each.why for each in found.unclear] == [why]
    assert len([hose for hose in found.hoses if hose.kind == HoseKind.SUPPLY]) >= 1


def test_one_name_twice_is_refused() -> None:
    with pytest.raises(CircuitsUnclear, match="same name"):
        water_map([path("A1"), path("a1", half="B")])


@given(st.lists(st.sampled_from(["", "1", "2", "3", "4", "5", "9"]), min_size=1, max_size=6))
def test_every_end_has_exactly_one_hose(said: list[str]) -> None:
    """Whatever is said of loops: water comes into each circuit once and leaves it once."""
    found = water_map([path(str(n), to=to) for n, to in enumerate(said)])
    into = [hose.to_label for hose in found.hoses if hose.to_label]
    out = [hose.from_label for hose in found.hoses if hose.from_label]
    assert sorted(into) == sorted(f"{n} IN" for n in range(len(said)))
    assert sorted(out) == sorted(f"{n} OUT" for n in range(len(said)))
