"""What stands above every form about a mold: which one, where it is, what is missing."""

from datetime import datetime
from typing import Any

from moldcare.molds.models import Mold, RunEvent, sort_key
from moldcare.molds.queries import parts_out_of, place_of, set_events_now
from moldcare.pages.molds.words import since_words


def head_of(mold: Mold, *, title: str, now: datetime) -> dict[str, Any]:
    """Return the context of the head: three queries."""
    place = place_of(mold)
    spot, since = (place.spot, place.at) if place else (None, None)
    return {
        "page_title": title,
        "nav_here": "molds",
        "title": title,
        "mold": mold,
        "now": now,
        "spot": spot,
        "parts_out": parts_out_of(mold),
        "lead": since_words(spot, since=since, now=now),
    }


def running_molds() -> list[RunEvent]:
    """Return the molds in the presses, press by press as people walk: 9 before 10."""
    return sorted(set_events_now(), key=lambda event: (sort_key(event.press.number), event.pk))
