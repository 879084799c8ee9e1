"""Units against published factors, and numbers that are the same again after they were kept."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from moldcare.core.units import Quantity, Units, kept, places_of, shown, unit_of

# NIST Special Publication 811 (2008), appendix B.8: factors to the SI, seven digits
NIST_811 = {
    Quantity.MASS: Decimal("4.535924E-01"),  # pound (avoirdupois) to kilogram
    Quantity.FORCE: Decimal("8.896443E+00"),  # ton-force (2000 lbf) to kilonewton
    Quantity.BORE: Decimal("2.54E+01"),  # inch to millimeter
    Quantity.LENGTH: Decimal("2.54E+01"),
    Quantity.FLOW: Decimal("3.785412E+00"),  # gallon (US) per minute to liter per minute
    Quantity.TEMPERATURE_RISE: Decimal("5.555556E-01"),  # degree Fahrenheit to kelvin, differences
}
# no column holds more than six digits before its point
LARGEST = dict.fromkeys(Quantity, 9999999) | {Quantity.BORE: 3_999}


@pytest.mark.parametrize("quantity", Quantity)
def test_factors_are_the_published_ones(quantity: Quantity) -> None:
    typed = Decimal(1_000_000)
    found = kept(typed, quantity=quantity, units=Units.US) / typed
    assert abs(found / NIST_811[quantity] - 1) < Decimal("2E-7")


@pytest.mark.parametrize("quantity", Quantity)
@given(data=st.data())
def test_what_was_typed_is_shown_again(quantity: Quantity, data: st.DataObject) -> None:
    places = places_of(quantity, units=Units.US)
    typed = data.draw(st.decimals(min_value=0, max_value=LARGEST[quantity], places=places))
    once = kept(typed, quantity=quantity, units=Units.US)
    assert shown(once, quantity=quantity, units=Units.US) == typed
    # and saved again and again it stays where it is
    assert kept(typed, quantity=quantity, units=Units.US) == once


@pytest.mark.parametrize("quantity", Quantity)
def test_metric_numbers_are_left_as_they_are(quantity: Quantity) -> None:
    number = Decimal("12.345")
    assert shown(number, quantity=quantity, units=Units.METRIC) == number
    assert kept(number, quantity=quantity, units=Units.METRIC) == number


@pytest.mark.parametrize(
    ("quantity", "metric", "us"),
    [
        # a rise of 3 K is one of 5.4 °F, never 37.4
        (Quantity.TEMPERATURE_RISE, "3", "5.4"),
        (Quantity.FLOW, "7.57", "2.00"),
        (Quantity.BORE, "19.05", "0.750"),
        (Quantity.FORCE, "3914", "440"),
    ],
)
def test_worked_examples(quantity: Quantity, metric: str, us: str) -> None:
    assert shown(Decimal(metric), quantity=quantity, units=Units.US) == Decimal(us)


def test_a_us_unit_says_whose_it_is_where_there_are_others() -> None:
    # the imperial gallon holds 4.546 l, the long ton is 2240 pounds
    for quantity in (Quantity.FLOW, Quantity.FORCE):
        assert unit_of(quantity, units=Units.US).startswith("US ")
