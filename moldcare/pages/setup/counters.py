"""All counters of the plant, with where they sit."""

from dataclasses import dataclass
from datetime import datetime

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _

from moldcare.acts.rights import Right, may
from moldcare.counters.models import Counter, CounterFitting
from moldcare.counters.queries import fittings_now, loose_counters, newest_instants
from moldcare.pages.access import answer, page, person_of

COUNTERS_A_PAGE = 100


@dataclass(frozen=True, kw_only=True, slots=True)
class CounterLine:
    """A counter, where it sits, and when it was read last."""

    counter: Counter
    fitting: CounterFitting | None
    read_at: datetime | None


@page()
def setup_counters(request: HttpRequest) -> HttpResponse:
    """List all counters: those that sit nowhere first."""
    fitted = fittings_now().order_by("press__number", "mold__sort_key", "id")
    loose = list(loose_counters().order_by("label"))
    rows: list[tuple[Counter, CounterFitting | None]] = [(counter, None) for counter in loose]
    rows += [(fitting.counter, fitting) for fitting in fitted]
    shown = Paginator(rows, COUNTERS_A_PAGE).get_page(request.GET.get("page"))
    read_at = newest_instants([counter.pk for counter, _fitting in shown])
    context = {
        "page_title": _("Counters"),
        "nav_here": "setup",
        "page": shown,
        "lines": [
            CounterLine(counter=counter, fitting=fitting, read_at=read_at.get(counter.pk))
            for counter, fitting in shown
        ],
        "loose": len(loose),
        "now": timezone.now(),
        "may_exchange": may(person_of(request), Right.EXCHANGE_COUNTERS),
    }
    return answer(request, "setup/counters.html", context)
