"""What an import leaves in the logbook does not hang on the language of whoever brings it in."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.utils import translation

from moldcare.acts.doing import Doing
from moldcare.acts.refresh import refresh_counts
from moldcare.acts.starting_sets import load_starting_sets
from moldcare.feeds.models import ImportBatch
from moldcare.feeds.register.rows import CareRow, CircuitRow, MoldRow
from moldcare.feeds.undo import undo_import
from moldcare.logbook.models import Entry
from moldcare.molds.models import Circuit, Mold
from tests import factories
from tests.acts.registers import brought_in

MARK = "§"
MOLD = MoldRow(
    row=2,
    number="0417",
    name="Cap",
    mold_class="102",
    cavity_count=4,
    mass_a_kg=Decimal(420),
    mass_b_kg=Decimal(515),
    owner="Nordhafen",
    resin="POM",
    resin_group="gassy",
    filler="none",
    cycle_time_s=Decimal("12.5"),
    storage_place="B4-2",
    circuits=(CircuitRow(ident="A1", half="A", bore_mm=Decimal("8.00")),),
    opening_count=184_250,
    opening_at=date(2026, 3, 25),
)
RULE = CareRow(
    row=2,
    column="B",
    number="0417",
    task="Clean the vents by hand",
    family="vents",
    count_interval=15_000,
    period_n=3,
    period_unit="month",
    hours_limit=200,
    event="end_of_run",
    last_done=date(2026, 11, 2),
)


@pytest.fixture
def translated(monkeypatch: pytest.MonkeyPatch, db: None) -> Iterator[None]:
    """A reader whose language marks every translated word; English has no marks."""
    factories.plant()
    trans: Any = translation._trans  # type: ignore[attr-defined]
    for name in ("gettext", "pgettext", "ngettext", "npgettext"):
        plain = getattr(trans, name)

        def marked(*args: Any, plain: Any = plain) -> str:
            said = str(plain(*args))
            return said if translation.get_language() == "en" else f"{MARK}{said}"

        monkeypatch.setattr(trans, name, marked)
    with translation.override("de"):
        assert str(translation.gettext_lazy("circuits")).startswith(MARK)
        yield


@pytest.mark.usefixtures("translated")
def test_entries_of_an_import_and_of_taking_it_back_have_no_translated_word(doing: Doing) -> None:
    load_starting_sets(doing)
    brought_in(doing, [MOLD])
    mold = Mold.objects.get()
    refresh_counts(molds=[mold.pk])
    other = replace(
        MOLD,
        mold=mold.pk,
        mold_class="103",
        cavity_count=8,
        owner="Weststadt",
        resin_group="mild",
        filler="glass",
        cycle_time_s=Decimal(13),
        circuits=(
            CircuitRow(ident="B7", half="B", bore_mm=Decimal("8.00"), length_mm=Decimal("900.0")),
        ),
    )
    changed, _told = brought_in(doing, [other], sha256="b" * 64, changes="take")
    rule = replace(RULE, mold=mold.pk)
    brought_in(doing, [rule], sha256="c" * 64)
    ruled, told = brought_in(
        doing,
        [replace(rule, count_interval=20_000, hours_limit=300, event="set", period_n=4)],
        sha256="d" * 64,
        changes="take",
        reason="It fouls sooner.",
    )
    assert [row.verdict for row in told] == ["changed"]
    for done in (ruled, changed):
        batch = ImportBatch.objects.get(pk=done.batch_id)
        undo_import(replace(doing, hand_in=None), batch=batch, reason="An old list.")
    entries = list(Entry.objects.order_by("id"))
    assert len(entries) >= 10
    marked = [
        (entry.kind, text)
        for entry in entries
        for text in (entry.sentence, entry.facts)
        if MARK in text
    ]
    assert marked == []
    assert "B7 (ø 8 mm × 900 mm)" in "".join(entry.sentence for entry in entries)


def test_a_circuit_is_of_the_half_of_its_row(doing: Doing) -> None:
    factories.plant()
    circuits = (CircuitRow(ident="W1", half="B"), CircuitRow(ident="W2"), CircuitRow(ident="B3"))
    _done, (told,) = brought_in(doing, [replace(MOLD, circuits=circuits)])
    assert dict(Circuit.objects.values_list("ident", "half")) == {"W1": "B", "W2": "A", "B3": "B"}
    assert "No half is given for W2: the A half is taken." in told.reason
