"""Lists as people type them."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from moldcare.core.errors import ListUnclear
from moldcare.core.typed_lists import MOST_NUMBERS, NamedDay, days_in, numbers_in


@pytest.mark.parametrize(
    ("text", "numbers"),
    [
        ("R1-01 to R1-04", ["R1-01", "R1-02", "R1-03", "R1-04"]),
        ("9 to 11", ["9", "10", "11"]),
        ("A1..A3", ["A1", "A2", "A3"]),
        ("Rack 7b, Rack 8b", ["Rack 7b", "Rack 8b"]),
        ("1A bis 3A\nyard", ["1A", "2A", "3A", "yard"]),
        ("R1-01 to R3-01", ["R1-01", "R2-01", "R3-01"]),
        (" ,;\n ", []),
    ],
)
def test_a_list_means_its_numbers(text: str, numbers: list[str]) -> None:
    assert numbers_in(text) == numbers


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("R1-40 to R1-01", "backwards"),
        ("R1-01 to S1-40", "one figure"),
        ("R1-01 to R2-40", "one figure"),
        ("A to D", "one figure"),
        ("1 to 2 to 3", "no range"),
        (f"1 to {MOST_NUMBERS + 1}", "more than"),
        ("1 to 99999999999999999999", "too long"),
        ("7 to 7", "one figure"),
    ],
)
def test_a_list_that_means_nothing_clear_is_refused(text: str, told: str) -> None:
    with pytest.raises(ListUnclear, match=told):
        numbers_in(text)


@given(
    start=st.integers(0, 9_999),
    length=st.integers(2, MOST_NUMBERS),
    digits=st.integers(1, 6),
)
def test_a_range_holds_each_number_once_from_first_to_last(
    start: int, length: int, digits: int
) -> None:
    first, last = f"R{start:0{digits}d}", f"R{start + length - 1:0{digits}d}"
    found = numbers_in(f"{first} to {last}")
    assert (found[0], found[-1]) == (first, last)
    assert [int(number[1:]) for number in found] == list(range(start, start + length))


def test_days_are_read_one_a_line() -> None:
    text = "2026-12-25 Christmas\n\n26.12.2026; Second day of Christmas\r\n2027-1-1: New Year"
    assert days_in(text) == [
        NamedDay(on=date(2026, 12, 25), name="Christmas"),
        NamedDay(on=date(2026, 12, 26), name="Second day of Christmas"),
        NamedDay(on=date(2027, 1, 1), name="New Year"),
    ]


@pytest.mark.parametrize(
    "written",
    [
        "2026-12-30 to 2027-01-02 shutdown",
        "30.12.2026 - 02.01.2027 shutdown",
        "30.12.2026–2.1.2027: shutdown",
        "2026-12-30 bis 2027-01-02; shutdown",
        "30.12.2026 hasta 2027-01-02 shutdown",
    ],
)
def test_a_shutdown_is_one_line_from_its_first_to_its_last_day(written: str) -> None:
    assert days_in(written) == [
        NamedDay(on=day, name="shutdown")
        for day in (
            date(2026, 12, 30),
            date(2026, 12, 31),
            date(2027, 1, 1),
            date(2027, 1, 2),
        )
    ]


def test_a_name_that_begins_like_a_word_of_ranges_is_a_name() -> None:
    assert days_in("2026-12-24 To be with the family")[0].name == "To be with the family"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("2027-01-02 to 2026-12-30 shutdown", "Line 1.*first day, then the last"),
        ("2026-12-30 to 2062-01-02 shutdown", "at most 100 days"),
        ("2026-12-30 to 2027-01-02", "say what 2026-12-30 is"),
        ("12/11/2026 Founders' day", "Line 1.*does not begin with a date"),
        ("2026-12-25 Christmas\n2026-02-30 Never", "Line 2.*does not begin with a date"),
        ("2026-12-25", "say what 2026-12-25 is"),
        ("Christmas", "does not begin with a date"),
    ],
)
def test_a_line_that_names_no_day_is_said_by_its_place(text: str, told: str) -> None:
    with pytest.raises(ListUnclear, match=told):
        days_in(text)
