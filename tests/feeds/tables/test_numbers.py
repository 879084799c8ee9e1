from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from moldcare.feeds.tables.numbers import (
    NumberDecision,
    NumberEvidence,
    Signs,
    decide_numbers,
    estimate_or_not,
    read_decimal,
    read_whole,
)
from moldcare.feeds.tables.text import clean
from tests.feeds.tables.reading import plan_of, rows_of, values_of, verdicts_of

HEADING = "mold;at;reading\n"


def file_with(*values: str) -> str:
    return HEADING + "".join(
        f"0001;2026-04-{day:02d} 06:00;{value}\n" for day, value in enumerate(values, start=1)
    )


def decision(*values: str, is_whole: bool) -> NumberDecision:
    evidence = NumberEvidence()
    for row, value in enumerate(values, start=1):
        evidence.add(clean(value), row=row)
    return decide_numbers(evidence, is_whole=is_whole, key="numbers:x", column="x")


@pytest.mark.parametrize(
    ("values", "expected"),
    [
        (["12.400", "12.455", "9.980"], [12400, 12455, 9980]),
        (["12,400", "12,455", "9,980"], [12400, 12455, 9980]),
        (["12'400", "9'980", "1'204'880"], [12400, 9980, 1204880]),
        (["12’400", "980"], [12400, 980]),
        (["12 400", "1 204 880"], [12400, 1204880]),
        (["12\u2009400", "12\u202f400", "12\u00a0400"], [12400, 12400, 12400]),
        (["12450.0", "12451.00"], [12450, 12451]),
        (["1.204.880,0", "980,0"], [1204880, 980]),
        (["1,204,880.00", "980.00"], [1204880, 980]),
        ([" 5 ", "\u200b6", "7\u00a0"], [5, 6, 7]),
    ],
)
def test_thousands_are_read_by_what_the_whole_column_says(
    values: list[str], expected: list[int]
) -> None:
    plan = plan_of(file_with(*values))
    assert [row.value for row in plan.rows()] == expected
    assert plan.open_questions == ()


def test_how_a_column_is_read_is_shown() -> None:
    column = plan_of(file_with("12.400", "9.980")).columns[2]
    assert column.how == "“12.400” is read as 12400"


def test_a_column_with_1_234_and_1_5_is_asked_and_its_rows_wait() -> None:
    content = file_with("1.234", "1.5", "1240")
    (question,) = plan_of(content).open_questions
    assert question.key == "numbers:reading"
    assert "“1.234” in row 2" in question.text
    assert "“1.5” in row 3" in question.text
    assert verdicts_of(content) == ["needs_answer", "needs_answer", None]


def test_the_answer_about_points_is_followed() -> None:
    content = file_with("1.234", "1.5", "1240")
    as_thousands = rows_of(content, answers={"numbers:reading": "thousands"})
    assert [row.value for row in as_thousands] == [1234, None, 1240]
    assert as_thousands[1].problem is not None
    as_decimal = rows_of(content, answers={"numbers:reading": "decimal"})
    assert [row.value for row in as_decimal] == [None, None, 1240]
    assert as_decimal[0].problem is not None
    assert as_decimal[0].problem.reason == "“1.234” is not a whole number."


def test_values_that_may_be_either_and_would_be_whole_both_ways_are_asked() -> None:
    assert decision("12.000", "13.000", is_whole=True).question is not None
    assert decision("12.000", "13.400", is_whole=True).signs is Signs.THOUSANDS


def test_12_400_alone_is_asked_where_decimals_make_sense() -> None:
    assert decision("12.400", is_whole=False).signs is None
    assert decision("12.400", "1.234.567", is_whole=False).signs is Signs.THOUSANDS
    assert decision("12.400", "4.25", is_whole=False).signs is Signs.DECIMAL
    assert decision("12.400", "4,25", is_whole=False).signs is Signs.COMMA_DECIMAL


def test_two_signs_that_may_each_be_either_are_asked() -> None:
    asked = decision("12,400", "12.455", is_whole=True)
    assert asked.signs is None
    assert asked.question is not None
    assert {choice.value for choice in asked.question.choices} == {
        *("thousands", "comma_decimal", "point_decimal")
    }


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("1.217.40", "three digits"),
        ("12.40.0", "three digits"),
        ("-5", "below zero"),
        ("−5", "below zero"),
        ("12 40", "not a number"),
        ("5 shots", "not a number"),
        ("1e5", "not a number"),
        ("²", "not a number"),
        ("٣", "not a number"),
        ("1" * 19, "more digits"),
    ],
)
def test_what_is_no_whole_number_is_refused_with_a_sentence(text: str, sentence: str) -> None:
    row = rows_of(file_with(text))[0]
    assert row.value is None
    assert row.problem is not None
    assert row.problem.verdict == "refused"
    assert sentence in row.problem.reason


