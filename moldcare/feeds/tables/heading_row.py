"""Where the heading of a table is, below its titles, and which rows are totals."""

from collections.abc import Mapping, Sequence
from typing import Final

from django.utils.translation import gettext as _

from moldcare.core.errors import TableRefused
from moldcare.feeds.tables.dates import moment_parts, written_date
from moldcare.feeds.tables.headings import READINGS, Vocabulary, guessed
from moldcare.feeds.tables.matching import Matcher
from moldcare.feeds.tables.meanings import Meaning
from moldcare.feeds.tables.rows import LONGEST_FACT, Row
from moldcare.feeds.tables.text import clean, words_of

_TOTALS: Final = frozenset(
    words_of(word)
    for word in [
        *("total", "totals", "grand total", "sum", "subtotal", "average", "mean"),
        *("summe", "gesamt", "gesamtsumme", "zwischensumme", "summen", "mittelwert"),
        *("suma", "totales", "total general", "promedio", "media"),
    ]
)


#: Rows from the top among which the heading is looked for.
HEADING_ROWS: Final = 40


def is_total(cells: Sequence[str], *, date_place: int | None) -> bool:
    """Tell a row of totals: its first filled cell, or the next, says so, and it has no date.

    Examples
    --------
    >>> is_total(["", "", "Summe:", "412,300"], date_place=0)
    True
    >>> is_total(["2026-04-13", "Total", "12400"], date_place=0)
    False
    """
    texts = [text for cell in cells if (text := clean(cell))][:2]
    if all(words_of(text) not in _TOTALS for text in texts):
        return False
    date_text = ""
    if date_place is not None and date_place < len(cells):
        date_text = clean(cells[date_place])
    return not date_text or words_of(date_text) in _TOTALS


def heading_row(
    filled: Sequence[Row],
    *,
    match: Matcher | None,
    remembered: Mapping[str, Meaning] | None,
    answers: Mapping[str, str],
    known: Vocabulary = READINGS,
) -> Row | None:
    """Row whose cells most look like headings; the first of equals; None where none does."""
    chosen = answers.get("heading")
    if chosen is not None:
        for row in filled:
            if str(row.number) == chosen:
                return row
        if chosen == "none":
            return None
        raise TableRefused(_("Row %(row)s is empty or not there.") % {"row": chosen})
    best, best_score = None, 0.0
    for place, row in enumerate(filled[:HEADING_ROWS]):
        score = _heading_score(
            row,
            below=filled[place + 1] if place + 1 < len(filled) else None,
            match=match,
            remembered=remembered,
            words=known,
        )
        if score > best_score:
            best, best_score = row, score
    return best


def _heading_score(
    row: Row,
    *,
    below: Row | None,
    match: Matcher | None,
    remembered: Mapping[str, Meaning] | None,
    words: Vocabulary,
) -> float:
    texts = {place: text for place, cell in enumerate(row.cells) if (text := clean(cell))}
    known = {
        meaning
        for text in texts.values()
        if not (words.is_loose and text[0].isdigit())
        for meaning, _rank in guessed(text, remembered=remembered, known=words).meanings[:1]
    }
    dates = sum(is_date(text) for text in texts.values())
    if dates:
        # "Date | 03.04.2026" above the table tells a fact and heads nothing.
        return 0.0
    ours = 0
    if match is not None and below is not None:
        ours = sum(
            match(text) is not None
            for place, text in texts.items()
            if place < len(below.cells) and match(clean(below.cells[place])) is None
        )
    numbers = sum(text[:1].isdigit() for text in texts.values())
    if not known and ours < 2:
        return 0.0
    if known and numbers and not ours and len(known) < 2 and len(texts) == 2:
        return 0.0
    return len(known) * 3 + min(ours, 3)


def is_date(text: str) -> bool:
    """Tell a date, with or without a time; bare digits are none here."""
    if not 6 <= len(text) <= LONGEST_FACT or text.isdigit():
        return False
    written = written_date(moment_parts(text)[0])
    return written is not None and written.serial is None
