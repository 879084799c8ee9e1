"""A shared tablet that nobody touches signs its last person off."""

from collections.abc import Callable
from typing import Any
from urllib.parse import urlencode

from django.contrib.auth import logout
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone

from moldcare.pages.access import page, plant_of

AT_TABLET = "at_tablet"
SEEN_S = "seen_s"
# how often the session is written to while somebody works [s]
WRITTEN_EVERY_S = 30

Responder = Callable[[HttpRequest], HttpResponse]


def begin_at_tablet(request: HttpRequest) -> None:
    """Note in a new session that it is one of a shared tablet."""
    request.session[AT_TABLET] = True
    request.session[SEEN_S] = _now_s()


def is_at_tablet(request: HttpRequest) -> bool:
    """Return whether somebody is signed in with badge and PIN."""
    return bool(request.session.get(AT_TABLET))


class IdleMiddleware:
    """Ends a shared tablet's session when nobody has touched it for as long as the plant says.

    The page does so by itself and keeps what was typed (idle.js); this is for a tablet that slept
    or runs no script. Only what a person did counts: opening a page, sending a form, and a page
    that says it is being typed into; what a page asks for by itself does not.
    """

    def __init__(self, get_response: Responder) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Sign off first where it is time; else note that somebody is here."""
        if is_at_tablet(request) and request.user.is_authenticated:
            away_s = _now_s() - int(request.session.get(SEEN_S, 0))
            if away_s > plant_of(request).idle_minutes * 60:
                return self._sign_off(request)
            if away_s >= WRITTEN_EVERY_S and _is_by_hand(request):
                request.session[SEEN_S] = _now_s()
        return self.get_response(request)

    def _sign_off(self, request: HttpRequest) -> HttpResponse:
        logout(request)
        is_page = request.method == "GET" and not request.headers.get("HX-Request")
        if is_page and request.headers.get("Sec-Fetch-Dest", "document") == "document":
            return redirect(sign_on_again(request.get_full_path()))
        return self.get_response(request)


def sign_on_again(path: str) -> str:
    """Return the address at which the last person signs on again and gets back to a page."""
    asked = urlencode({"next": path, "idle": "1"})
    return f"{reverse('sign-at-tablet')}?{asked}"


def _is_by_hand(request: HttpRequest) -> bool:
    destination = request.headers.get("Sec-Fetch-Dest", "document")
    return (
        destination == "document"
        or bool(request.headers.get("HX-Request"))
        or request.path == reverse("still-here")
    )


def _now_s() -> int:
    return int(timezone.now().timestamp())


@page()
def still_here(_request: HttpRequest) -> HttpResponse:
    """Answer a page that is being typed into, so that its session lasts."""
    return JsonResponse({"here": True})


def idle_context(request: HttpRequest) -> dict[str, Any]:
    """Return after how many minutes this page signs off by itself; nothing at a desk."""
    session = getattr(request, "session", None)
    if session is None or not getattr(request, "user", None) or not request.user.is_authenticated:
        return {}
    return {"idle_minutes": plant_of(request).idle_minutes} if is_at_tablet(request) else {}
