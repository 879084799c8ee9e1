"""The base of every table in the admin: managers look, nobody writes there."""

from typing import TYPE_CHECKING, Any

from django.contrib import admin
from django.db import models
from django.http import HttpRequest

if TYPE_CHECKING:
    Base = admin.ModelAdmin[models.Model]
else:
    # the class takes no type argument at run time
    Base = admin.ModelAdmin


class ReadOnlyAdmin(Base):
    """A table that can be looked at; what is written is written by acts."""

    actions = None
    show_full_result_count = False
    list_per_page = 50

    def has_add_permission(self, request: HttpRequest) -> bool:
        """Nobody adds rows here."""
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        """Nobody changes rows here."""
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        """Nobody deletes rows here."""
        return False


SECRETS = ("password", "pin_hash", "token_hash", "body_hash", "private_encrypted")


def look_at(*tables: type[models.Model]) -> None:
    """Put tables into the admin, read-only, with the columns that are no long texts."""
    for table in tables:
        columns = [
            field.name
            for field in table._meta.fields
            if not isinstance(field, models.TextField | models.JSONField)
            and field.name not in SECRETS
        ]
        relations = [name for name in columns if table._meta.get_field(name).is_relation]
        attributes = {
            "list_display": columns[:8],
            "list_select_related": [name for name in relations if name in columns[:8]],
            "exclude": [
                name for name in SECRETS if name in {field.name for field in table._meta.fields}
            ],
        }
        admin.site.register(table, type(f"{table.__name__}Admin", (ReadOnlyAdmin,), attributes))
