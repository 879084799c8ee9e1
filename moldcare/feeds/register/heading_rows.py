"""The heading of a register or sheet: one row of it, or two."""

from collections.abc import Mapping, Sequence

from moldcare.feeds.register.intervals import Interval, read_interval
from moldcare.feeds.register.task_columns import EVERY, columns_by_task
from moldcare.feeds.register.units import is_unit_word
from moldcare.feeds.tables import Matcher, Meaning, Row, Vocabulary, words_of
from moldcare.feeds.tables.heading_row import heading_row, is_date
from moldcare.feeds.tables.headings import LOOSE_RANK, guess_meanings, guessed
from moldcare.feeds.tables.numbers import Signs
from moldcare.feeds.tables.text import clean


def headings_of(
    filled: Sequence[Row],
    *,
    known: Vocabulary,
    match: Matcher | None,
    answers: Mapping[str, str],
    remembered: Mapping[str, Meaning] | None,
) -> tuple[Row | None, list[str]]:
    """Give the last row of the heading and its texts, from two rows where one is not enough.

    A row of units, a row into which cells of the heading reach down, and a row that names the
    interval of the task above each cell belong to the heading. Any other row does only where
    more columns are understood with it than without.
    """
    row = heading_row(filled, match=match, remembered=remembered, answers=answers, known=known)
    if row is None:
        return None, []
    at = filled.index(row)
    single = _texts(row)
    best, best_last, best_score = (
        single,
        row,
        understood_columns(single, known=known, remembered=remembered),
    )
    if Meaning.TASK in known.meanings and _has_task(single, known=known, remembered=remembered):
        return row, single
    pairs = [(at - 1, at)] if at else []
    if at + 1 < len(filled) and "heading" not in answers:
        if Meaning.TASK in known.meanings and _is_row_of_intervals(filled[at + 1], above=single):
            return filled[at + 1], _with_intervals(row, filled[at + 1])
        if _is_row_of_units(filled[at + 1]) or _is_merged_with(filled[at + 1], above=row):
            return filled[at + 1], _combined(row, filled[at + 1])
        pairs.append((at, at + 1))
    for first, second in pairs:
        if filled[second].number != filled[first].number + 1:
            continue
        if not _may_head(filled[first]) or not _may_head(filled[second]):
            continue
        texts = _combined(filled[first], filled[second])
        score = understood_columns(texts, known=known, remembered=remembered)
        if score > best_score:
            best, best_last, best_score = texts, filled[second], score
    return best_last, best


def _has_task(
    headings: Sequence[str], *, known: Vocabulary, remembered: Mapping[str, Meaning] | None
) -> bool:
    """Say whether one row of headings has both a column of molds and one of tasks."""
    taken, _rivals = guess_meanings(headings, remembered=remembered, known=known)
    found = {meaning for meaning, _reason in taken.values()}
    return Meaning.MOLD in found and names_tasks(taken, headings=headings, known=known)


def _texts(row: Row) -> list[str]:
    return [" ".join(clean(text).split()) for text in row.cells]


def _combined(first: Row, second: Row) -> list[str]:
    """Two rows of headings as one; what heads several columns stands over the first of them."""
    upper, lower = _texts(first), _texts(second)
    width = max(len(upper), len(lower))
    upper += [""] * (width - len(upper))
    lower += [""] * (width - len(lower))
    combined: list[str] = []
    over = ""
    for above, below in zip(upper, lower, strict=True):
        over = above or (over if below else "")
        combined.append(over if below in ("", over) else f"{over} {below}".strip())
    return combined


def _is_row_of_intervals(row: Row, *, above: Sequence[str]) -> bool:
    """Say whether a row below tasks names their intervals: "Interval" under the molds' heading."""
    texts = _texts(row)
    first = next((place for place, text in enumerate(texts) if text), None)
    if first is None or not set(words_of(texts[first]).split()) & EVERY:
        return False
    rest = [text for text in texts[first + 1 :] if text]
    return (
        bool(rest)
        and first < len(above)
        and all(isinstance(read_interval(text, signs=Signs.THOUSANDS), Interval) for text in rest)
    )


def _with_intervals(first: Row, second: Row) -> list[str]:
    """Headings with the interval below them in brackets; the first keeps its own text."""
    upper, lower = _texts(first), _texts(second)
    named = False
    combined = []
    for place, text in enumerate(upper):
        below = lower[place] if place < len(lower) else ""
        combined.append(f"{text} ({below})" if below and named else text)
        named = named or bool(below)
    return combined


def understood_columns(
    texts: Sequence[str], *, known: Vocabulary, remembered: Mapping[str, Meaning] | None
) -> int:
    """How many columns are understood by these headings, each column with a meaning of its own."""
    taken, _rivals = guess_meanings(texts, remembered=remembered, known=known)
    tasks: dict[int, str] = {}
    if Meaning.TASK in known.meanings and not names_tasks(taken, headings=texts, known=known):
        tasks = columns_by_task(texts, taken=taken, answered={}, below=())
        return len(taken) + len(set(tasks.items()))
    return len(taken)


def _may_head(row: Row) -> bool:
    """Say whether a row can be one of two rows of headings: no number, date or interval in it."""
    texts = [text for text in _texts(row) if text]
    return len(texts) > 1 and not any(
        text[0].isdigit() or is_date(text) or isinstance(read_interval(text, signs=None), Interval)
        for text in texts
    )


def _is_row_of_units(row: Row) -> bool:
    texts = [text for text in _texts(row) if text]
    return bool(texts) and all(is_unit_word(text) for text in texts)


def _is_merged_with(row: Row, *, above: Row) -> bool:
    """Say whether a cell of the heading above reaches down into this row."""
    return any(
        what.is_merged and place < len(above.cells) and clean(above.cells[place]) == text
        for place, what in (row.held or {}).items()
        if place < len(row.cells)
        and (text := clean(row.cells[place]))
        and not (place > 0 and place - 1 < len(row.cells) and clean(row.cells[place - 1]) == text)
    )


def names_tasks(
    taken: Mapping[int, tuple[Meaning, str]], *, headings: Sequence[str], known: Vocabulary
) -> bool:
    """Say whether one column names the task of each row, and is not a task itself."""
    for place, (meaning, _reason) in taken.items():
        if meaning is Meaning.TASK:
            guess = guessed(headings[place], known=known).meanings
            return not guess or guess[0][1] < LOOSE_RANK
    return False
