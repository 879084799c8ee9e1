"""Looking at a file before it is brought in: every row is judged once, and the verdicts are kept.

What is kept is derived: it is thrown away with the upload, and made anew by looking again.
"""

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, field
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction
from django.utils.dateparse import parse_datetime
from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing
from moldcare.acts.errors import NotFound
from moldcare.acts.rights import Right, require
from moldcare.bulk import insert_values
from moldcare.core.errors import TableRefused
from moldcare.feeds.bring_in import try_out
from moldcare.feeds.models import ImportBatch, Upload, UploadLook, UploadRow, UploadRowNeeds
from moldcare.feeds.queries import matchers
from moldcare.feeds.reading_files import open_reading_file
from moldcare.feeds.register.bring_in import try_out_register
from moldcare.feeds.register_files import REASON, open_register_file
from moldcare.feeds.tables import (
    Choice,
    Column,
    Form,
    Meaning,
    Proposal,
    Question,
    RowVerdict,
    Verdict,
    verdicts_hash,
)
from moldcare.feeds.uploads import content_of, forget_look

#: Larger files of readings are judged as far as this; the rest when they are brought in.
READINGS_JUDGED = 5_000
#: So many names that are none of ours, and tasks of no known kind, are asked about.
NAMES_ASKED = 12

_NEEDS_A_HAND = frozenset(
    {
        Verdict.HELD,
        Verdict.REFUSED,
        Verdict.NOT_OURS,
        Verdict.NEEDS_ANSWER,
        Verdict.ESTIMATED,
    }
)


@dataclass(frozen=True, kw_only=True, slots=True)
class AskedName:
    """A name that is none of ours, of a mold or a counter."""

    kind: str
    text: str


