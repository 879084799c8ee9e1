"""Measured quantities in the units that the reader goes by: typed on forms, said on pages."""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from moldcare.core.units import Quantity, Units, kept, places_of, shown, unit_of
from moldcare.pages.fields import DecimalField
from moldcare.pages.words import measured_words

_units: ContextVar[Units] = ContextVar("units", default=Units.METRIC)


@contextmanager
def in_units(units: Units) -> Iterator[None]:
    """Let forms and pages go by these units."""
    token = _units.set(units)
    try:
        yield
    finally:
        _units.reset(token)


def measure_words(number: Decimal | int | None, *, quantity: Quantity) -> str:
    """Say a kept number in the reader's units; a dash where it is not known."""
    if number is None:
        return "–"
    units = _units.get()
    said = measured_words(shown(Decimal(number), quantity=quantity, units=units))
    return f"{said} {unit_of(quantity, units=units)}"


class MeasureField(DecimalField):
    """A measured number, typed in the reader's units; its value is as it is kept.

    `least` and `digits` are of the number that is kept. Typed as it was shown, the number that is
    `held` stays to the last digit.
    """

    def __init__(
        self,
        *,
        quantity: Quantity,
        held: Decimal | int | None = None,
        least: Decimal | int = 0,
        digits: int,
        **kwargs: Any,
    ) -> None:
        units = _units.get()
        places = places_of(quantity, units=units)
        super().__init__(unit=unit_of(quantity, units=units), places=places, **kwargs)
        self.kind = "decimal" if places else "whole"
        self.quantity, self.units, self.held = quantity, units, held
        self.least_kept = Decimal(least)
        self.most_kept = Decimal(10) ** (digits - places_of(quantity, units=Units.METRIC))

    def prepare_value(self, value: Any) -> Any:
        """Show a kept number in the reader's units."""
        if isinstance(value, int | Decimal):
            value = shown(Decimal(value), quantity=self.quantity, units=self.units)
        return super().prepare_value(value)

    def clean(self, value: Any) -> Any:
        """Return the number as it is kept, None where the field stays empty."""
        typed = super().clean(value)
        if typed is None:
            return None
        if self.held is not None and typed == self._shown(Decimal(self.held)):
            return self.held
        number = kept(typed, quantity=self.quantity, units=self.units)
        if number < self.least_kept:
            step = Decimal(1).scaleb(-self.places)
            least = max(self._shown(self.least_kept), step)
            raise ValidationError(
                _("It must be at least %(least)s.") % {"least": measured_words(least)}
            )
        if number >= self.most_kept:
            raise ValidationError(_("The number is too large."))
        return number if places_of(self.quantity, units=Units.METRIC) else int(number)

    def _shown(self, number: Decimal) -> Decimal:
        return shown(number, quantity=self.quantity, units=self.units)
