"""What would become of a register or a maintenance sheet: columns, questions, a verdict a row."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing
from moldcare.feeds.models import ImportBatch, Upload
from moldcare.feeds.queries import earlier_batch, matchers
from moldcare.feeds.register.bring_in import try_out_register
from moldcare.feeds.register.words import CARE, MOLDS
from moldcare.feeds.register_files import RegisterFile, open_register_file
from moldcare.feeds.tables import Choice, Proposal, Question, RowVerdict, Verdict
from moldcare.feeds.uploads import content_of
from moldcare.pages.imports.preview import (
    ANSWER,
    DOUBTFUL_SHOWN,
    GOOD_SHOWN,
    NAMES_SHOWN,
    SHOWN,
    AskedColumn,
    AskedQuestion,
    Strange,
)
from moldcare.pages.imports.words import verdict_lines

_NEEDS_A_HAND = frozenset({Verdict.REFUSED, Verdict.NOT_OURS, Verdict.NEEDS_ANSWER})
_WRITTEN = (Verdict.ACCEPTED, Verdict.CHANGED)


@dataclass(frozen=True, kw_only=True, slots=True)
class Chosen:
    """A row that differs from what is here, with what may be chosen for it."""

    row: RowVerdict
    name: str
    shown_name: str
    chosen: str
    choices: tuple[Choice, ...]


@dataclass(kw_only=True, slots=True)
class JudgedRegister:
    """The verdicts on the rows of a register: how many of each, and the first of them."""

    counts: dict[Verdict, int] = field(default_factory=dict)
    doubtful: list[RowVerdict] = field(default_factory=list)
    differing: list[RowVerdict] = field(default_factory=list)
    good: list[RowVerdict] = field(default_factory=list)
    strange: dict[str, None] = field(default_factory=dict)
    unknown: dict[str, RowVerdict] = field(default_factory=dict)

    def tell(self, row: RowVerdict) -> None:
        """Take in the verdict on a row."""
        self.counts[row.verdict] = self.counts.get(row.verdict, 0) + 1
        if row.verdict in _NEEDS_A_HAND:
            _keep(self.doubtful, row, most=DOUBTFUL_SHOWN)
            if row.verdict is Verdict.NOT_OURS and row.mold and len(self.strange) < NAMES_SHOWN:
                self.strange[row.mold] = None
            is_asked = row.verdict is Verdict.NEEDS_ANSWER and bool(row.choice_key)
            if is_asked and len(self.unknown) < NAMES_SHOWN:
                self.unknown.setdefault(row.choice_key, row)
        elif row.choice_key:
            _keep(self.differing, row, most=DOUBTFUL_SHOWN)
        else:
            _keep(self.good, row, most=GOOD_SHOWN)


@dataclass(frozen=True, kw_only=True, slots=True)
class RegisterPreview:
    """Everything that the page of a register shows."""

    file: RegisterFile
    judged: JudgedRegister
    columns: list[AskedColumn]
    questions: list[AskedQuestion]
    strange: list[Strange]
    unknown: list[AskedQuestion]
    differing: list[Chosen]
    takes_all: str
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
    def has_tasks(self) -> bool:
        """Whether the rows are tasks of molds."""
        return self.file.kind == ImportBatch.Kind.RULES

    @property
    def rows(self) -> int:
        """How many rows were judged."""
        return sum(self.judged.counts.values())

    @property
    def applied(self) -> int:
        """How many rows would be written."""
        return sum(self.judged.counts.get(each, 0) for each in _WRITTEN)

    @property
    def not_shown(self) -> int:
        """How many rows that differ are not on the page."""
        differing = self.judged.counts.get(Verdict.DIFFERS, 0)
        shown = sum(each.row.verdict is Verdict.DIFFERS for each in self.differing)
        return differing - shown


def register_preview_of(
    doing: Doing, *, upload: Upload, answers: Mapping[str, str], zone: ZoneInfo
) -> RegisterPreview:
    """Open a register or sheet and judge its rows without writing anything.

    Raises
    ------
    TableRefused
        When it is no table, contradicts itself, or an answer fits nothing.
    """
    judged = JudgedRegister()
    with content_of(upload) as stream:
        file = open_register_file(
            stream, name=upload.name, kind=upload.kind, zone=zone, answers=answers
        )
        try_out_register(doing, file=file, tell=judged.tell)
    return RegisterPreview(
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
        strange=_strange(judged.strange),
        unknown=[asked_kind(row, answers=answers) for row in judged.unknown.values()],
        differing=[chosen_for(row, answers=answers) for row in judged.differing],
        takes_all=answers.get("changes", ""),
        earlier=earlier_batch(file.sha256, kind=upload.kind),
    )


def chosen_for(row: RowVerdict, *, answers: Mapping[str, str]) -> Chosen:
    """Return a row that differs with what may be chosen for it, to leave it first."""
    leave = Choice(value="", text=_("Leave it as it is."))
    return Chosen(
        row=row,
        name=f"{ANSWER}{row.choice_key}",
        shown_name=f"{SHOWN}{row.choice_key}",
        chosen=answers.get(row.choice_key, ""),
        choices=(leave, *as_choices(row.proposals)),
    )


def asked_kind(row: RowVerdict, *, answers: Mapping[str, str]) -> AskedQuestion:
    """Return the question of what kind of care a task is."""
    return AskedQuestion(
        question=Question(
            key=row.choice_key,
            text=_("What kind of care is “%(task)s”?") % {"task": row.task or ""},
            choices=as_choices(row.proposals),
        ),
        name=f"{ANSWER}{row.choice_key}",
        shown_name=f"{SHOWN}{row.choice_key}",
        chosen=answers.get(row.choice_key, ""),
    )


def as_choices(proposals: Iterable[Proposal]) -> tuple[Choice, ...]:
    """Return ways to mend a row as the choices of a question."""
    return tuple(Choice(value=each.value, text=each.text) for each in proposals)


def _columns(file: RegisterFile) -> list[AskedColumn]:
    known = MOLDS if file.kind == ImportBatch.Kind.MOLDS else CARE
    choices = tuple(Choice(value=each.value, text=each.words) for each in known.meanings)
    return [
        AskedColumn(
            column=column,
            name=f"{ANSWER}column:{column.key}",
            shown_name=f"{SHOWN}column:{column.key}",
            choices=choices,
        )
        for column in file.plan.columns
    ]


def _strange(names: Iterable[str]) -> list[Strange]:
    if not names:
        return []
    find = matchers()["mold"]
    return [
        Strange(text=text, name=f"{ANSWER}is:mold:{text}", kind="mold")
        for text in names
        if find(text) is None
    ]


def _keep(rows: list[RowVerdict], row: RowVerdict, *, most: int) -> None:
    if len(rows) < most:
        rows.append(row)
