import math
import re
import xml.etree.ElementTree as ET
from itertools import pairwise

import pytest
from django.template.loader import render_to_string
from django.utils import translation
from hypothesis import given
from hypothesis import strategies as st

from moldcare.pages.strip import HEIGHT, WIDTH, Strip, strip

STATES = (
    "not_due",
    "due_soon",
    "due",
    "overdue",
    "past_limit",
    "waiting",
    "deferred",
    "unsure",
)
NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
shares = st.floats(min_value=0, max_value=1e6, allow_nan=False)
hard_limits = st.none() | st.floats(min_value=1, max_value=100)
drawn = st.builds(
    lambda share, hard, margin, state, band: strip(
        share,
        hard_limit_share=hard,
        margin_share=margin,
        state=state,
        band=None if band is None else (min(band), max(band)),
    ),
    st.none() | shares,
    hard_limits,
    st.floats(min_value=0, max_value=3),
    st.sampled_from(STATES),
    st.none() | st.tuples(shares, shares),
)


def pointer_x(drawing: Strip) -> float:
    return float(drawing.pointer.split(",", 1)[0])


def ends(path: str) -> tuple[float, float]:
    """Return where a plain horizontal line begins and ends."""
    start, _, end = (float(number) for number in NUMBER.findall(path))
    return start, end


def double_line_x(drawing: Strip) -> float:
    left, right = (float(x) for x in re.findall(r"M(-?[\d.]+) ", drawing.hard_limit))
    return (left + right) / 2


def test_plain_scale_has_ten_equal_tenths_up_to_the_limit() -> None:
    drawing = strip(0.0)
    ticks = sorted(float(x) for x in re.findall(r"M([\d.]+) ", drawing.ticks + drawing.tall_ticks))
    limit_x = float(NUMBER.findall(drawing.limit)[0])
    assert ticks[10] == limit_x
    steps = {round(after - before, 6) for before, after in pairwise(ticks)}
    assert len(steps) == 1


@pytest.mark.parametrize("share", [0.0, 0.1, 0.5, 0.93, 1.0, 1.05, 1.4])
def test_pointer_stands_in_proportion_between_zero_and_limit(share: float) -> None:
    drawing = strip(share)
    zero = pointer_x(strip(0.0))
    limit = float(NUMBER.findall(drawing.limit)[0])
    assert (pointer_x(drawing) - zero) / (limit - zero) == pytest.approx(share, abs=0.001)


def test_ink_ends_at_the_pointer_and_what_is_beyond_the_limit_is_drawn_apart() -> None:
    below, above = strip(0.62), strip(1.2)
    limit = float(NUMBER.findall(above.limit)[0])
    assert below.beyond == ""
    assert ends(below.used)[1] == pointer_x(below)
    assert ends(above.used)[1] == limit
    assert ends(above.beyond) == (limit, pointer_x(above))


def test_nothing_used_draws_a_pointer_at_zero_and_no_ink() -> None:
    drawing = strip(0.0)
    assert (drawing.used, drawing.beyond) == ("", "")
    assert drawing.pointer
    assert drawing.percent == 0


def test_an_unknown_share_draws_the_empty_scale_only() -> None:
    drawing = strip(None, hard_limit_share=1.25)
    assert drawing.is_unknown
    assert drawing.is_unsure
    assert (drawing.used, drawing.beyond, drawing.pointer) == ("", "", "")
    assert drawing.hard_limit
    assert drawing.limit
    assert drawing.percent is None


def test_unsure_is_drawn_as_unsure_and_no_other_state_is() -> None:
    assert [state for state in STATES if strip(0.5, state=state).is_unsure] == ["unsure"]


def test_a_hard_limit_far_away_breaks_the_scale_and_stays_on_it() -> None:
    drawing = strip(0.6, hard_limit_share=40.0)
    assert drawing.is_broken
    assert drawing.gap
    assert double_line_x(drawing) < WIDTH
    assert pointer_x(drawing) == pointer_x(strip(0.6))  # below the break nothing moves


def test_a_scale_that_needs_no_break_has_none() -> None:
    drawing = strip(1.05, hard_limit_share=1.25)
    assert not drawing.is_broken
    assert drawing.gap == ""


def test_a_moved_limit_moves_the_heavy_line_and_the_margin() -> None:
    moved = strip(1.03, limit_share=1.15, margin_share=0.0)
    assert moved.beyond == ""
    assert moved.margin == ""
    assert moved.limit_percent == 115
    assert float(NUMBER.findall(moved.limit)[0]) > pointer_x(moved)


