"""What every page may name: the shift that is running, and whether a tablet will keep the page."""

from typing import Any

from django.http import HttpRequest
from django.utils import timezone

from moldcare.pages.access import calendar_of, is_pack


def shift_now(request: HttpRequest) -> dict[str, Any]:
    """Return the running shift for the top bar; nothing for strangers."""
    if is_pack(request):
        # kept for later, for whoever signs on then: it names no person and no shift
        return {"pack": True}
    if not getattr(request, "user", None) or not request.user.is_authenticated:
        return {}
    return {"shift_now": calendar_of(request).shift_at(timezone.now())}
