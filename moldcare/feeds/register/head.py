"""The head of a register or sheet: one row of headings or two, and what each column means."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from django.utils.translation import gettext as _

from moldcare.core.errors import TableRefused
from moldcare.feeds.register.bare_counts import settle_bare_counts
from moldcare.feeds.register.by_content import leave_other_sides, mold_by_content, rest_by_content
from moldcare.feeds.register.heading_rows import headings_of, names_tasks, understood_columns
from moldcare.feeds.register.task_columns import OF_A_TASK, columns_by_task, speaks_of_next
from moldcare.feeds.register.units import is_length_word
from moldcare.feeds.tables import Choice, Column, Matcher, Meaning, Question, Row, Vocabulary
from moldcare.feeds.tables.columns import answered_columns, column_names, rival_questions
from moldcare.feeds.tables.headings import LOOSE_RANK, guess_meanings, guessed
from moldcare.feeds.tables.rows import cell
from moldcare.feeds.tables.text import clean, letter_of, without_brackets, words_of

#: A register or sheet has no more columns.
COLUMNS_AT_MOST: Final = 1000
#: A row of more cells than this is no title.
TITLE_CELLS: Final = 2
#: What the one task is answered under that all rows of a sheet are about.
TASK_FOR_ALL: Final = "task_for_all"
#: What columns of circuits have beside their names.
MEASURES: Final = frozenset({Meaning.BORE, Meaning.LENGTH})
_SIZE_OF_A_MOLD: Final = frozenset(
    [
        *("width", "height", "thickness", "depth", "breite", "höhe", "dicke", "tiefe"),
        *("ancho", "alto", "altura", "espesor", "anchura"),
    ]
)
_OF_CIRCUITS: Final = frozenset(
    [
        *("cooling", "circuit", "circuits", "water", "channel", "kuhlung", "wasser", "kanal"),
        *("kreis", "kreise", "kuhlkreis", "kuhlkreise", "temperierkreis", "temperierkreise"),
        *("circuito", "circuitos", "refrigeracion", "canal", "agua"),
    ]
)
#: What several columns may mean at once: all of them are read.
SEVERAL: Final = frozenset({Meaning.CIRCUITS, Meaning.RESIN, Meaning.NOTE})


@dataclass(frozen=True, kw_only=True, slots=True)
class Head:
    """Where the headings of a register or sheet are, and what its columns mean.

    `heading_row` is the last row of the heading, 0 where there is none; `heading_cells` how many
    cells it has; `titles` what stands above it.
    """

    heading_row: int
    columns: tuple[Column, ...]
    heading_cells: int
    questions: tuple[Question, ...] = ()
    titles: tuple[str, ...] = ()

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
    last, headings = headings_of(
        filled, known=known, match=match, answers=answers, remembered=remembered
    )
    headings = [*headings, *[""] * width][:width]
    names = column_names(headings)
    answered = answered_columns(names, answers=answers, known=known)
    taken, rivals = guess_meanings(headings, answered=answered, remembered=remembered, known=known)
    for meaning in SEVERAL & rivals.keys():
        for place in rivals.pop(meaning):
            taken[place] = (meaning, guessed(headings[place], known=known).reason)
    told = answered | {
        place: remembered[words_of(heading)]
        for place, heading in enumerate(headings)
        if remembered and words_of(heading) in remembered
    }
    _leave_measures(taken, rivals, headings=headings, told=told, known=known)
    for place, heading in enumerate(headings):
        if place in taken and place not in answered and speaks_of_next(heading):
            guess = guessed(heading, remembered=remembered, known=known).meanings
            if guess and guess[0][1] >= LOOSE_RANK:
                del taken[place]
    below = _below(filled, last)
    mold_by_content(taken, below=below, width=width, match=match)
    leave_other_sides(taken, answered=answered, below=below)
    tasks: dict[int, str] = {}
    if Meaning.TASK in known.meanings and not names_tasks(taken, headings=headings, known=known):
        tasks = columns_by_task(headings, taken=taken, answered=answered, below=below)
        if tasks:
            _leave_loose(taken, tasks=tasks, headings=headings, answered=answered, known=known)
        rivals = {
            meaning: places
            for meaning, places in rivals.items()
            if not any(place in tasks for place in places)
        }
    rest_by_content(taken, below=below, width=width, known=known, tasks=tasks)
    bare = settle_bare_counts(taken, headings=headings, told=told, below=below, answers=answers)
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
        questions=(*questions, *([bare] if bare is not None else [])),
        titles=_titles(filled, last=last),
    )
    return _with_missing(head, needed=needed, answers=answers)


def understood(sample: Sequence[Row], *, known: Vocabulary) -> int:
    """Count the columns that are understood by the headings of a table; 0 without a mold's."""
    filled = [row for row in sample if any(map(clean, row.cells))]
    if not filled:
        return 0
    last, headings = headings_of(filled, known=known, match=None, answers={}, remembered=None)
    if last is None:
        return 0
    taken, _rivals = guess_meanings(headings, known=known)
    if all(meaning is not Meaning.MOLD for meaning, _reason in taken.values()):
        return 0
    return understood_columns(headings, known=known, remembered=None)


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


