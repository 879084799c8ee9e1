"""Every example file through the acts: tried out, brought in, brought in again, taken back."""

from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from moldcare.acts.doing import Doing
from moldcare.acts.rebuild import first_difference
from moldcare.acts.refresh import refresh_counts
from moldcare.acts.starting_sets import load_starting_sets
from moldcare.care.models import CareRule
from moldcare.core.errors import DomainError
from moldcare.feeds.models import ImportBatch
from moldcare.feeds.register.bring_in import bring_in_register, try_out_register
from moldcare.feeds.register_files import RegisterFile, open_register_file
from moldcare.feeds.tables import RowVerdict, Verdict
from moldcare.feeds.undo import undo_import
from moldcare.logbook.verify import verify_logbook
from moldcare.molds.models import Mold, name_key
from tests import factories
from tests.conventions.source import ROOT

BERLIN = ZoneInfo("Europe/Berlin")
EXAMPLES = sorted(
    path for path in (ROOT / "fixtures" / "registers").iterdir() if path.suffix != ".md"
)
WRITTEN = {Verdict.ACCEPTED, Verdict.CHANGED}


def opened(path: Path, kind: str) -> RegisterFile | None:
    """The file, opened, with every open question answered by its first choice."""
    answers: dict[str, str] = {}
    data = path.read_bytes()
    for _time in range(6):
        try:
            file = open_register_file(data, name=path.name, kind=kind, zone=BERLIN, answers=answers)
        except DomainError:
            return None
        waiting = [each for each in file.plan.open_questions if each.choices]
        if not waiting:
            return None if file.plan.open_questions else file
        answers |= {each.key: each.choices[0].value for each in waiting}
    return None


@pytest.mark.parametrize("kind", ["molds", "rules"])
@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.name)
def test_what_was_tried_is_what_is_done_and_twice_is_once(
    path: Path, kind: str, doing: Doing
) -> None:
    factories.plant()
    load_starting_sets(doing)
    file = opened(path, kind)
    if kind == "rules" and file is not None:
        # the molds of a sheet are there before it, all but the first
        numbers = {name_key(row.number): row.number for row in file.plan.rows() if row.number}
        molds = [
            factories.mold(number=each, opening_count=10_000_000)
            for each in sorted(numbers.values())[1:]
        ]
        refresh_counts(molds=[mold.pk for mold in molds])
        file = opened(path, kind)
    if file is None:
        assert not ImportBatch.objects.exists()
        return
    tried: list[RowVerdict] = []
    told: list[RowVerdict] = []
    again: list[RowVerdict] = []
    try_out_register(doing, file=file, tell=tried.append)
    assert not ImportBatch.objects.exists()
    done = bring_in_register(doing, file=file, tell=told.append)
    assert told == tried
    kept = {row.row for row in told if row.verdict in {"refused", "not_ours", "needs_answer"}}
    batch = ImportBatch.objects.get(pk=done.batch_id)
    assert set(batch.rows.values_list("row", flat=True)) == kept
    file = opened(path, kind)
    assert file is not None
    bring_in_register(doing, file=file, tell=again.append)
    assert not [row for row in again if row.verdict in WRITTEN]
    assert first_difference() is None
    assert verify_logbook().is_whole
    before = Mold.objects.filter(withdrawn_at=None).count()
    undone = undo_import(doing, batch=batch, reason="an example")
    assert undone.stayed == []
    assert Mold.objects.filter(withdrawn_at=None).count() == before - undone.counts.get(
        "molds_withdrawn", 0
    )
    assert not CareRule.objects.filter(withdrawn_at=None).exists()
    assert first_difference() is None
