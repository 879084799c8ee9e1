"""What a register can say of a mold: fields of its record, and what stands beside them."""

from collections.abc import Mapping
from dataclasses import fields
from typing import Any

from django.utils.translation import gettext_lazy as _

from moldcare.acts.molds.identity import MOLD_FIELDS
from moldcare.acts.moving_in.values import FileMold
from moldcare.molds.models import Mold

#: Fields that are taken over as they stand in a row.
PLAIN_FIELDS = tuple(
    each.name
    for each in fields(FileMold)
    if each.name in MOLD_FIELDS and each.name not in {"number", "owner", "opening_at"}
)
#: Fields of a mold's record that a register can change.
CHANGED_FIELDS = (*PLAIN_FIELDS, "owner", "opening_at", "opening_source")
#: What the life count begins with: to change it is a correction of the count.
OPENING_FIELDS = frozenset({"opening_count", "opening_at", "opening_source"})
# names of what is no field of a mold
_BESIDE = {
    "cycle_time_s": _("standard cycle in s"),
    "circuits": _("circuits"),
    "storage_place": _("storage place"),
}
#: Names in entries, which are plain English, of what is no field or reads better so.
CALLED = {
    "cycle_time_s": "standard cycle in s",
    "circuits": "circuits",
    "storage_place": "place",
    "opening_count": "cycles before our records",
}


def field_label(name: str) -> str:
    """Return what a person calls a field."""
    if name in _BESIDE:
        return str(_BESIDE[name])
    fields_of_mold: Mapping[str, Any] = {field.name: field for field in Mold._meta.fields}
    return str(fields_of_mold[name].verbose_name) if name in fields_of_mold else name
