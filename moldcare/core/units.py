"""What is kept in SI, shown and typed in the units that people go by."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum


class Units(StrEnum):
    """Systems of units."""

    METRIC = "metric"
    US = "us"


class Quantity(StrEnum):
    """What is measured of molds and presses."""

    MASS = "mass"
    FORCE = "force"
    BORE = "bore"
    LENGTH = "length"
    FLOW = "flow"
    TEMPERATURE_RISE = "temperature_rise"


@dataclass(frozen=True, kw_only=True, slots=True)
class _Measure:
    """How a quantity is kept, and how it is said in US units."""

    kept_unit: str
    kept_places: int
    us_unit: str
    us_places: int
    kept_per_us: Decimal


# Inch and pound are exact by the international yard and pound agreement of 1959; the US gallon is
# 231 cubic inches; a US ton of force is the weight of 2000 pounds at 9.80665 m/s2. A rise of
# temperature is a difference: 1.8 degrees Fahrenheit are one kelvin.
# Places in US units are so many that a typed number is the same again after it was rounded to be
# kept.
_MEASURES = {
    Quantity.MASS: _Measure(
        kept_unit="kg", kept_places=1, us_unit="lb", us_places=0, kept_per_us=Decimal("0.45359237")
    ),
    Quantity.FORCE: _Measure(
        kept_unit="kN",
        kept_places=0,
        us_unit="US tons",
        us_places=0,
        kept_per_us=Decimal("8.896443230521"),
    ),
    Quantity.BORE: _Measure(
        kept_unit="mm", kept_places=5, us_unit="in", us_places=4, kept_per_us=Decimal("25.4")
    ),
    Quantity.LENGTH: _Measure(
        kept_unit="mm", kept_places=3, us_unit="in", us_places=2, kept_per_us=Decimal("25.4")
    ),
    Quantity.FLOW: _Measure(
        kept_unit="l/min",
        kept_places=2,
        us_unit="US gpm",
        us_places=2,
        kept_per_us=Decimal("3.785411784"),
    ),
    Quantity.TEMPERATURE_RISE: _Measure(
        kept_unit="K", kept_places=2, us_unit="°F", us_places=1, kept_per_us=1 / Decimal("1.8")
    ),
}


def unit_of(quantity: Quantity, *, units: Units) -> str:
    """Return the unit in which a quantity is shown and typed.

    Parameters
    ----------
    quantity : Quantity
        What is measured.
    units : Units
        In which it is shown.

    Returns
    -------
    str
        As it is printed behind the number.

    Examples
    --------
    >>> unit_of(Quantity.FLOW, units=Units.METRIC), unit_of(Quantity.FLOW, units=Units.US)
    ('l/min', 'US gpm')
    """
    measure = _MEASURES[quantity]
    return measure.us_unit if units is Units.US else measure.kept_unit


def places_of(quantity: Quantity, *, units: Units) -> int:
    """Return how many decimals a quantity is shown and typed with.

    Parameters
    ----------
    quantity : Quantity
        What is measured.
    units : Units
        In which it is shown.

    Returns
    -------
    int
        At most so many; zeros that say nothing are left out.
    """
    measure = _MEASURES[quantity]
    return measure.us_places if units is Units.US else measure.kept_places


def shown(number: Decimal, *, quantity: Quantity, units: Units) -> Decimal:
    """Return a kept number as it is shown.

    Parameters
    ----------
    number : Decimal
        In kg, kN, mm, l/min or K.
    quantity : Quantity
        What it measures.
    units : Units
        In which it is shown.

    Returns
    -------
    Decimal
        As it is kept, or in US units rounded to their places.

    Examples
    --------
    >>> shown(Decimal("3"), quantity=Quantity.TEMPERATURE_RISE, units=Units.US)
    Decimal('5.4')
    """
    if units is Units.METRIC:
        return number
    measure = _MEASURES[quantity]
    return _rounded(number / measure.kept_per_us, places=measure.us_places)


def kept(number: Decimal, *, quantity: Quantity, units: Units) -> Decimal:
    """Return a typed number as it is kept.

    Parameters
    ----------
    number : Decimal
        In the unit that `unit_of` gives.
    quantity : Quantity
        What it measures.
    units : Units
        In which it was typed.

    Returns
    -------
    Decimal
        In kg, kN, mm, l/min or K, rounded to the places of its column; `shown` gives the typed
        number again.

    Examples
    --------
    >>> kept(Decimal("0.75"), quantity=Quantity.BORE, units=Units.US)
    Decimal('19.05000')
    """
    if units is Units.METRIC:
        return number
    measure = _MEASURES[quantity]
    return _rounded(number * measure.kept_per_us, places=measure.kept_places)


def _rounded(number: Decimal, *, places: int) -> Decimal:
    return number.quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP)