@dataclass(frozen=True, kw_only=True, slots=True)
class AskedTask:
    """A task of which nothing tells what kind of care it is, with what it is answered under."""

    key: str
    task: str
    kinds: tuple[Choice, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class LookedAt:
    """What a file leaves open, and how its columns are read.

    Parameters
    ----------
    rows, judged : int
        Rows with something in them, and those of them that were judged.
    columns : tuple of Column
        With those whose meaning is settled by the form of the table: `fixed`, by place.
    answers : mapping
        What was answered when it was looked at.
    takes_estimates : bool
        Whether values that the file calls estimates are taken.
    """

    rows: int
    judged: int
    columns: tuple[Column, ...]
    fixed: frozenset[int]
    questions: tuple[Question, ...]
    names: tuple[AskedName, ...]
    tasks: tuple[AskedTask, ...]
    answers: Mapping[str, str]
    takes_estimates: bool = False

    @property
    def is_open(self) -> bool:
        """Whether a question must be answered before anything is brought in."""
        return any(question.is_open for question in self.questions)

    def as_json(self) -> dict[str, Any]:
        """Give it as it is kept."""
        return {**asdict(self), "fixed": sorted(self.fixed), "answers": dict(self.answers)}

    @classmethod
    def of_json(cls, kept: Mapping[str, Any]) -> "LookedAt":
        """Return what was kept."""
        return cls(
            **{
                **kept,
                "columns": tuple(
                    Column(**{**each, "meaning": Meaning(each["meaning"])})
                    for each in kept["columns"]
                ),
                "fixed": frozenset(kept["fixed"]),
                "questions": tuple(
                    Question(**{**each, "choices": _choices(each["choices"])})
                    for each in kept["questions"]
                ),
                "names": tuple(AskedName(**each) for each in kept["names"]),
                "tasks": tuple(
                    AskedTask(**{**each, "kinds": _choices(each["kinds"])})
                    for each in kept["tasks"]
                ),
            }
        )


@dataclass(kw_only=True, slots=True)
class _Judged:
    """Takes in the verdicts on the rows of a file."""

    rows: list[RowVerdict] = field(default_factory=list)
    counts: dict[str, int] = field(default_factory=dict)
    names: dict[AskedName, None] = field(default_factory=dict)
    tasks: dict[str, AskedTask] = field(default_factory=dict)

    def tell(self, row: RowVerdict) -> None:
        """Take in the verdict on a row."""
        self.rows.append(row)
        self.counts[row.verdict.value] = self.counts.get(row.verdict.value, 0) + 1
        if row.verdict is Verdict.NOT_OURS and len(self.names) < NAMES_ASKED:
            kind, text = ("mold", row.mold) if row.mold else ("counter", row.counter)
            if text:
                self.names[AskedName(kind=kind, text=text)] = None
        is_asked = row.verdict is Verdict.NEEDS_ANSWER and bool(row.choice_key)
        if is_asked and len(self.tasks) < NAMES_ASKED:
            kinds = tuple(Choice(value=each.value, text=each.text) for each in row.proposals)
            asked = AskedTask(key=row.choice_key, task=row.task or "", kinds=kinds)
            self.tasks.setdefault(row.choice_key, asked)


def look_first(doing: Doing, *, upload: Upload, zone: ZoneInfo) -> UploadLook:
    """Judge the rows of a file that just came, and keep the verdicts, or why it cannot be read."""
    try:
        return look_at(doing, upload=upload, answers=upload.answers, zone=zone)
    except TableRefused as error:
        return _keep(doing, upload=upload, refused=str(error), asked=None, judged=_Judged())


def look_at(
    doing: Doing, *, upload: Upload, answers: Mapping[str, str], zone: ZoneInfo
) -> UploadLook:
    """Judge the rows of a file with these answers; keep answers and verdicts.

    Raises
    ------
    TableRefused
        When it is no table, contradicts itself, or an answer fits nothing: what was kept stays.
    FileNotFoundError
        If somebody has cleared the store.
    NotFound
        If the file was brought in or left meanwhile.
    """
    require(doing.person, Right.IMPORT)
    judged = _Judged()
    asked = _asked(doing, upload=upload, answers=answers, zone=zone, judged=judged)
    return _keep(doing, upload=upload, refused="", asked=asked, judged=judged)


def is_outdated(upload: Upload) -> bool:
    """Tell whether a file must be looked at again: never yet, or something was answered since."""
    look: UploadLook | None = getattr(upload, "look", None)
    return look is None or about_rows(look.asked.get("answers", {})) != about_rows(upload.answers)


def about_rows(answers: Mapping[str, str]) -> dict[str, str]:
    """Return the answers that decide what becomes of rows: why is none of them."""
    return {key: value for key, value in answers.items() if key != REASON}


def asked_of(look: UploadLook) -> LookedAt:
    """Return what a file that could be read leaves open."""
    return LookedAt.of_json(look.asked)


def row_of(row: UploadRow) -> RowVerdict:
    """Return the verdict on a row as it was kept."""
    kept = row.verdict
    at = kept["at"]
    return RowVerdict(
        **{
            **kept,
            "verdict": Verdict(kept["verdict"]),
            "at": None if at is None else parse_datetime(at),
            "proposals": tuple(Proposal(**each) for each in kept["proposals"]),
        }
    )


def _asked(
    doing: Doing,
    *,
    upload: Upload,
    answers: Mapping[str, str],
    zone: ZoneInfo,
    judged: _Judged,
) -> LookedAt:
    given = {key: text for key, text in answers.items() if text}
    fixed: frozenset[int] = frozenset()
    takes_estimates = False
    with content_of(upload) as stream:
        if upload.kind == ImportBatch.Kind.READINGS:
            readings = open_reading_file(stream, name=upload.name, zone=zone, answers=given)
            try_out(doing, file=readings, tell=judged.tell, at_most=READINGS_JUDGED)
            plan: Any = readings.plan
            if plan.form is Form.WIDE:
                fixed = frozenset(
                    column.place for column in plan.columns if column.mold_text is not None
                )
            takes_estimates = readings.takes_estimates
        else:
            register = open_register_file(
                stream, name=upload.name, kind=upload.kind, zone=zone, answers=given
            )
            try_out_register(doing, file=register, tell=judged.tell)
            plan = register.plan
    return LookedAt(
        rows=plan.rows_count,
        judged=len(judged.rows),
        columns=tuple(plan.columns),
        fixed=fixed,
        questions=tuple(plan.questions),
        names=_strange(judged.names),
        tasks=tuple(judged.tasks.values()),
        answers=given,
        takes_estimates=takes_estimates,
    )


def _strange(names: Iterable[AskedName]) -> tuple[AskedName, ...]:
    """Return the names that are none of ours; a mold of ours that nothing counts is not asked."""
    if not names:
        return ()
    ours = matchers()
    return tuple(each for each in names if ours[each.kind](each.text) is None)


def _keep(
    doing: Doing, *, upload: Upload, refused: str, asked: LookedAt | None, judged: _Judged
) -> UploadLook:
    with transaction.atomic():
        held = Upload.objects.select_for_update(no_key=True).filter(pk=upload.pk).first()
        if held is None:
            raise NotFound(_("That file was brought in or left meanwhile."))
        if asked is not None:
            held.answers = dict(asked.answers)
            held.save(update_fields=["answers"])
        forget_look(held)
        look = UploadLook.objects.create(
            upload=held,
            refused=refused,
            asked={} if asked is None else asked.as_json(),
            counts=judged.counts,
            verdicts_hash=verdicts_hash(judged.rows),
            looked_at=doing.now,
        )
        insert_values(
            UploadRow,
            ("upload", "place", "needs", "verdict"),
            (
                (held.pk, place, _needs(row), _kept(row))
                for place, row in enumerate(judged.rows, start=1)
            ),
        )
    return look


def _needs(row: RowVerdict) -> UploadRowNeeds:
    if row.verdict in _NEEDS_A_HAND:
        return UploadRowNeeds.HAND
    return UploadRowNeeds.CHOICE if row.choice_key else UploadRowNeeds.NOTHING


def _kept(row: RowVerdict) -> dict[str, Any]:
    return {**row.as_json(), "task": row.task, "choice_key": row.choice_key}


def _choices(kept: Iterable[Mapping[str, str]]) -> tuple[Choice, ...]:
    return tuple(Choice(**each) for each in kept)
