"""What people see when something went wrong: pages that stand alone and say what to do next."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """Say that the form was too old or came from elsewhere; nothing was written."""
    return render(request, "403.html", {"is_stale_form": True}, status=403)
