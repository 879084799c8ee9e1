"""A handover as a page or paper shows it."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.utils.formats import date_format
from django.utils.timezone import localtime

from moldcare.acts.handover import HandoverLine, HandoverSection
from moldcare.core.shifts import ShiftCalendar
from moldcare.pages.handover.gathering import title_words
from moldcare.work.models import Handover

# a shift that began so lately is the one that takes over
LATELY = timedelta(hours=2)
LOOKED_BACK = timedelta(hours=14)


@dataclass(frozen=True, kw_only=True, slots=True)
class ShownSection:
    """A section with its heading."""

    key: str
    title: str
    lines: list[HandoverLine]


def shown_sections(sections: Iterable[HandoverSection]) -> list[ShownSection]:
    """Give sections their headings."""
    return [
        ShownSection(key=each.key, title=title_words(each.key), lines=each.lines)
        for each in sections
    ]


def sections_of(handover: Handover) -> list[ShownSection]:
    """Return what was signed, as it stood."""
    kept: list[dict[str, Any]] = handover.facts["sections"]
    return shown_sections(
        HandoverSection(key=each["key"], lines=[HandoverLine(**line) for line in each["lines"]])
        for each in kept
    )


def shifts_to_hand_over(*, now: datetime, calendar: ShiftCalendar) -> list[str]:
    """Return the names of the shifts that may be handed over, the likeliest first.

    A plant without shifts hands over the day.
    """
    shifts = [
        each for each in calendar.shifts_between(now - LOOKED_BACK, now) if each.starts_at <= now
    ]
    if not shifts:
        return [date_format(localtime(now), "Y-m-d")]
    newest_first = list(reversed(shifts[-2:]))
    began = newest_first[0]
    if len(newest_first) == 2 and began.ends_at > now and now - began.starts_at < LATELY:
        newest_first.reverse()
    return list(dict.fromkeys(each.name for each in newest_first))
