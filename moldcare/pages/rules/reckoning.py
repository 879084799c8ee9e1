"""Forms of rules that are sent to see what their limits come to, and not to be written."""

from django import forms
from django.http import HttpRequest

from moldcare.pages.seen import seen_of


def only_reckons(request: HttpRequest) -> bool:
    """Return whether a form was sent only to see what its limits come to."""
    return "reckon" in request.POST


def seen_or_kept(request: HttpRequest, form: forms.Form) -> str:
    """Return the mark of what the form began with; one that only reckons keeps its first one."""
    return request.POST.get("seen", "") if only_reckons(request) else seen_of(form)
