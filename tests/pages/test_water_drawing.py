"""The water map as a drawing: nothing stands on something else, whatever the circuits are."""

import itertools
import re

from hypothesis import given
from hypothesis import strategies as st

from moldcare.core.water_map import InlineItem, InlineKind, WaterPath, water_map
from moldcare.pages.molds.water import ROW, drawing_of

SIGN_RADIUS = 10


def paths(said: list[tuple[str, str, int]]) -> list[WaterPath]:
    return [
        WaterPath(
            ident=str(n),
            half=half,
            looped_with=to,
            items=tuple(InlineItem(kind=InlineKind.BUBBLER, number=str(k)) for k in range(count)),
        )
        for n, (half, to, count) in enumerate(said)
    ]


CIRCUITS = st.lists(
    st.tuples(st.sampled_from("AB"), st.sampled_from(["", "0", "1", "2", "3"]), st.integers(0, 30)),
    min_size=1,
    max_size=5,
)


@given(CIRCUITS)
def test_lines_and_signs_keep_apart_and_inside(said: list[tuple[str, str, int]]) -> None:
    drawing = drawing_of(water_map(paths(said)))
    heights = [each.y for each in drawing.circuits]
    assert all(second - first >= ROW for first, second in itertools.pairwise(heights))
    assert max(heights) < drawing.height
    for each in drawing.circuits:
        places = [0, *(item.x for item in each.items), drawing.length]
        gaps = [second - first for first, second in itertools.pairwise(places)]
        assert min(gaps) > 2 * SIGN_RADIUS
    assert drawing.left + drawing.length < drawing.width


@given(CIRCUITS)
def test_hoses_have_lanes_and_gaps_of_their_own(said: list[tuple[str, str, int]]) -> None:
    drawing = drawing_of(water_map(paths(said)))
    numbers = [[int(each) for each in re.findall(r"\d+", path)] for path in drawing.loops]
    lanes, gaps = [row[2] for row in numbers], [row[3] for row in numbers]
    assert len(set(lanes)) == len(lanes)
    assert len(set(gaps)) == len(gaps)
    assert all(drawing.left + drawing.length < lane < drawing.width for lane in lanes)
    assert not set(gaps) & {each.y for each in drawing.circuits}


def test_a_mold_without_circuits_has_nothing_to_draw() -> None:
    drawing = drawing_of(water_map([]))
    assert drawing.circuits == ()
    assert drawing.loops == ()
