"""What every page may name: the shift that is running."""

from typing import Any

from django.http import HttpRequest
from django.utils import timezone

from moldcare.pages.access import calendar_of


def shift_now(request: HttpRequest) -> dict[str, Any]:
    """Return the running shift for the top bar; nothing for strangers."""
    if not getattr(request, "user", None) or not request.user.is_authenticated:
        return {}
    return {"shift_now": calendar_of(request).shift_at(timezone.now())}
