"""What every page may name: the shift that is running."""

from typing import Any

from django.http import HttpRequest


def shift_now(request: HttpRequest) -> dict[str, Any]:
    """Return the running shift for the top bar; nothing for strangers."""
    return {}
