"""Words and texts that several acts share."""

import unicodedata
from collections.abc import Mapping
from datetime import datetime
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from moldcare.acts.errors import Incomplete
from moldcare.plant.models import Plant, Spot

# Entries are read in ten years, in whatever language screens have then: they are plain English.
_PLACE_WORDS: Mapping[str, str] = {
    Spot.Kind.PRESS: "press",
    Spot.Kind.BENCH: "bench",
    Spot.Kind.RACK: "rack",
    Spot.Kind.AWAY: "away at",
}


def place_words(spot: Spot) -> str:
    """Return a place as entries name it."""
    return f"{_PLACE_WORDS[spot.kind]} {spot.number}"


def place_fact(spot: Spot) -> dict[str, str | int]:
    """Return a place as it stands in the facts of an entry."""
    return {"id": spot.pk, "kind": spot.kind, "number": spot.number}


def tidy(text: str) -> str:
    """Return a text in composed form, without blanks around it, as it is stored and hashed."""
    if "\0" in text:
        raise Incomplete(_("The text holds a zero byte, which cannot be stored. Type it again."))
    return unicodedata.normalize("NFC", text).strip()


def reason_given(text: str) -> str:
    """Return a reason; raise Incomplete when there is none."""
    reason = tidy(text)
    if not reason:
        raise Incomplete(_("Give the reason: the logbook keeps it."))
    return reason


def local_words(at: datetime, *, plant: Plant) -> str:
    """Return an instant as clocks in the plant show it, for sentences.

    What is computed from an entry stands in its facts, to the microsecond and in UTC.
    """
    return f"{at.astimezone(ZoneInfo(plant.zone)):%Y-%m-%d %H:%M}"


def sentence_end(text: str) -> str:
    """Return a text that somebody typed with the full stop that ends a sentence."""
    return text if text.endswith((".", "!", "?")) else f"{text}."
