"""Dates and counts in the plant's words, whoever prints."""

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from moldcare.core.units import Quantity, Units, shown, unit_of
from moldcare.paper import numbers
from moldcare.plant.models import Plant


@dataclass(frozen=True, kw_only=True, slots=True)
class Saying:
    """How one plant writes what is printed."""

    locale: str
    zone: ZoneInfo
    units: Units

    @classmethod
    def of(cls, plant: Plant) -> "Saying":
        """Return how a plant writes."""
        return cls(locale=plant.language, zone=ZoneInfo(plant.zone), units=Units(plant.units))

    def moment(self, instant: datetime) -> str:
        """Write an instant to the minute."""
        return numbers.moment_text(instant.astimezone(self.zone), locale=self.locale)

    def day_of(self, instant: datetime) -> str:
        """Write the day of an instant."""
        return self.day(instant.astimezone(self.zone).date())

    def day(self, on: date) -> str:
        """Write a date."""
        return numbers.date_text(on, locale=self.locale)

    def count(self, count: int, *, unit: str = "") -> str:
        """Write a whole number with its unit."""
        return numbers.quantity(count, unit=unit, locale=self.locale)

    def quantity(self, value: Decimal, *, unit: str) -> str:
        """Write a measured number without the zeros that its column adds."""
        plain = Decimal(format(value.normalize(), "f"))
        return numbers.quantity(plain, unit=unit, locale=self.locale)

    def measure(self, value: Decimal, *, quantity: Quantity) -> str:
        """Write a kept number in the plant's units."""
        number = shown(value, quantity=quantity, units=self.units)
        return self.quantity(number, unit=unit_of(quantity, units=self.units))

    def since(self, instant: datetime) -> str:
        """Write since when something holds."""
        return _("since %(when)s") % {"when": self.moment(instant)}
