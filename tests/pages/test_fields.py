"""Fields for what people type: numbers with any decimal sign, times on the plant's clocks."""

from datetime import UTC, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from django.core.exceptions import ValidationError
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from moldcare.core.counting.entry import WrittenCount
from moldcare.pages.fields import DayField, DecimalField, MomentField, WholeField, local_text

BERLIN = ZoneInfo("Europe/Berlin")
CHICAGO = ZoneInfo("America/Chicago")


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("9,4", "9.4"),
        ("9.4", "9.4"),
        ("0,125", "0.125"),
        ("12", "12"),
        ("1.234.567", "1234567"),
        ("1 234,5", "1234.5"),
        ("1\N{NARROW NO-BREAK SPACE}234,5", "1234.5"),
        ("1,234.56", "1234.56"),
        ("1.234,56", "1234.56"),
        ("\N{MINUS SIGN}3,5", "-3.5"),
    ],
)
def test_a_measured_number_is_read_with_comma_or_point(text: str, number: str) -> None:
    assert DecimalField(digits=16).clean(text) == Decimal(number)


@pytest.mark.parametrize("text", ["1,250", "1.250", "12.500", "-1,250"])
def test_a_number_that_could_mean_two_is_asked_about(text: str) -> None:
    with pytest.raises(ValidationError, match="could mean"):
        DecimalField().clean(text)


@pytest.mark.parametrize("text", ["x", "1e3", "NaN", "Infinity", "1,2,3", "1.2.3", "--1", "٣", "²"])
def test_what_is_no_number_is_said(text: str) -> None:
    with pytest.raises(ValidationError, match="is no number"):
        DecimalField().clean(text)


def test_limits_of_a_measured_number_are_said() -> None:
    field = DecimalField(least=0, most=2, places=2, digits=4, required=False)
    assert field.clean("") is None
    for text in ("-0,1", "2,01", "0,123"):
        with pytest.raises(ValidationError):
            field.clean(text)


@given(st.decimals(min_value=-99_999, max_value=99_999, places=3, allow_nan=False))
def test_a_number_that_is_shown_is_read_again_as_the_same(number: Decimal) -> None:
    field = DecimalField()
    assert field.clean(str(field.prepare_value(number))) == number


@pytest.mark.parametrize("text", ["12400", "12 400", "12.400", "12,400", "12'400"])
def test_a_count_is_read_however_its_thousands_are_parted(text: str) -> None:
    assert WholeField().clean(text) == 12_400


def test_an_estimate_is_taken_where_it_may_be_one() -> None:
    assert WholeField(allows_estimate=True).clean("ca. 12400") == WrittenCount(
        value=12_400, is_estimated=True
    )
    with pytest.raises(ValidationError, match="exact number"):
        WholeField().clean("ca. 12400")


@pytest.mark.parametrize("text", ["-1", "1.5", "12 40", "abc", "9" * 30, "11"])
def test_what_is_no_count_of_the_right_size_is_said(text: str) -> None:
    with pytest.raises(ValidationError):
        WholeField(most=10).clean(text)


@pytest.mark.parametrize(
    ("zone", "text", "instant"),
    [
        (BERLIN, "2026-11-25T06:30", datetime(2026, 11, 25, 5, 30, tzinfo=UTC)),
        (BERLIN, "25.11.2026 06:30", datetime(2026, 11, 25, 5, 30, tzinfo=UTC)),
        (BERLIN, "2026-07-01 06:30", datetime(2026, 7, 1, 4, 30, tzinfo=UTC)),
        (CHICAGO, "2026-11-25T06:30", datetime(2026, 11, 25, 12, 30, tzinfo=UTC)),
        # clocks in Chicago go back on the first Sunday of November (15 U.S. Code 260a)
        (CHICAGO, "2026-11-01T01:30#first", datetime(2026, 11, 1, 6, 30, tzinfo=UTC)),
        (CHICAGO, "2026-11-01T01:30#second", datetime(2026, 11, 1, 7, 30, tzinfo=UTC)),
    ],
)
def test_a_time_is_of_the_plants_clocks(zone: ZoneInfo, text: str, instant: datetime) -> None:
    with timezone.override(zone):
        assert MomentField().clean(text) == instant


@pytest.mark.parametrize(
    "text", ["31:10", "2026-02-30T06:00", "0001-01-01T00:00", "9999-12-31T23:59", "noon", "\0"]
)
def test_what_is_no_time_is_said(text: str) -> None:
    with timezone.override(BERLIN), pytest.raises(ValidationError, match="is no date with a time"):
        MomentField().clean(text)


@given(
    st.datetimes(
        min_value=datetime(1990, 1, 1),  # noqa: DTZ001 - hypothesis takes bounds without a zone
        max_value=datetime(2100, 1, 1),  # noqa: DTZ001
        timezones=st.just(UTC),
    )
)
def test_an_instant_that_is_shown_is_read_again_as_the_same(instant: datetime) -> None:
    minute = instant.replace(second=0, microsecond=0)
    for zone in (BERLIN, CHICAGO):
        with timezone.override(zone):
            assert MomentField().clean(local_text(minute, zone=zone)) == minute


def test_a_date_of_a_year_that_nobody_means_is_said() -> None:
    with pytest.raises(ValidationError, match="Check the year"):
        DayField().clean("0202-11-25")
