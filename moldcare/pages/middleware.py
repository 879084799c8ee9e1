"""What every answer carries, and the plant's zone and the person's language around every page."""

import zoneinfo
from collections.abc import Callable

from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.middleware.gzip import GZipMiddleware
from django.utils import timezone, translation

from moldcare.core.units import Units
from moldcare.pages.measures import in_units
from moldcare.pages.tablet.version import version_of
from moldcare.plant.queries import the_calendar, the_plant_with_shifts

CONTENT_POLICY = (
    "default-src 'self'; img-src 'self' data: blob:; object-src 'none'; base-uri 'none'; "
    "form-action 'self'; frame-ancestors 'none'"
)

PACK_HEADER = "X-Pack"

Responder = Callable[[HttpRequest], HttpResponse]


class ContentPolicyMiddleware:
    """Sends the strict content policy with every answer; keeps people's pages out of caches."""

    def __init__(self, get_response: Responder) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer with the policy's headers set."""
        # a page that a tablet keeps: whoever makes it leaves out who asks
        is_pack = request.method == "GET" and PACK_HEADER in request.headers
        request.is_pack = is_pack  # type: ignore[attr-defined]
        response = self.get_response(request)
        if is_pack:
            response.headers[PACK_HEADER] = version_of()
        response.headers.setdefault("Content-Security-Policy", CONTENT_POLICY)
        response.headers.setdefault(
            "Permissions-Policy", "camera=(self), geolocation=(), microphone=()"
        )
        if getattr(request, "user", None) is not None and request.user.is_authenticated:
            # back after signing off must not show the last person's page
            response.headers.setdefault("Cache-Control", "no-store")
        return response


class PlantMiddleware:
    """Activates the plant's zone, and the person's own language and units where chosen."""

    def __init__(self, get_response: Responder) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer in the plant's zone, and in the person's language and units."""
        plant = the_plant_with_shifts()
        request.plant = plant  # type: ignore[attr-defined]
        request.calendar = the_calendar(plant)  # type: ignore[attr-defined]
        language = getattr(request.user, "language", "") or ""
        units = Units(getattr(request.user, "units", "") or plant.units)
        with timezone.override(zoneinfo.ZoneInfo(plant.zone)), in_units(units):
            if language:
                with translation.override(language):
                    return self.get_response(request)
            return self.get_response(request)


class SmallPagesMiddleware(GZipMiddleware):
    """Sends pages compressed: a sheet with all its steps is a tenth then.

    Only pages: photos and files are compressed already. Django pads what it compresses by a random
    length, and masks the token of forms anew each time, so that neither is guessed by its size.
    """

    def process_response(
        self, request: HttpRequest, response: HttpResponseBase
    ) -> HttpResponseBase:
        """Compress what is HTML."""
        is_page = response.headers.get("Content-Type", "").startswith("text/html")
        return super().process_response(request, response) if is_page else response
