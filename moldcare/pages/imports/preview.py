"""A file that was looked at, as its page shows it: what is asked, the columns, a verdict a row."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.core.paginator import Page, Paginator
from django.db.models import Count
from django.utils.translation import gettext as _

from moldcare.feeds.looks import AskedName, LookedAt, asked_of, is_outdated, row_of
from moldcare.feeds.models import ImportBatch, Upload, UploadLook, UploadRow
from moldcare.feeds.queries import earlier_batch
from moldcare.feeds.register.words import CARE, MOLDS
from moldcare.feeds.tables import READINGS, Choice, Column, Question, RowVerdict, Verdict
from moldcare.pages.imports.answers import ANSWER, SHOWN
from moldcare.pages.imports.words import verdict_lines

ROWS_A_PAGE = 50
ALL = "all"
_WRITTEN = (Verdict.ACCEPTED, Verdict.CHANGED, Verdict.HELD)
_VOCABULARIES = {
    ImportBatch.Kind.READINGS: READINGS,
    ImportBatch.Kind.MOLDS: MOLDS,
    ImportBatch.Kind.RULES: CARE,
}


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
class ShownRow:
    """A row with what may be chosen for it, where it differs from what is here."""

    row: RowVerdict
    name: str = ""
    shown_name: str = ""
    chosen: str = ""
    choices: tuple[Choice, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Filter:
    """Rows that may be shown alone: how they are called, and how many there are."""

    key: str
    words: str
    count: int
    is_here: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Preview:
    """Everything that the page of a file shows, as of when it was looked at."""

    look: UploadLook
    kind: str
    looked_at: LookedAt
    is_outdated: bool
    questions: list[AskedQuestion]
    tasks: list[AskedQuestion]
    strange: list[Strange]
    columns: list[AskedColumn]
    filters: list[Filter]
    page: "Page[UploadRow]"
    rows: list[ShownRow]
    differing: int
    takes_all: str
    earlier: ImportBatch | None

    @property
    def counts(self) -> list[tuple[str, int]]:
        """How many rows have which verdict, in words."""
        return verdict_lines(self.look.counts)

    @property
    def is_open(self) -> bool:
        """Whether a question must be answered before anything is brought in."""
        return self.looked_at.is_open

    @property
    def is_readings(self) -> bool:
        """Whether the rows are readings of counters."""
        return self.kind == ImportBatch.Kind.READINGS

    @property
    def has_tasks(self) -> bool:
        """Whether the rows are tasks of molds."""
        return self.kind == ImportBatch.Kind.RULES

    @property
    def changes_intervals(self) -> bool:
        """Whether rules that are here would get another interval: then it is asked why."""
        return self.has_tasks and Verdict.CHANGED.value in self.look.counts

    @property
    def is_sample(self) -> bool:
        """Whether the file has more rows than were judged."""
        return self.is_readings and self.looked_at.rows > self.looked_at.judged

    @property
    def applied(self) -> int:
        """How many rows would be written."""
        counts: Mapping[str, int] = self.look.counts
        written = sum(counts.get(each.value, 0) for each in _WRITTEN)
        if self.looked_at.takes_estimates:
            written += counts.get(Verdict.ESTIMATED.value, 0)
        return written

    @property
    def has_estimates(self) -> bool:
        """Whether the file calls values estimates."""
        return Verdict.ESTIMATED.value in self.look.counts


def preview_of(upload: Upload, *, asked_for: Mapping[str, str]) -> Preview | None:
    """Return what was found when a file was looked at; None where it was not, or in vain.

    `asked_for` says which rows are wanted: "show" names a filter, "page" a page of it.
    """
    look: UploadLook | None = getattr(upload, "look", None)
    if look is None or look.refused:
        return None
    looked_at = asked_of(look)
    answers = upload.answers
    needs = _counts_by_need(upload)
    filters = _filters(needs, wanted=asked_for.get("show", ""))
    here = next(each for each in filters if each.is_here)
    rows = UploadRow.objects.filter(upload=upload).order_by("place")
    if here.key != ALL:
        rows = rows.filter(needs=here.key)
    page = Paginator(rows, ROWS_A_PAGE).get_page(asked_for.get("page"))
    return Preview(
        look=look,
        kind=upload.kind,
        looked_at=looked_at,
        is_outdated=is_outdated(upload),
        questions=[_asked(each, answers=answers) for each in looked_at.questions],
        tasks=[
            _asked(
                Question(key=each.key, text=kind_question(each.task), choices=each.kinds),
                answers=answers,
            )
            for each in looked_at.tasks
        ],
        strange=[_strange(each) for each in looked_at.names],
        columns=_columns(looked_at, kind=upload.kind),
        filters=filters,
        page=page,
        rows=[_shown(row_of(row), answers=answers) for row in page.object_list],
        differing=needs.get(UploadRow.Needs.CHOICE.value, 0),
        takes_all=answers.get("changes", ""),
        earlier=earlier_batch(upload.sha256, kind=upload.kind),
    )


def kind_question(task: str) -> str:
    """Return how it is asked what kind of care a task is."""
    return _("What kind of care is “%(task)s”?") % {"task": task}


def with_leave(choices: Sequence[Choice]) -> tuple[Choice, ...]:
    """Return what may be chosen for a row that differs: to leave it first."""
    return (Choice(value="", text=_("Leave it as it is.")), *choices)


def _counts_by_need(upload: Upload) -> dict[str, int]:
    rows = UploadRow.objects.filter(upload=upload).values("needs")
    return dict(rows.annotate(number=Count("pk")).order_by().values_list("needs", "number"))


def _filters(needs: Mapping[str, int], *, wanted: str) -> list[Filter]:
    """Return the filters that have rows; the one that is wanted is here.

    Else all rows where they fit on one page, or what is most urgent.
    """
    hand, choice, good = (each.value for each in UploadRow.Needs)
    words = {
        ALL: _("all rows"),
        hand: _("need a hand"),
        choice: _("different from what is here"),
        good: _("good, or here already"),
    }
    counts = {ALL: sum(needs.values()), **needs}
    keys = [key for key in words if counts.get(key) or key == ALL]
    first = (ALL,) if counts[ALL] <= ROWS_A_PAGE else (hand, choice)
    urgent = next((key for key in first if key in keys), ALL)
    here = wanted if wanted in keys else urgent
    return [
        Filter(key=key, words=words[key], count=counts.get(key, 0), is_here=key == here)
        for key in keys
    ]


def _asked(question: Question, *, answers: Mapping[str, str]) -> AskedQuestion:
    return AskedQuestion(
        question=question,
        name=f"{ANSWER}{question.key}",
        shown_name=f"{SHOWN}{question.key}",
        chosen=answers.get(question.key, question.assumed or ""),
    )


def _strange(each: AskedName) -> Strange:
    return Strange(text=each.text, name=f"{ANSWER}is:{each.kind}:{each.text}", kind=each.kind)


def _columns(looked_at: LookedAt, *, kind: str) -> list[AskedColumn]:
    known = _VOCABULARIES[ImportBatch.Kind(kind)]
    choices = tuple(Choice(value=each.value, text=each.words) for each in known.meanings)
    return [
        AskedColumn(
            column=column,
            name=f"{ANSWER}column:{column.key}",
            shown_name=f"{SHOWN}column:{column.key}",
            choices=() if column.place in looked_at.fixed else choices,
        )
        for column in looked_at.columns
    ]


def _shown(row: RowVerdict, *, answers: Mapping[str, str]) -> ShownRow:
    if not row.choice_key or row.verdict is Verdict.NEEDS_ANSWER:
        return ShownRow(row=row)
    return ShownRow(
        row=row,
        name=f"{ANSWER}{row.choice_key}",
        shown_name=f"{SHOWN}{row.choice_key}",
        chosen=answers.get(row.choice_key, ""),
        choices=with_leave([Choice(value=each.value, text=each.text) for each in row.proposals]),
    )
