"""When a task was last done: a day, a count, or both in one cell."""

import re
from datetime import date
from typing import Final

from moldcare.feeds.register.intervals import UNITS
from moldcare.feeds.register.spans import written_span
from moldcare.feeds.tables.dates import moment_parts, seconds_of_day, written_date

_BETWEEN: Final = re.compile(
    r"\s*[()@;|\n]\s*|\s+/\s*|\s*/\s+|\s+(?:bei|at|a|con|am|on|el)\s+|\s+[-–]\s+|,\s+"
)
_LEAD: Final = re.compile(r"^(?:bei|at|am|on|el|a|ca\.?)\s+(?=[0-9])")


def last_parts(text: str) -> tuple[str, str]:
    """Part a text into the day and the count it names; either may be empty.

    Examples
    --------
    >>> last_parts("03.08.2026 / 184.000"), last_parts("184.000 Schuss (03.08.2026)")
    (('03.08.2026', '184.000'), ('03.08.2026', '184.000 Schuss'))
    >>> last_parts("3 March 2026"), last_parts("184000"), last_parts("soon")
    (('3 March 2026', ''), ('', '184000'), ('soon', ''))
    >>> last_parts("März 2026 (184.000)")
    ('März 2026', '184.000')
    """
    if not text or is_day(text):
        return text, ""
    if is_count(text):
        return "", text
    parts = [_LEAD.sub("", part.strip()) for part in _BETWEEN.split(text) if part.strip()]
    if len(parts) == 1:
        first, _blank, rest = text.partition(" ")
        begin, _blank, last = text.rpartition(" ")
        parts = [first, rest] if is_day(first) else [begin, last]
    days = [part for part in parts if is_day(part)]
    counts = [part for part in parts if part not in days and is_count(part)]
    if len(days) == 1 and len(counts) == 1 and len(parts) == 2:
        return days[0], counts[0]
    return text, ""


def is_day(text: str) -> bool:
    """Tell a day, with or without a time, or a month that names none.

    Five digits may be a spreadsheet's day number.
    """
    if written_span(text) is not None:
        return True
    date_text, time_text = moment_parts(text)
    written = written_date(date_text)
    if written is None or (time_text and seconds_of_day(time_text[:8].strip()) is None):
        return False
    return not (written.date == date.min and text.isdigit())


def is_count(text: str) -> bool:
    """Tell a count, with or without the word for it."""
    bare = text.casefold().lstrip("~≈ ").removeprefix("ca.").removeprefix("ca ").strip()
    found = re.fullmatch(r"[0-9][0-9.,'’\s]*\s*(?:k|tsd\.?|mio\.?|mil)?\s*([^\W\d]+)?\.?", bare)
    return found is not None and (
        not found[1] or UNITS.get(found[1]) in ("cycles", "shots") or found[1] in ("k", "tsd")
    )
