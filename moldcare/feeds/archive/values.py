"""How the values of each kind of column are written in an archive, and read back.

Instants in UTC to the microsecond, dates and times as ISO 8601, decimals with all their places,
numbers of rows as they are.
"""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from decimal import Decimal
from typing import Any, Final

from django.core.exceptions import ValidationError
from django.core.validators import DecimalValidator
from django.db import connection, models

_WHOLE: Final = re.compile(r"-?[0-9]{1,19}", re.ASCII)
_DECIMAL: Final = re.compile(r"-?[0-9]{1,40}(\.[0-9]{1,40})?", re.ASCII)
_BOOLEANS: Final = {"true": True, "false": False}


class WrongValue(Exception):
    """A value is none that its column can hold; the text says why."""


@dataclass(frozen=True, kw_only=True, slots=True)
class ValueForm:
    """How a column's values are written and read; empty values are none of its business.

    Parameters
    ----------
    write : callable
        From a value as the model gives it to text; None where JSON holds the value as it is.
    read : callable
        From text, or from JSON's own value, to what the database takes.
    is_text : bool
        Whether it holds what people wrote.
    """

    write: Callable[[Any], str] | None = None
    read: Callable[[Any], Any]
    is_text: bool = False


def form_of(field: models.Field[Any, Any]) -> ValueForm:
    """Return how a column's values are written and read.

    Raises
    ------
    TypeError
        For a kind of column that has no form yet: better no archive than one that lacks something.
    """
    target = field
    while isinstance(target, models.ForeignKey):
        target = target.target_field
    match target:
        case models.BooleanField():
            return ValueForm(read=_boolean)
        case models.IntegerField() | models.AutoField():
            low, high = connection.ops.integer_field_range(target.get_internal_type())
            return ValueForm(read=_whole_between(low, high=high))
        case models.JSONField():
            return ValueForm(read=lambda value: value)
        case models.CharField() | models.TextField():
            return ValueForm(write=str, read=_text_of(target.max_length), is_text=True)
        case models.DateTimeField():
            return ValueForm(write=_instant_text, read=_instant_reader())
        case models.DateField():
            return ValueForm(write=date.isoformat, read=_prepared(target, read=_date))
        case models.TimeField():
            return ValueForm(write=time.isoformat, read=_prepared(target, read=_time))
        case models.DecimalField():
            return ValueForm(
                write=_decimal_text(target.decimal_places),
                read=_prepared(target, read=_decimal_within(target)),
            )
        case models.UUIDField():
            return ValueForm(write=str, read=_prepared(target, read=_uuid))
        case _:
            raise TypeError(f"{field}: columns of the kind {type(field).__name__} have no form.")


def _boolean(value: Any) -> bool:
    if isinstance(value, bool):
        return value
    if value in _BOOLEANS and isinstance(value, str):
        return _BOOLEANS[value]
    raise WrongValue("is neither true nor false")


def _whole_between(low: int | None, *, high: int | None) -> Callable[[Any], int]:
    # where the database has no range of its own, it still holds no more than 64 bits
    least = -(2**63) if low is None else low
    most = 2**63 - 1 if high is None else high

    def read(value: Any) -> int:
        if isinstance(value, str) and _WHOLE.fullmatch(value):
            value = int(value)
        if not isinstance(value, int) or isinstance(value, bool):
            raise WrongValue("is no whole number")
        if not least <= value <= most:
            raise WrongValue("is beyond what the column holds")
        return value

    return read


def _text_of(longest: int | None) -> Callable[[Any], str]:
    def read(value: Any) -> str:
        if not isinstance(value, str):
            raise WrongValue("is no text")
        if longest is not None and len(value) > longest:
            raise WrongValue(f"has more than {longest} signs")
        if "\0" in value:
            raise WrongValue("holds a sign that no text holds")
        return value

    return read


def _instant_text(value: datetime) -> str:
    return value.astimezone(UTC).isoformat(timespec="microseconds").replace("+00:00", "Z")


def _instant_reader() -> Callable[[Any], Any]:
    # looked up once: a plant has millions of instants
    adapt = connection.ops.adapt_datetimefield_value

    def read(value: Any) -> Any:
        try:
            at = datetime.fromisoformat(value)
            if at.tzinfo is None:
                raise WrongValue("is an instant without an offset")
            return adapt(at.astimezone(UTC))
        except (TypeError, ValueError, OverflowError):
            raise WrongValue("is no instant") from None

    return read


def _date(text: str) -> date:
    return date.fromisoformat(text)


def _time(text: str) -> time:
    return time.fromisoformat(text)


def _uuid(text: str) -> uuid.UUID:
    return uuid.UUID(text)


def _decimal_text(places: int | None) -> Callable[[Any], str]:
    smallest = Decimal(1).scaleb(-(places or 0))
    return lambda value: format(Decimal(value).quantize(smallest), "f")


def _decimal_within(field: models.DecimalField[Any, Any]) -> Callable[[str], Decimal]:
    # SQLite itself would take any number of digits
    check = DecimalValidator(field.max_digits, field.decimal_places)

    def read(text: str) -> Decimal:
        if not _DECIMAL.fullmatch(text):
            raise ValueError(text)
        value = Decimal(text)
        check(value)
        return value

    return read


def _prepared(field: models.Field[Any, Any], *, read: Callable[[str], Any]) -> Callable[[Any], Any]:
    """Return a reader whose values are what the database takes."""

    def prepared(value: Any) -> Any:
        if not isinstance(value, str):
            raise WrongValue("is no text")
        try:
            return field.get_db_prep_save(read(value), connection=connection)
        except (ValueError, ArithmeticError, ValidationError):
            raise WrongValue(f"is no {field.get_internal_type().removesuffix('Field')}") from None

    return prepared