def _titles(filled: Sequence[Row], *, last: Row | None) -> tuple[str, ...]:
    """Give the texts above the heading; a row of more cells than two is no title."""
    titles: list[str] = []
    for row in filled[: filled.index(last)] if last is not None else ():
        texts = list(dict.fromkeys(text for each in row.cells if (text := clean(each))))
        titles += texts if len(texts) <= TITLE_CELLS else []
    return tuple(titles)


def _leave_measures(
    taken: dict[int, tuple[Meaning, str]],
    rivals: dict[Meaning, tuple[int, ...]],
    *,
    headings: Sequence[str],
    told: Mapping[int, Meaning],
    known: Vocabulary,
) -> None:
    """Leave bores and lengths that are not plainly those of circuits, such as a mold's length."""
    has_circuits = any(meaning is Meaning.CIRCUITS for meaning, _reason in taken.values())
    sizes = {word for heading in headings for word in heading.casefold().split()} & _SIZE_OF_A_MOLD
    for meaning in MEASURES:
        rivals.pop(meaning, None)
        for place, (one, _reason) in list(taken.items()):
            if one is meaning and place not in told:
                del taken[place]
        plain = [
            place
            for place, heading in enumerate(headings)
            if has_circuits
            and place not in taken
            and _is_measure(heading, meaning=meaning, known=known, has_sizes=bool(sizes))
        ]
        if plain and meaning not in told.values():
            reason = _("by its heading “%(heading)s”") % {"heading": headings[plain[0]]}
            taken[plain[0]] = (meaning, reason)
            if len(plain) > 1:
                rivals[meaning] = tuple(plain)


def _is_measure(heading: str, *, meaning: Meaning, known: Vocabulary, has_sizes: bool) -> bool:
    """Tell a heading that is a bore or length of circuits: with a unit, below their heading."""
    words = words_of(without_brackets(heading)).split()
    while len(words) > 1 and (is_length_word(words[-1]) or words[-1] == "in"):
        words.pop()
    is_said = words[0] in _OF_CIRCUITS if words else False
    while len(words) > 1 and words[0] in _OF_CIRCUITS:
        words.pop(0)
    if has_sizes and not is_said and " ".join(words) in {"length", "lange", "longitud"}:
        return False
    return any(one is meaning for one, _rank in known.by_words.get(" ".join(words), ()))


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


def _with_missing(head: Head, *, needed: Mapping[Meaning, str], answers: Mapping[str, str]) -> Head:
    """Ask for what no column holds; for a task that all rows are about, where no column is left."""
    has_tasks = any(column.task_text for column in head.columns)
    rest = [column for column in head.columns if column.meaning is Meaning.REST]
    choices = tuple(Choice(value=column.name, text=column.name) for column in rest)
    asked = {question.key for question in head.questions}
    missing = [
        Question(key=f"meaning:{meaning}", text=text, choices=choices)
        for meaning, text in needed.items()
        if head.of(meaning) is None and f"meaning:{meaning}" not in asked
        if not (meaning is Meaning.TASK and (has_tasks or answers.get(TASK_FOR_ALL)))
    ]
    if not choices:
        missing = [
            Question(key=TASK_FOR_ALL, text=_("No column names the task. Which task is it?"))
            if question.key == f"meaning:{Meaning.TASK}"
            else question
            for question in missing
        ]
    return replace(head, questions=(*head.questions, *missing))
