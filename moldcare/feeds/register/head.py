"""The head of a register or sheet: one row of headings or two, and what each column means."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from django.utils.translation import gettext as _

from moldcare.core.errors import TableRefused
from moldcare.feeds.register.by_content import mold_by_content, rest_by_content
from moldcare.feeds.register.intervals import Interval, read_interval
from moldcare.feeds.register.task_columns import OF_A_TASK, columns_by_task, speaks_of_next
from moldcare.feeds.register.units import is_unit_word
from moldcare.feeds.tables import Choice, Column, Matcher, Meaning, Question, Row, Vocabulary
from moldcare.feeds.tables.columns import answered_columns, column_names, rival_questions
from moldcare.feeds.tables.heading_row import heading_row, is_date
from moldcare.feeds.tables.headings import LOOSE_RANK, guess_meanings, guessed
from moldcare.feeds.tables.rows import cell
from moldcare.feeds.tables.text import clean, letter_of

#: A register or sheet has no more columns.
COLUMNS_AT_MOST: Final = 1000
#: What several columns may mean at once: all of them are read.
SEVERAL: Final = frozenset({Meaning.CIRCUITS, Meaning.RESIN, Meaning.NOTE})


@dataclass(frozen=True, kw_only=True, slots=True)
class Head:
    """Where the headings of a register or sheet are, and what its columns mean.

    `heading_row` is the last row of the heading, 0 where there is none; `heading_cells` how many
    cells it has.
    """

    heading_row: int
    columns: tuple[Column, ...]
    heading_cells: int
    questions: tuple[Question, ...] = ()

    def of(self, meaning: Meaning) -> Column | None:
        """Return the column with this meaning that is headed by no task."""
        return next(iter(self.all_of(meaning)), None)

    def all_of(self, meaning: Meaning) -> tuple[Column, ...]:
        """Return all columns with this meaning that are headed by no task."""
        return tuple(
            column
            for column in self.columns
            if column.meaning is meaning and column.task_text is None
        )


def head_of(
    sample: Sequence[Row],
    *,
    known: Vocabulary,
    needed: Mapping[Meaning, str],
    match: Matcher | None,
    answers: Mapping[str, str],
    remembered: Mapping[str, Meaning] | None,
) -> Head:
    """Find the headings of a table and what its columns mean, from its first rows.

    Parameters
    ----------
    sample : sequence of Row
        The first rows, a few hundred.
    known : Vocabulary
        Of the kind of table.
    needed : mapping of Meaning to str
        What no table of this kind can do without, with the question that asks for it.
    match, answers, remembered
        As of `read_molds`.

    Raises
    ------
    TableRefused
        When there is nothing in the table, more columns than any such table has, or an answer
        fits nothing.
    """
    filled = [row for row in sample if any(map(clean, row.cells))]
    if not filled:
        raise TableRefused(_("This table is empty."))
    width = max(_width(row) for row in filled)
    if width > COLUMNS_AT_MOST:
        raise TableRefused(
            _("This table has more than %(count)d columns: no register of molds has.")
            % {"count": COLUMNS_AT_MOST}
        )
    last, headings = _headings(
        filled, known=known, match=match, answers=answers, remembered=remembered
    )
    headings = [*headings, *[""] * width][:width]
    names = column_names(headings)
    answered = answered_columns(names, answers=answers, known=known)
    taken, rivals = guess_meanings(headings, answered=answered, remembered=remembered, known=known)
    for meaning in SEVERAL & rivals.keys():
        for place in rivals.pop(meaning):
            taken[place] = (meaning, guessed(headings[place], known=known).reason)
    for place, heading in enumerate(headings):
        if place in taken and place not in answered and speaks_of_next(heading):
            guess = guessed(heading, remembered=remembered, known=known).meanings
            if guess and guess[0][1] >= LOOSE_RANK:
                del taken[place]
    below = _below(filled, last)
    mold_by_content(taken, below=below, width=width, match=match)
    tasks: dict[int, str] = {}
    if Meaning.TASK in known.meanings and not _names_tasks(taken, headings=headings, known=known):
        tasks = columns_by_task(headings, taken=taken, answered=answered, below=below)
        if tasks:
            _leave_loose(taken, tasks=tasks, headings=headings, answered=answered, known=known)
        rivals = {
            meaning: places
            for meaning, places in rivals.items()
            if not any(place in tasks for place in places)
        }
    rest_by_content(taken, below=below, width=width, known=known, tasks=tasks)
    columns = tuple(
        Column(
            place=place,
            letter=letter_of(place),
            name=name,
            meaning=taken.get(place, (Meaning.REST, ""))[0],
            reason=taken.get(place, (Meaning.REST, ""))[1],
            task_text=tasks.get(place),
        )
        for place, name in enumerate(names)
    )
    questions = rival_questions(rivals, names=names, taken=taken, answers=answers)
    head = Head(
        heading_row=0 if last is None else last.number,
        columns=columns,
        heading_cells=0 if last is None else len(last.cells),
        questions=tuple(questions),
    )
    return _with_missing(head, needed=needed)


def understood(sample: Sequence[Row], *, known: Vocabulary) -> int:
    """Count the columns that are understood by the headings of a table; 0 without a mold's."""
    filled = [row for row in sample if any(map(clean, row.cells))]
    if not filled:
        return 0
    last, headings = _headings(filled, known=known, match=None, answers={}, remembered=None)
    if last is None:
        return 0
    taken, _rivals = guess_meanings(headings, known=known)
    if all(meaning is not Meaning.MOLD for meaning, _reason in taken.values()):
        return 0
    return _score(headings, known=known, remembered=None)


