"""The page of a press, bench or storage place."""

from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _

from moldcare.pages.access import answer, page
from moldcare.pages.spots.spot import spot_page
from moldcare.plant.models import Spot


@page()
def spot(request: HttpRequest, kind: str, spot_number: str) -> HttpResponse:
    """Show what is at a place now."""
    found = None
    if "\0" not in spot_number:
        found = Spot.objects.filter(kind=kind, number=spot_number).first()
    if found is None:
        raise Http404(
            _("There is no such press or place: %(number)s.") % {"number": spot_number[:60]}
        )
    now = timezone.now()
    context = {
        "page_title": str(found),
        "nav_here": "molds",
        "shown": spot_page(found, now=now),
        "now": now,
    }
    return answer(request, "spots/spot.html", context)
