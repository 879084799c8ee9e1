"""Editing records: what changed, from what to what, as the logbook keeps it."""

from collections.abc import Mapping
from typing import Any

from django.db import models
from django.utils import translation
from django.utils.translation import gettext as _

from moldcare.acts.doing import checked
from moldcare.acts.errors import DoesNotFit, Incomplete
from moldcare.acts.locks import save_once
from moldcare.acts.words import tidy


def fact_value(value: Any) -> Any:
    """Return a field's value as a fact: another record by its name, a text in one spelling."""
    if isinstance(value, models.Model):
        return str(value)
    return tidy(value) if isinstance(value, str) else value


def record_facts(row: models.Model, *, fields: tuple[str, ...]) -> dict[str, Any]:
    """Return the fields of a record that hold something, as facts."""
    values = {name: fact_value(getattr(row, name)) for name in fields}
    return {name: value for name, value in values.items() if value not in (None, "")}


def fill(row: models.Model, *, values: Mapping[str, Any], allowed: tuple[str, ...]) -> None:
    """Put values on a record; raise Incomplete for a field that is not edited this way."""
    for name, value in values.items():
        if name not in allowed:
            raise Incomplete(_("“%(field)s” is not edited here.") % {"field": name})
        setattr(row, name, tidy(value) if isinstance(value, str) else value)


def add_record(row: models.Model) -> None:
    """Check a new record and save it."""
    checked(row, exclude=_absent(row))
    save_once(row)


def change_record(
    row: models.Model, *, changes: Mapping[str, Any], allowed: tuple[str, ...]
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Change a locked record; return what differed, before and after.

    Raises
    ------
    DoesNotFit
        If nothing is different.
    Incomplete
        If a value cannot stand, or the field is not edited this way.
    """
    before = {name: getattr(row, name) for name in changes if name in allowed}
    fill(row, values=changes, allowed=allowed)
    checked(row, exclude=_absent(row))
    after = {name: getattr(row, name) for name in changes}
    different = [name for name in changes if before[name] != after[name]]
    if not different:
        raise DoesNotFit(_("Nothing is different from what is there; nothing was written."))
    save_once(row)
    return (
        {name: fact_value(before[name]) for name in different},
        {name: fact_value(after[name]) for name in different},
    )


def change_words(
    before: Mapping[str, Any],
    *,
    after: Mapping[str, Any],
    of: models.Model,
    called: Mapping[str, str] | None = None,
) -> str:
    """Return what changed as an entry says it: in the words of forms, in plain English.

    `called` holds better names for fields of the record, or names for what is none of its fields.
    """
    # entries are read in ten years, in whatever language screens have then
    with translation.override("en"):
        fields = {field.name: field for field in of._meta.fields}
        changed = []
        for name in after:
            field = fields.get(name)
            label = (called or {}).get(name) or (str(field.verbose_name) if field else name)
            was, now = (_shown(value, field=field) for value in (before[name], after[name]))
            changed.append(f"{label}: {was} → {now}")
        return "; ".join(changed)


def _shown(value: Any, *, field: "models.Field[Any, Any] | None") -> str:
    if value in (None, ""):
        return "-"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int):
        return f"{value:,}"
    choices = dict(field.flatchoices) if field is not None else {}
    return ", ".join(str(choices.get(value, value)).splitlines())


def checked_fact(row: models.Model) -> None:
    """Check the fields of a fact but not the rows it names: those the act read itself."""
    relations = (field.name for field in row._meta.fields if field.is_relation)
    checked(row, exclude=(*_absent(row), *relations))


def _absent(row: models.Model) -> tuple[str, ...]:
    """Return the fields that may be null and are, though no form may leave them out.

    Only those that the check would complain about: it skips a constraint whose field is excluded.
    """
    return tuple(
        field.name
        for field in row._meta.fields
        if field.null and not field.blank and field.editable and getattr(row, field.attname) is None
    )