@given(st.lists(shares, min_size=2, max_size=2).map(sorted), hard_limits)
def test_more_use_never_moves_the_pointer_back(two: list[float], hard: float | None) -> None:
    less, more = two
    first = strip(less, hard_limit_share=hard)
    second = strip(more, hard_limit_share=hard)
    if first.is_broken == second.is_broken:
        assert pointer_x(first) <= pointer_x(second)


@given(shares, st.floats(min_value=1, max_value=1000))
def test_pointer_and_hard_limit_stand_in_their_true_order(share: float, hard: float) -> None:
    drawing = strip(share, hard_limit_share=hard)
    if share < hard:
        assert pointer_x(drawing) <= double_line_x(drawing)
    if share > hard:
        assert pointer_x(drawing) >= double_line_x(drawing)


@given(drawn)
def test_everything_stays_inside_the_picture(drawing: Strip) -> None:
    for path in (
        drawing.channel,
        drawing.ticks,
        drawing.tall_ticks,
        drawing.used,
        drawing.beyond,
        drawing.limit,
        drawing.margin,
        drawing.margin_hatch,
        drawing.hard_limit,
        drawing.pointer,
        drawing.band,
        drawing.gap,
    ):
        assert all(-3 <= float(number) <= WIDTH for number in NUMBER.findall(path))
        assert not re.search(r"[^MHVLZ\d., -]", path)
    assert all(float(y) <= HEIGHT for y in re.findall(r"V([\d.]+)", drawing.band + drawing.limit))


@given(drawn)
def test_hatching_stays_inside_the_margin(drawing: Strip) -> None:
    if not drawing.margin:
        assert drawing.margin_hatch == ""
        return
    left, top, right, bottom, _ = (float(number) for number in NUMBER.findall(drawing.margin))
    numbers = [float(number) for number in NUMBER.findall(drawing.margin_hatch)]
    assert all(left - 0.05 <= x <= right + 0.05 for x in numbers[::2])
    assert all(top - 0.05 <= y <= bottom + 0.05 for y in numbers[1::2])


@given(st.integers(min_value=0, max_value=100_000), st.integers(min_value=1, max_value=100_000))
def test_percent_is_the_whole_percent_reached(count: int, interval: int) -> None:
    # whole-number arithmetic is the independent method
    assert strip(count / interval).percent == count * 100 // interval


@pytest.mark.parametrize("share", [-0.01, math.nan, math.inf])
def test_a_share_that_is_none_is_refused(share: float) -> None:
    with pytest.raises(ValueError, match="finite number"):
        strip(share)
    with pytest.raises(ValueError, match="finite number"):
        strip(0.5, hard_limit_share=share)


def test_a_band_that_runs_backwards_is_refused() -> None:
    with pytest.raises(ValueError, match="low to high"):
        strip(0.5, band=(1.1, 0.9))


@pytest.mark.parametrize("limit", [0.0, -1.0, math.inf])
def test_a_limit_that_is_none_is_refused(limit: float) -> None:
    with pytest.raises(ValueError, match="above 0"):
        strip(0.5, limit_share=limit)


@pytest.mark.parametrize("language", ["en", "de", "es"])
def test_no_locale_changes_a_coordinate(language: str) -> None:
    drawing = strip(0.6215, hard_limit_share=1.2345, band=(0.913, 1.087))
    with translation.override(language):
        picture = ET.fromstring(  # noqa: S314  our own template, no stranger's XML
            render_to_string("components/_strip.html", {"strip": drawing})
        )
    assert picture.get("viewBox") == f"0 0 {WIDTH} {HEIGHT}"
    paths = {path.get("class"): path.get("d") for path in picture.iter("path")}
    assert paths["strip__used"] == drawing.used
    assert paths["strip__hard"] == drawing.hard_limit
    assert picture.find("polygon") is not None


def test_the_picture_says_in_words_what_it_shows() -> None:
    text = render_to_string(
        "components/_strip.html",
        {"strip": strip(0.999, hard_limit_share=1.25, band=(0.9, 1.1), state="unsure")},
    )
    label = ET.fromstring(text).get("aria-label")  # noqa: S314  our own template
    assert label is not None
    assert "99 % of the interval used" in label
    assert "unsure" in label
    assert "Margin to 110 %" in label
    assert "Hard limit at 125 %" in label
    assert "90 to 110 %" in label


def test_the_picture_of_an_unknown_share_says_so() -> None:
    text = render_to_string("components/_strip.html", {"strip": strip(None)})
    assert "not known" in text
    assert "of the interval used" not in text