def is_heading_again(row: Row, *, head: Head) -> bool:
    """Tell a heading repeated further down, as printed lists have on every page."""
    places = [column.place for column in head.columns if column.meaning is not Meaning.REST][:2]
    return bool(places) and all(
        " ".join(cell(row, place=place).split()) == head.columns[place].name for place in places
    )


def _width(row: Row) -> int:
    return max((place + 1 for place, text in enumerate(row.cells) if clean(text)), default=0)


def _below(filled: Sequence[Row], last: Row | None) -> Sequence[Row]:
    return filled if last is None else filled[filled.index(last) + 1 :]


def _headings(
    filled: Sequence[Row],
    *,
    known: Vocabulary,
    match: Matcher | None,
    answers: Mapping[str, str],
    remembered: Mapping[str, Meaning] | None,
) -> tuple[Row | None, list[str]]:
    """Give the last row of the heading and its texts, from two rows where one is not enough."""
    row = heading_row(filled, match=match, remembered=remembered, answers=answers, known=known)
    if row is None:
        return None, []
    at = filled.index(row)
    single = _texts(row)
    best, best_last, best_score = single, row, _score(single, known=known, remembered=remembered)
    if Meaning.TASK in known.meanings and _has_task(single, known=known, remembered=remembered):
        return row, single
    pairs = [(at - 1, at)] if at else []
    if at + 1 < len(filled) and "heading" not in answers:
        if _is_row_of_units(filled[at + 1]) or _is_merged_with(filled[at + 1], above=row):
            return filled[at + 1], _combined(row, filled[at + 1])
        pairs.append((at, at + 1))
    for first, second in pairs:
        if filled[second].number != filled[first].number + 1:
            continue
        if not _may_head(filled[first]) or not _may_head(filled[second]):
            continue
        if any(
            isinstance(read_interval(text, signs=None), Interval) for text in filled[second].cells
        ):
            # "every 2 days" stands in no heading of two rows
            continue
        texts = _combined(filled[first], filled[second])
        score = _score(texts, known=known, remembered=remembered)
        if score > best_score:
            best, best_last, best_score = texts, filled[second], score
    return best_last, best


def _has_task(
    headings: Sequence[str], *, known: Vocabulary, remembered: Mapping[str, Meaning] | None
) -> bool:
    """Say whether one row of headings has both a column of molds and one of tasks."""
    taken, _rivals = guess_meanings(headings, remembered=remembered, known=known)
    found = {meaning for meaning, _reason in taken.values()}
    return Meaning.MOLD in found and _names_tasks(taken, headings=headings, known=known)


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


def _score(
    texts: Sequence[str], *, known: Vocabulary, remembered: Mapping[str, Meaning] | None
) -> int:
    """How many columns are understood by these headings, each column with a meaning of its own."""
    taken, _rivals = guess_meanings(texts, remembered=remembered, known=known)
    tasks: dict[int, str] = {}
    if Meaning.TASK in known.meanings and not _names_tasks(taken, headings=texts, known=known):
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


def _names_tasks(
    taken: Mapping[int, tuple[Meaning, str]], *, headings: Sequence[str], known: Vocabulary
) -> bool:
    """Say whether one column names the task of each row, and is not a task itself."""
    for place, (meaning, _reason) in taken.items():
        if meaning is Meaning.TASK:
            guess = guessed(headings[place], known=known).meanings
            return not guess or guess[0][1] < LOOSE_RANK
    return False


def _leave_loose(
    taken: dict[int, tuple[Meaning, str]],
    *,
    tasks: Mapping[int, str],
    headings: Sequence[str],
    answered: Mapping[int, Meaning],
    known: Vocabulary,
) -> None:
    """Leave a column that is neither a task's nor plainly for all of them, such as "Last run"."""
    for place, (meaning, _reason) in list(taken.items()):
        if meaning not in OF_A_TASK or place in tasks or place in answered:
            continue
        guess = guessed(headings[place], known=known).meanings
        if guess and guess[0][1] >= LOOSE_RANK:
            del taken[place]


def _with_missing(head: Head, *, needed: Mapping[Meaning, str]) -> Head:
    """Ask for what no column holds."""
    rest = [column for column in head.columns if column.meaning is Meaning.REST]
    choices = tuple(Choice(value=column.name, text=column.name) for column in rest)
    asked = {question.key for question in head.questions}
    missing = [
        Question(key=f"meaning:{meaning}", text=text, choices=choices)
        for meaning, text in needed.items()
        if head.of(meaning) is None and f"meaning:{meaning}" not in asked
        if not (meaning is Meaning.TASK and any(column.task_text for column in head.columns))
    ]
    return replace(head, questions=(*head.questions, *missing))
