"""Numbers and dates in the plant's manner, against Django's own locale data."""

from datetime import date, datetime
from decimal import Decimal

import pytest
from django.utils import dates, formats, translation
from hypothesis import given
from hypothesis import strategies as st

from moldcare.paper import numbers


@pytest.mark.parametrize(
    ("locale", "shots", "flow", "depth"),
    [("en", "12,400", "4.25", "0.015"), ("de", "12.400", "4,25", "0,015")],
)
def test_plant_writes_its_own_signs(locale: str, shots: str, flow: str, depth: str) -> None:
    assert numbers.whole_number(12400, locale=locale) == shots
    assert numbers.decimal_number(Decimal("4.25"), locale=locale) == flow
    assert numbers.decimal_number(Decimal("0.015"), locale=locale) == depth


@given(
    st.decimals(min_value=10_000, max_value=10**12, places=3),
    st.sampled_from(["en", "de", "es"]),
)
def test_large_numbers_agree_with_djangos_locale_data(value: Decimal, locale: str) -> None:
    with translation.override(locale):
        theirs = formats.number_format(value, decimal_pos=3, force_grouping=True)
    assert numbers.decimal_number(value, locale=locale) == theirs


def test_spanish_leaves_four_digits_whole() -> None:
    """As the Real Academia Española's orthography asks (from memory)."""
    assert numbers.whole_number(1204, locale="es") == "1204"
    assert numbers.whole_number(12040, locale="es") == "12\u00a0040"
    assert numbers.whole_number(1204, locale="de") == "1.204"


def test_places_stay_as_they_were_measured() -> None:
    assert numbers.decimal_number(Decimal("11.80"), locale="en") == "11.80"
    assert numbers.decimal_number(Decimal("1E+4"), locale="en") == "10,000"
    assert numbers.decimal_number(Decimal("2.665"), locale="en", places=2) == "2.66"
    assert numbers.decimal_number(Decimal("-0.5"), locale="de") == "\u22120,5"


def test_unit_is_not_parted_from_its_number() -> None:
    assert numbers.quantity(Decimal("4.25"), unit="l/min", locale="en") == "4.25\u00a0l/min"
    assert numbers.quantity(6, unit="", locale="en") == "6"


@pytest.mark.parametrize("locale", ["en", "de", "es"])
def test_names_of_months_and_weekdays_agree_with_django(locale: str) -> None:
    with translation.override(locale):
        months = [str(dates.MONTHS[month]).lower() for month in range(1, 13)]
    ours = [
        numbers.month_text(date(2026, month, 1), locale=locale).lower().split()[0]
        for month in range(1, 13)
    ]
    assert ours == months
    with translation.override(locale):
        weekdays = [str(dates.WEEKDAYS_ABBR[day]).lower().rstrip(".") for day in range(7)]
    # 2 March 2026 is a Monday
    assert [
        numbers.weekday_text(date(2026, 3, 2 + day), locale=locale).lower() for day in range(7)
    ] == weekdays


@pytest.mark.parametrize(
    ("locale", "written"),
    [("en", "3 Nov 2026"), ("de", "03.11.2026"), ("es", "3 nov 2026"), ("de-AT", "03.11.2026")],
)
def test_dates_are_not_read_as_other_dates(locale: str, written: str) -> None:
    assert numbers.date_text(date(2026, 11, 3), locale=locale).replace("\u00a0", " ") == written


def test_times_are_of_24_hours() -> None:
    moment = datetime(2026, 11, 3, 22, 5)  # noqa: DTZ001 - a local time, as it is printed
    assert numbers.moment_text(moment, locale="de") == "03.11.2026, 22:05"


def test_unknown_locale_writes_english() -> None:
    assert numbers.whole_number(12400, locale="xx") == "12,400"
