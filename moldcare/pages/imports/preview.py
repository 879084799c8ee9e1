"""What would become of a file: its columns, what is asked, a verdict a row."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from zoneinfo import ZoneInfo

from moldcare.acts.doing import Doing
from moldcare.feeds.bring_in import try_out
from moldcare.feeds.models import ImportBatch, Upload
from moldcare.feeds.queries import earlier_batch, matchers
from moldcare.feeds.reading_files import ReadingFile, open_reading_file
from moldcare.feeds.tables import READINGS, Choice, Column, Form, Question, RowVerdict, Verdict
from moldcare.feeds.uploads import content_of
from moldcare.pages.imports.words import verdict_lines

#: Larger files are judged as far as this; the rest when they are brought in.
ROWS_JUDGED = 5_000
#: Rows that are shown, of those that need a hand and of those that go in.
DOUBTFUL_SHOWN = 100
GOOD_SHOWN = 20
NAMES_SHOWN = 12

ANSWER = "answer:"
SHOWN = "shown:"
KEY_LENGTH = 160
ANSWERS_AT_MOST = 200

_NEEDS_A_HAND = frozenset(
    {
        Verdict.HELD,
        Verdict.REFUSED,
        Verdict.NOT_OURS,
        Verdict.NEEDS_ANSWER,
        Verdict.ESTIMATED,
    }
)


@dataclass(kw_only=True, slots=True)
class Judged:
    """The verdicts on a file's rows: how many of each, and the first of them."""

    counts: dict[Verdict, int] = field(default_factory=dict)
    doubtful: list[RowVerdict] = field(default_factory=list)
    good: list[RowVerdict] = field(default_factory=list)
    strange: dict[tuple[str, str], None] = field(default_factory=dict)

    def tell(self, row: RowVerdict) -> None:
        """Take in the verdict on a row."""
        self.counts[row.verdict] = self.counts.get(row.verdict, 0) + 1
        if row.verdict in _NEEDS_A_HAND:
            if len(self.doubtful) < DOUBTFUL_SHOWN:
                self.doubtful.append(row)
            if row.verdict is Verdict.NOT_OURS and len(self.strange) < NAMES_SHOWN:
                name = ("mold", row.mold) if row.mold else ("counter", row.counter)
                if name[1]:
                    self.strange[(name[0], name[1])] = None
        elif len(self.good) < GOOD_SHOWN:
            self.good.append(row)


@dataclass(frozen=True, kw_only=True, slots=True)
class AskedQuestion:
    """A question with the name of its field and the answer that is marked."""

    question: Question
    name: str
    shown_name: str
    chosen: str


@dataclass(frozen=True, kw_only=True, slots=True)
class AskedColumn:
    """A column with the name of its field and its possible meanings."""

    column: Column
    name: str
    shown_name: str
    choices: tuple[Choice, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Strange:
    """A name that is none of ours, with the name of its field."""

    text: str
    name: str
    kind: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Preview:
    """Everything that the page of a file shows."""

    file: ReadingFile
    judged: Judged
    columns: list[AskedColumn]
    questions: list[AskedQuestion]
    strange: list[Strange]
    earlier: ImportBatch | None

    @property
    def counts(self) -> list[tuple[str, int]]:
        """How many rows have which verdict, in words."""
        return verdict_lines({str(each): n for each, n in self.judged.counts.items()})

    @property
    def is_open(self) -> bool:
        """Whether a question must be answered before anything is brought in."""
        return bool(self.file.plan.open_questions)

    @property
    def rows_judged(self) -> int:
        """How many rows were judged for the preview."""
        return min(self.file.plan.rows_count, ROWS_JUDGED)

    @property
    def is_sample(self) -> bool:
        """Whether the file has more rows than were judged."""
        return self.file.plan.rows_count > ROWS_JUDGED

    @property
    def applied(self) -> int:
        """How many readings would be stored."""
        counts = self.judged.counts
        stored = counts.get(Verdict.ACCEPTED, 0) + counts.get(Verdict.HELD, 0)
        if self.file.takes_estimates:
            stored += counts.get(Verdict.ESTIMATED, 0)
        return stored

    @property
    def has_estimates(self) -> bool:
        """Whether the file calls values estimates."""
        return Verdict.ESTIMATED in self.judged.counts


def answers_in(data: Mapping[str, str]) -> dict[str, str]:
    """Return the answers that a form was sent with, by their keys.

    A choice that stands as it was shown is no answer: what the reader took by itself stays open to
    better knowledge.
    """
    found = {
        key.removeprefix(ANSWER): value.strip()[:KEY_LENGTH]
        for key, value in data.items()
        if key.startswith(ANSWER)
        and len(key) <= KEY_LENGTH + len(ANSWER)
        and "\0" not in value
        and data.get(f"{SHOWN}{key.removeprefix(ANSWER)}") != value
    }
    return dict(list(found.items())[:ANSWERS_AT_MOST])


def preview_of(
    doing: Doing, *, upload: Upload, answers: Mapping[str, str], zone: ZoneInfo
) -> Preview:
    """Open a file and judge its rows without storing any.

    Raises
    ------
    TableRefused
        When it is no table, contradicts itself, or an answer fits nothing.
    """
    judged = Judged()
    with content_of(upload) as stream:
        file = open_reading_file(stream, name=upload.name, zone=zone, answers=answers)
        try_out(doing, file=file, tell=judged.tell, at_most=ROWS_JUDGED)
    return Preview(
        file=file,
        judged=judged,
        columns=_columns(file),
        questions=[
            AskedQuestion(
                question=question,
                name=f"{ANSWER}{question.key}",
                shown_name=f"{SHOWN}{question.key}",
                chosen=answers.get(question.key, question.assumed or ""),
            )
            for question in file.plan.questions
        ],
        strange=_strange(judged),
        earlier=earlier_batch(file.sha256),
    )


def _columns(file: ReadingFile) -> list[AskedColumn]:
    wide = file.plan.form is Form.WIDE
    choices = tuple(Choice(value=each.value, text=each.words) for each in READINGS.meanings)
    return [
        AskedColumn(
            column=column,
            name=f"{ANSWER}column:{column.key}",
            shown_name=f"{SHOWN}column:{column.key}",
            choices=() if wide and column.mold_text is not None else choices,
        )
        for column in file.plan.columns
    ]


def _strange(judged: Judged) -> list[Strange]:
    """Return the names that are none of ours; a mold of ours that nothing counts is not asked."""
    if not judged.strange:
        return []
    ours = matchers()
    return [
        Strange(text=text, name=f"{ANSWER}is:{kind}:{text}", kind=kind)
        for kind, text in judged.strange
        if ours[kind](text) is None
    ]
