"""A kept row of any file that came in, mended on the screen and brought in again."""

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from zoneinfo import ZoneInfo

from django.http import QueryDict
from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing
from moldcare.core.errors import DomainError
from moldcare.feeds.bring_in import bring_in, try_out
from moldcare.feeds.models import ImportBatch, ImportRow
from moldcare.feeds.reading_files import ReadingFile, open_reading_file
from moldcare.feeds.register.bring_in import bring_in_register, try_out_register
from moldcare.feeds.register_files import REASON, RegisterFile, open_register_file
from moldcare.feeds.tables import Choice, RowVerdict, Verdict
from moldcare.pages.imports.answers import ANSWER, answers_in
from moldcare.pages.imports.forms import CELL, MendForm
from moldcare.pages.imports.preview import kind_question, with_leave

_WRONG = frozenset({Verdict.REFUSED, Verdict.NOT_OURS, Verdict.NEEDS_ANSWER})


AnyFile = ReadingFile | RegisterFile


@dataclass(kw_only=True, slots=True)
class Mending:
    """A kept row as it would be read now: its verdicts, and what is asked about it."""

    row: ImportRow
    cells: list[str]
    answers: dict[str, str]
    file: AnyFile | None = None
    verdicts: list[RowVerdict] = field(default_factory=list)
    refused: str = ""
    asked: list[tuple[str, str, Sequence[Choice]]] = field(default_factory=list)

    @property
    def is_good(self) -> bool:
        """Whether it can be brought in as it stands."""
        if self.file is None or self.refused or self.file.plan.open_questions:
            return False
        fine = [row for row in self.verdicts if not self.is_wrong(row)]
        left = [row for row in fine if row.verdict is Verdict.DIFFERS]
        return len(fine) == len(self.verdicts) > 0 and len(left) < len(fine)

    def is_wrong(self, row: RowVerdict) -> bool:
        """Whether something has to be put right or answered before a row can be taken."""
        if row.verdict is Verdict.ESTIMATED and isinstance(self.file, ReadingFile):
            return not self.file.takes_estimates
        return row.verdict in _WRONG

    def form(self, data: QueryDict | None) -> MendForm:
        """Return the form of its cells, filled with what was sent."""
        asked = [(f"{ANSWER}{key}", text, choices) for key, text, choices in self.asked]
        answers = {f"{ANSWER}{key}": value for key, value in self.answers.items()}
        return MendForm(
            data,
            headings=self.row.batch.answers.get("headings", []),
            cells=self.cells,
            asked=asked,
            answers=answers,
        )


def mending_of(doing: Doing, *, row: ImportRow, data: QueryDict | None, zone: ZoneInfo) -> Mending:
    """Read a kept row again, with what was typed into it."""
    cells = [str(cell) for cell in row.cells]
    headings = [str(cell) for cell in row.batch.answers.get("headings", [])]
    answers = _answers_of(row.batch)
    if data is not None:
        width = max(len(headings), len(cells))
        cells = [_one_line(data.get(f"{CELL}{place}", "")) for place in range(width)]
        answers |= answers_in(data)
    found = Mending(row=row, cells=cells, answers=answers)
    try:
        found.file = _opened(found, headings=headings, zone=zone)
        if isinstance(found.file, ReadingFile):
            try_out(doing, file=found.file, tell=found.verdicts.append)
        else:
            try_out_register(doing, file=found.file, tell=found.verdicts.append)
    except DomainError as error:
        found.refused = str(error)
    found.asked = list(_asked(found))
    if not found.refused and not found.verdicts:
        found.refused = _("There is nothing in this row.")
    return found


def bring_in_mended(doing: Doing, *, mending: Mending) -> int | None:
    """Bring a mended row in; return the number of its import, None where it is not good yet."""
    if isinstance(mending.file, ReadingFile):
        return bring_in(doing, file=mending.file, mends=mending.row).batch_id
    if mending.file is None:
        return None
    return bring_in_register(doing, file=mending.file, mends=mending.row).batch_id


def reasons_of(mending: Mending) -> list[str]:
    """Return why a row is not good yet, each reason once."""
    if mending.refused:
        return [mending.refused]
    told = [
        row.reason
        for row in mending.verdicts
        if mending.is_wrong(row) or row.verdict is Verdict.DIFFERS
    ]
    return list(dict.fromkeys(reason for reason in told if reason))


def _answers_of(batch: ImportBatch) -> dict[str, str]:
    """Return what was answered about the file, and what its columns meant."""
    kept = {key: value for key, value in batch.answers.items() if isinstance(value, str)}
    about_opening = {"sheet", "encoding", "delimiter", "heading"}
    columns = batch.answers.get("columns", {})
    # what is kept of all columns says more than what was answered about some
    left = ("change", REASON, "column:", "meaning:") if columns else ("change", REASON)
    kept = {
        key: value
        for key, value in kept.items()
        if key not in about_opening and not key.startswith(left)
    }
    return {
        **kept,
        **{f"column:{name.casefold()}": str(meaning) for name, meaning in columns.items()},
        "delimiter": "comma",
        "encoding": "utf-8",
    }


def _asked(mending: Mending) -> Iterable[tuple[str, str, Sequence[Choice]]]:
    """Give what is asked about the row: open questions, kinds of care, what is right."""
    if mending.file is not None:
        for question in mending.file.plan.open_questions:
            yield question.key, question.text, question.choices
    if isinstance(mending.file, ReadingFile) and any(
        row.verdict is Verdict.ESTIMATED for row in mending.verdicts
    ):
        take = Choice(value="take", text=_("Take what the file calls about, as estimates"))
        yield "estimates", _("Is it an estimate?"), with_leave([take])
    met: set[str] = set()
    for row in mending.verdicts:
        if not row.choice_key or row.choice_key in met:
            continue
        met.add(row.choice_key)
        choices = tuple(Choice(value=each.value, text=each.text) for each in row.proposals)
        if row.verdict is Verdict.NEEDS_ANSWER:
            text = kind_question(row.task or "")
        else:
            text = row.reason
            choices = with_leave(choices)
        yield row.choice_key, text, choices
    if mending.row.batch.kind == ImportBatch.Kind.RULES and any(
        row.verdict in {Verdict.DIFFERS, Verdict.CHANGED} for row in mending.verdicts
    ):
        yield REASON, _("Why the interval changes, where it does"), ()


def _opened(mending: Mending, *, headings: Sequence[str], zone: ZoneInfo) -> AnyFile:
    """Open the row as a file of its own."""
    batch = mending.row.batch
    data = _as_table(headings, cells=mending.cells)
    answers = {key: value for key, value in mending.answers.items() if value}
    if batch.kind == ImportBatch.Kind.READINGS:
        return open_reading_file(io.BytesIO(data), name=batch.name, zone=zone, answers=answers)
    return open_register_file(data, name=batch.name, kind=batch.kind, zone=zone, answers=answers)


def _as_table(headings: Sequence[str], *, cells: Sequence[str]) -> bytes:
    """Return a row with its headings as a file that the one reader reads."""
    out = io.StringIO()
    writer = csv.writer(out, quoting=csv.QUOTE_ALL)
    width = max(len(headings), len(cells))
    writer.writerow([*headings, *[""] * (width - len(headings))])
    writer.writerow([*cells, *[""] * (width - len(cells))])
    return out.getvalue().encode()


def _one_line(text: str) -> str:
    return text.replace("\0", "").strip()
