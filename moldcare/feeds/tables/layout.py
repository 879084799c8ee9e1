"""How a table is laid out: where its heading is, what its columns mean, long or wide."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from django.utils.translation import gettext as _

from moldcare.core.errors import TableRefused
from moldcare.feeds.tables.columns import (
    Column,
    answered_columns,
    column_names,
    rival_questions,
)
from moldcare.feeds.tables.heading_row import HEADING_ROWS, heading_row, is_date
from moldcare.feeds.tables.headings import READINGS, guess_meanings, guessed
from moldcare.feeds.tables.matching import Match, Matcher
from moldcare.feeds.tables.meanings import Meaning
from moldcare.feeds.tables.questions import Choice, Question
from moldcare.feeds.tables.rows import Row, cell
from moldcare.feeds.tables.text import clean, letter_of


class Form(StrEnum):
    """One row a reading, or one column a mold."""

    LONG = "long"
    WIDE = "wide"


@dataclass(frozen=True, kw_only=True, slots=True)
class Layout:
    """How a table is laid out.

    Parameters
    ----------
    form : Form
        Long or wide.
    heading_row : int
        Its number; 0 where there is none and every row is data.
    columns : tuple of Column
        In order.
    heading_cells : int
        How many cells the heading has; 0 where there is none.
    questions : tuple of Question
        What the headings leave open.
    """

    form: Form
    heading_row: int
    columns: tuple[Column, ...]
    heading_cells: int = 0
    questions: tuple[Question, ...] = ()

    def place_of(self, meaning: Meaning) -> int | None:
        """Place of the column with this meaning, None where there is none."""
        for column in self.columns:
            if column.meaning is meaning and column.mold_text is None:
                return column.place
        return None

    @property
    def date_place(self) -> int | None:
        """Place of the column that names the day, alone or with the time."""
        place = self.place_of(Meaning.AT)
        return self.place_of(Meaning.DATE) if place is None else place

    @property
    def value_columns(self) -> tuple[Column, ...]:
        """The columns that hold readings: one in a long table, one a mold in a wide one."""
        return tuple(column for column in self.columns if column.meaning is Meaning.VALUE)


def table_layout(
    sample: Sequence[Row],
    *,
    match: Matcher | None = None,
    answers: Mapping[str, str] | None = None,
    remembered: Mapping[str, Meaning] | None = None,
) -> Layout:
    """Find how a table is laid out from its first rows.

    Parameters
    ----------
    sample : sequence of Row
        The first rows, a few hundred.
    match : callable or None
        Tells whether a text names a mold of ours.
    answers : mapping or None
        Answers by key: "heading", "form", "column:<name>", "meaning:<meaning>".
    remembered : mapping or None
        What headings meant in earlier files.

    Returns
    -------
    Layout

    Raises
    ------
    TableRefused
        When there is no row with text in it, or an answer names no column or meaning.
    """
    answers = answers or {}
    filled = [row for row in sample if any(clean(cell) for cell in row.cells)]
    if not filled:
        raise TableRefused(_("This table is empty."))
    heading = heading_row(filled, match=match, remembered=remembered, answers=answers)
    below = filled if heading is None else filled[filled.index(heading) + 1 :]
    width = max(len(row.cells) for row in filled)
    headings = [clean(cell) for cell in (heading.cells if heading else [])]
    headings += [""] * (width - len(headings))
    names = column_names(headings)
    answered = answered_columns(names, answers=answers, known=READINGS)
    taken, rivals = guess_meanings(headings, answered=answered, remembered=remembered)
    if heading is None:
        _guess_by_content(taken, below=below, width=width)
    questions = rival_questions(rivals, names=names, taken=taken, answers=answers)
    molds = _mold_columns(headings, heading=heading, taken=taken, match=match, below=below)
    form = _form(taken, molds=molds, answers=answers)
    columns = []
    for place, name in enumerate(names):
        meaning, reason = taken.get(place, (Meaning.REST, ""))
        mold_text = None
        if form is Form.WIDE and place in molds:
            meaning, mold_text = Meaning.VALUE, molds[place]
            reason = _("one column a mold")
        columns.append(
            Column(
                place=place,
                letter=letter_of(place),
                name=name,
                meaning=meaning,
                reason=reason,
                mold_text=mold_text,
            )
        )
    layout = Layout(
        form=form,
        heading_row=heading.number if heading else 0,
        columns=tuple(columns),
        heading_cells=len(heading.cells) if heading else 0,
        questions=tuple(questions),
    )
    return _with_missing(layout, answers=answers)


def _guess_by_content(
    taken: dict[int, tuple[Meaning, str]], *, below: Sequence[Row], width: int
) -> None:
    """Without headings only dates can be told by what they are."""
    for place in range(width):
        texts = [
            text
            for row in below[:HEADING_ROWS]
            if place < len(row.cells) and (text := clean(row.cells[place]))
        ]
        if texts and all(is_date(text) for text in texts) and place not in taken:
            taken[place] = (Meaning.AT, _("by the dates in it"))
            return


def _mold_columns(
    headings: Sequence[str],
    *,
    heading: Row | None,
    taken: Mapping[int, tuple[Meaning, str]],
    match: Matcher | None,
    below: Sequence[Row],
) -> dict[int, str]:
    """Columns headed by a mold, with its text: known ones, or any headed by a number of a name."""
    if heading is None:
        return {}
    found: dict[int, str] = {}
    for place, text in enumerate(headings):
        if place in taken or not text:
            continue
        mold_text = _shown_mold(text, match=match)
        is_ours = match is not None and match(mold_text) is not None
        looks_so = any(sign.isdigit() for sign in mold_text) and not is_date(text)
        if is_ours or (looks_so and _holds_numbers(place, below=below)):
            found[place] = mold_text
    return found


def _shown_mold(text: str, *, match: Matcher | None) -> str:
    """Take a heading such as "Mold 0417" for mold 0417, unless ours is called that."""
    if match is not None and isinstance(match(text), Match):
        return text
    first, _blank, rest = text.partition(" ")
    meanings = guessed(first).meanings
    if rest.strip() and meanings and meanings[0][0] is Meaning.MOLD:
        rest = rest.strip()
        word, _blank, behind = rest.partition(" ")
        is_filling = word.casefold().strip(".") in {"no", "nr", "number", "id", "n", "núm"}
        return behind.strip() if is_filling and behind.strip() else rest
    return text


def _holds_numbers(place: int, *, below: Sequence[Row]) -> bool:
    texts = [
        text
        for row in below[:HEADING_ROWS]
        if place < len(row.cells) and (text := clean(row.cells[place]))
    ]
    return bool(texts) and sum(text[0].isdigit() or text[0] in "~c" for text in texts) > (
        len(texts) // 2
    )


def _form(
    taken: Mapping[int, tuple[Meaning, str]],
    *,
    molds: Mapping[int, str],
    answers: Mapping[str, str],
) -> Form:
    if answers.get("form") in set(Form):
        return Form(answers["form"])
    meanings = {meaning for meaning, _reason in taken.values()}
    names_ours = meanings & {Meaning.MOLD, Meaning.COUNTER}
    if molds and Meaning.VALUE not in meanings and not names_ours:
        return Form.WIDE
    return Form.LONG


def _with_missing(layout: Layout, *, answers: Mapping[str, str]) -> Layout:
    """Ask for what no column holds."""
    questions = list(layout.questions)
    asked = {question.key for question in questions}
    rest = [column for column in layout.columns if column.meaning is Meaning.REST]
    choices = tuple(Choice(value=column.name, text=column.name) for column in rest)
    present = {column.meaning for column in layout.columns}
    if Meaning.VALUE not in present and "meaning:value" not in asked:
        questions.append(
            Question(
                key="meaning:value", text=_("Which column holds the readings?"), choices=choices
            )
        )
    subjects = {Meaning.MOLD, Meaning.COUNTER, Meaning.PRESS}
    if layout.form is Form.LONG and not present & subjects and "meaning:mold" not in asked:
        questions.append(
            Question(key="meaning:mold", text=_("Which column names the mold?"), choices=choices)
        )
    if not present & {Meaning.AT, Meaning.DATE} and "at_for_all" not in answers:
        questions.append(
            Question(
                key="meaning:at",
                text=_(
                    "No column says when the counters were read. Which one does, or when was it "
                    "for all rows?"
                ),
                choices=choices,
            )
        )
    return replace(layout, questions=tuple(questions))


def is_heading_again(row: Row, *, layout: Layout) -> bool:
    """Tell a heading repeated further down, as printed lists have on every page."""
    places = [column.place for column in layout.value_columns][:1]
    if layout.date_place is not None:
        places.append(layout.date_place)
    return bool(places) and all(
        " ".join(cell(row, place=place).split()) == layout.columns[place].name for place in places
    )
