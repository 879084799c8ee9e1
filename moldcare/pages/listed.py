"""A text field that offers names."""

from collections.abc import Iterable
from typing import Any

from django import forms


class NameWithList(forms.TextInput):
    """A text field that offers the names that are known; any other may be typed."""

    template_name = "fields/listed.html"

    def __init__(self, names: Iterable[str] = ()) -> None:
        super().__init__()
        self.names = list(names)

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        """Add the names that are known."""
        context = super().get_context(name, value, attrs)
        own = context["widget"]["attrs"]
        own["list"] = f"{own.get('id', name)}_names"
        context["names"] = self.names
        return context
