"""Lists that people type: numbers from one to another, and days with what they are."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from moldcare.core.errors import ListUnclear

#: How many numbers one list may hold.
MOST_NUMBERS = 500
#: How many days one line may name: a year's shutdown is a mistake.
MOST_DAYS_A_LINE = 100

_RANGE_WORD = re.compile(r"\s+(?:to|bis|a|…|–|—)\s+|\s*\.\.+\s*|\s*…\s*", re.IGNORECASE)
_PIECES = re.compile(r"[,;\n]+")
_TO_WORD = re.compile(r"^(?:(?:to|until|bis|hasta|al?)\s|[–—…]\s?)\s*", re.IGNORECASE)
_RUN_OF_DIGITS = re.compile(r"(\d+)", re.ASCII)
_ISO = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})\b[\s:,;.-]*", re.ASCII)
_DAY_FIRST = re.compile(r"(\d{1,2})\.\s?(\d{1,2})\.\s?(\d{4})\b[\s:,;.-]*", re.ASCII)


@dataclass(frozen=True, kw_only=True, slots=True)
class NamedDay:
    """A day and what it is, such as a holiday by its name."""

    on: date
    name: str


def numbers_in(text: str) -> list[str]:
    """Return the numbers that a list means, in its order.

    Parameters
    ----------
    text : str
        Numbers between commas, semicolons or line ends; "R1-01 to R1-40" means all between.

    Returns
    -------
    list of str
        Each number as it was written, or counted on with as many digits as the first one has.

    Raises
    ------
    ListUnclear
        A range runs backwards, its ends differ in more than one run of digits, or the list holds
        more than `MOST_NUMBERS`.

    Examples
    --------
    >>> numbers_in("R1-08 to R1-11, S3")
    ['R1-08', 'R1-09', 'R1-10', 'R1-11', 'S3']
    """
    found: list[str] = []
    for piece in _PIECES.split(text):
        written = " ".join(piece.split())
        if not written:
            continue
        ends = _RANGE_WORD.split(written)
        if len(ends) == 1:
            found.append(written)
        elif len(ends) == 2 and all(ends):
            found += _between(ends[0], last=ends[1])
        else:
            raise ListUnclear(f"“{written[:60]}” is no range. Write it like R1-01 to R1-40.")
        if len(found) > MOST_NUMBERS:
            raise ListUnclear(f"These are more than {MOST_NUMBERS}. Add them in parts.")
    return found


def _between(first: str, *, last: str) -> Iterator[str]:
    """Count from one number to another in the one run of digits in which they differ."""
    begun, ended = _RUN_OF_DIGITS.split(first), _RUN_OF_DIGITS.split(last)
    differing = [
        place for place, (old, new) in enumerate(zip(begun, ended, strict=False)) if old != new
    ]
    if len(begun) != len(ended) or len(differing) != 1 or differing[0] % 2 == 0:
        raise ListUnclear(
            f"From “{first[:40]}” to “{last[:40]}” cannot be counted: they must differ in one "
            "figure only."
        )
    place = differing[0]
    if max(len(begun[place]), len(ended[place])) > 9:
        raise ListUnclear(f"The figures of “{first[:40]}” are too long to be counted.")
    start, end = int(begun[place]), int(ended[place])
    if end < start:
        raise ListUnclear(f"From “{first[:40]}” to “{last[:40]}” runs backwards.")
    if end - start >= MOST_NUMBERS:
        raise ListUnclear(f"These are more than {MOST_NUMBERS}. Add them in parts.")
    digits = len(begun[place])
    for figure in range(start, end + 1):
        yield "".join([*begun[:place], f"{figure:0{digits}d}", *begun[place + 1 :]])


def days_in(text: str) -> list[NamedDay]:
    """Return the days that a list names, one a line, in its order.

    Parameters
    ----------
    text : str
        Lines of a date and what the day is: "2026-12-25 Christmas", "25.12.2026; Christmas"; or of
        a first and a last one: "2026-12-24 to 2027-01-02 shutdown".

    Returns
    -------
    list of NamedDay
        Empty lines are left out.

    Raises
    ------
    ListUnclear
        A line has no date at its beginning, or no name, or its days run backwards or are more than
        `MOST_DAYS_A_LINE`; it is named by its place.

    Notes
    -----
    Dates are written year first, or with points day first: 12/11/2026 could mean two days and is
    refused.

    Examples
    --------
    >>> days_in("2027-01-01 New Year")
    [NamedDay(on=datetime.date(2027, 1, 1), name='New Year')]
    >>> [day.on.day for day in days_in("2026-12-29 to 2026-12-31 shutdown")]
    [29, 30, 31]
    """
    found: list[NamedDay] = []
    for place, line in enumerate(text.splitlines(), start=1):
        written = " ".join(line.split())
        if not written:
            continue
        on, rest = _date_at_start(written)
        if on is None:
            raise ListUnclear(
                f"Line {place}: “{written[:40]}” does not begin with a date. Write it like "
                "2026-12-25 Christmas."
            )
        last, behind = _date_at_start(_TO_WORD.sub("", rest))
        if last is None:
            last, behind = on, rest
        if not behind:
            raise ListUnclear(f"Line {place}: say what {on} is, such as Christmas.")
        days = (last - on).days + 1
        if not 1 <= days <= MOST_DAYS_A_LINE:
            raise ListUnclear(
                f"Line {place}: from {on} to {last} are no days that can be listed. Give the first "
                f"day, then the last one, at most {MOST_DAYS_A_LINE} days."
            )
        found += [NamedDay(on=on + timedelta(days=day), name=behind) for day in range(days)]
    return found


def _date_at_start(written: str) -> tuple[date | None, str]:
    for form, order in ((_ISO, (1, 2, 3)), (_DAY_FIRST, (3, 2, 1))):
        match = form.match(written)
        if match is None:
            continue
        year, month, day = (int(match.group(part)) for part in order)
        try:
            return date(year, month, day), written[match.end() :].strip()
        except ValueError:
            return None, ""
    return None, ""
