from decimal import Decimal

import pytest

from moldcare.work.numbers import NoNumber, is_within, limits_text, number_from_text


@pytest.mark.parametrize(
    ("text", "language", "number"),
    [
        ("4.25", "en", "4.25"),
        ("4,25", "en", "4.25"),
        ("4,25", "de", "4.25"),
        ("4.25", "de", "4.25"),
        ("-0,015", "en", "-0.015"),
        ("0.015", "de", "0.015"),
        (".5", "en", "0.5"),
        ("12400", "en", "12400"),
        ("12 400", "de", "12400"),
        ("12\u202f400,5", "de", "12400.5"),
        ("12'400", "de", "12400"),
        ("12,400.5", "de", "12400.5"),
        ("12.400,5", "en", "12400.5"),
        ("1,234,567", "en", "1234567"),
        ("12,400", "de", "12.4"),
        ("12.400", "en", "12.4"),
        ("\u22123,5", "de", "-3.5"),
        (" 7 ", "en", "7"),
    ],
)
def test_comma_and_point_both_part_decimals(text: str, language: str, number: str) -> None:
    assert number_from_text(text, language=language) == Decimal(number)


@pytest.mark.parametrize(
    ("text", "language"),
    [
        ("12,400", "en"),
        ("12.400", "de"),
        ("", "en"),
        ("a lot", "en"),
        ("1.2.3", "en"),
        ("1,2.3,4", "en"),
        ("1.217.40", "en"),
        ("1e3", "en"),
        ("NaN", "en"),
        ("Infinity", "en"),
        ("0.1234567", "en"),
        ("1234567890123", "en"),
        ("٤٫٢", "en"),
        ("1 2", "en"),
    ],
)
def test_what_is_no_number_or_could_be_two_is_refused(text: str, language: str) -> None:
    with pytest.raises(NoNumber):
        number_from_text(text, language=language)


def test_a_limit_belongs_to_what_it_allows() -> None:
    low, high = Decimal("0.012"), Decimal("0.020")
    assert is_within(Decimal("0.0120"), low=low, high=high) is True
    assert is_within(Decimal("0.020"), low=low, high=high) is True
    assert is_within(Decimal("0.0119"), low=low, high=None) is False
    assert is_within(Decimal("0.021"), low=None, high=high) is False
    assert is_within(Decimal(1), low=None, high=None) is None


def test_limits_are_said_in_words() -> None:
    assert limits_text(low=Decimal("0.0120"), high=Decimal("0.02"), unit="mm") == "0.012 to 0.02 mm"
    assert limits_text(low=Decimal(5), high=None) == "at least 5"
    assert limits_text(low=None, high=Decimal(100), unit="K") == "at most 100 K"