def test_a_refused_value_does_not_sway_the_rest_of_its_column() -> None:
    assert values_of(file_with("1.217.40", "12.400", "9.980")) == [None, 12400, 9980]


def test_one_fraction_among_whole_numbers_is_refused_and_the_rest_taken() -> None:
    content = file_with("12400", "12450.0", "12455.5")
    assert values_of(content) == [12400, 12450, None]
    assert verdicts_of(content) == [None, None, "refused"]


@pytest.mark.parametrize(
    "text",
    [
        *("ca. 313000", "ca 313000", "~313000", "~ 313000", "≈313000", "approx. 313000"),
        *("about 313000", "etwa 313.000", "rund 313000", "Ca. 313'000", "aprox. 313000"),
    ],
)
def test_about_a_number_is_an_estimate_of_it(text: str) -> None:
    row = rows_of(file_with(text, "12.455"))[0]
    assert (row.value, row.is_estimated, row.problem) == (313000, True, None)


def test_a_column_may_say_what_is_estimated() -> None:
    content = (
        "mold;at;reading;estimated\n0001;2026-04-13 06:00;5;x\n0002;2026-04-13 06:00;6;\n"
        "0003;2026-04-13 06:00;7;nein\n0004;2026-04-13 06:00;8;perhaps\n"
    )
    rows = rows_of(content)
    assert [row.is_estimated for row in rows[:3]] == [True, False, False]
    assert verdicts_of(content) == [None, None, None, "refused"]


def test_decimals_and_signs_of_other_tables_are_read_too() -> None:
    # What number pads give in German and in English.
    assert read_decimal("4,25", signs=Signs.DECIMAL) == Decimal("4.25")
    assert read_decimal("4.25", signs=Signs.DECIMAL) == Decimal("4.25")
    assert read_decimal("-5", signs=Signs.THOUSANDS) == Decimal(-5)
    assert decision("-5.0", "-0.35", is_whole=False).signs is Signs.DECIMAL
    assert read_decimal("-0.35", signs=Signs.DECIMAL) == Decimal("-0.35")
    assert isinstance(read_decimal("1.234,5.6", signs=Signs.COMMA_DECIMAL), str)


def test_estimate_marks_need_a_number_behind_them() -> None:
    assert estimate_or_not("cavity 3") == ("cavity 3", False)
    assert estimate_or_not("about") == ("about", False)


GROUPS = {
    "plain": "",
    "point": ".",
    "comma": ",",
    "apostrophe": "'",
    "curled": "’",
    "blank": " ",
    "thin": "\u2009",
    "narrow": "\u202f",
    "fixed": "\u00a0",
}
COUNTS = st.integers(min_value=0, max_value=10**9)


@given(
    counts=st.lists(COUNTS, min_size=1, max_size=20),
    sign=st.sampled_from(sorted(GROUPS.values())),
)
def test_whole_numbers_grouped_in_any_style_read_back_or_are_asked(
    counts: list[int], sign: str
) -> None:
    # Python's own "," grouping writes the numbers; only the sign is changed.
    written = [f"{count:,}".replace(",", sign) for count in counts]
    decided = decision(*written, is_whole=True)
    if decided.signs is None:
        assert sign in {".", ","}
        assert all(count % 1000 == 0 for count in counts if 1000 <= count < 10**6)
        return
    assert [read_whole(text, signs=decided.signs) for text in written] == counts


@given(
    values=st.lists(
        st.decimals(min_value=-(10**8), max_value=10**8, places=2), min_size=1, max_size=20
    ),
    style=st.sampled_from([(",", "."), (".", ","), ("", "."), ("", ","), ("'", "."), (" ", ",")]),
)
def test_decimals_in_any_style_read_back(values: list[Decimal], style: tuple[str, str]) -> None:
    thousands, point = style
    written = [
        f"{value:,.2f}".translate(str.maketrans({",": thousands, ".": point})) for value in values
    ]
    decided = decision(*written, is_whole=False)
    assert decided.signs is not None
    assert [read_decimal(text, signs=decided.signs) for text in written] == values


@given(text=st.text(max_size=12))
def test_no_text_is_an_accident(text: str) -> None:
    for signs in (None, *Signs):
        value = read_whole(clean(text), signs=signs)
        assert isinstance(value, int | str)
