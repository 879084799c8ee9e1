"""What a check constraint says of a row, worked out here instead of by a query."""

import operator
from collections.abc import Callable
from typing import Any

from django.db import models

COMPARED: dict[str, Callable[[Any, Any], bool]] = {
    "exact": operator.eq,
    "gt": operator.gt,
    "gte": operator.ge,
    "lt": operator.lt,
    "lte": operator.le,
}


class NotWorkedOut(Exception):
    """The condition holds something that only the database can work out."""


def holds(condition: models.Q, row: models.Model) -> bool | None:
    """Return whether a condition holds for a row; None where SQL would say NULL.

    Raises
    ------
    NotWorkedOut
        If the condition holds anything but plain comparisons of a row's own fields.
    """
    answers = [_child(child, row) for child in condition.children]
    found: bool | None
    if condition.connector == models.Q.AND:
        found = False if False in answers else None if None in answers else True
    elif condition.connector == models.Q.OR:
        found = True if True in answers else None if None in answers else False
    else:
        raise NotWorkedOut(condition.connector)
    if condition.negated and found is not None:
        return not found
    return found


def _child(child: Any, row: models.Model) -> bool | None:
    if isinstance(child, models.Q):
        return holds(child, row)
    if not isinstance(child, tuple):
        raise NotWorkedOut(child)
    name, against = child
    field, _sign, lookup = name.partition("__")
    lookup = lookup or "exact"
    value = _value(field, row)
    if lookup == "isnull":
        return (value is None) == bool(against)
    if lookup == "in":
        return None if value is None else value in list(against)
    if lookup not in COMPARED:
        raise NotWorkedOut(lookup)
    if isinstance(against, models.F):
        against = _value(str(against.deconstruct()[1][0]), row)
    elif hasattr(against, "resolve_expression"):
        raise NotWorkedOut(against)
    if value is None or against is None:
        return None
    return COMPARED[lookup](value, against)


def _value(name: str, row: models.Model) -> Any:
    field = row._meta.get_field(name)
    if not isinstance(field, models.Field):
        raise NotWorkedOut(name)
    return field.to_python(getattr(row, field.attname))
