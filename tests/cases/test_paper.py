"""What people type, and what the plant's own language makes of it, on the printed pages.

The texts go the whole way: through an act, a signature, the logbook and the command that prints.
Kinds of faults are those that public reports about PDF libraries and exports describe.
"""

import io
from decimal import Decimal
from pathlib import Path

import pypdf
import pytest
import time_machine
from django.core.management import call_command
from django.utils import translation

from moldcare.acts.interruptions import report_interruption
from moldcare.acts.orders import hand_out, write_order
from moldcare.acts.refresh import refresh_counts
from moldcare.acts.sheet import record_step
from moldcare.acts.signing import SignedFrom, TaskResult, sign_order
from moldcare.care.models import Step
from moldcare.plant.models import Person
from moldcare.work.models import Order, StepValue
from tests import factories
from tests.cases.story import Story
from tests.paper.reading import squeezed

pytestmark = pytest.mark.django_db

NOW = "2026-11-25 07:12"
TYPED = (
    "0.010 < vent < 0.020 mm",
    "J&C",
    "<b>hot</b>",
    "a &amp; b",
    "W" * 120,
    "Łukasz Ørsted 王伟 Дмитрий",
    "⌀ 8 µm ≤ 0,02 · 25 °C · H₂O · ✓",
)


def text_of(path: Path) -> str:
    pages = pypdf.PdfReader(io.BytesIO(path.read_bytes())).pages
    return "\n".join(page.extract_text() for page in pages)


def printed(story: Story, command: str, *words: str, out: Path, **options: str) -> tuple[str, str]:
    """Return the text of what a command printed, and what it warned of."""
    warned = io.StringIO()
    with time_machine.travel(story.at(NOW), tick=False):
        call_command(command, *words, out=out, stdout=io.StringIO(), stderr=warned, **options)
    return text_of(out), warned.getvalue()


@pytest.fixture
def person(story: Story) -> Person:
    return factories.person(role="technician", pin="1357", name="Łukasz Ørsted 王伟 Дмитрий")


@pytest.fixture
def order(story: Story, person: Person) -> Order:
    """An order with every odd text in it, a step of many lines, and forty supplies."""
    mold = story.mold("0417", since="2026-11-02 06:00", name=TYPED[0], resin=TYPED[2])
    counter = story.counter(mold, label="Z1", since="2026-11-02 06:00", shown=0)
    story.read(counter, ("2026-11-25 06:00", 12_400))
    rule = factories.care_rule(
        mold=mold,
        name=TYPED[1],
        count_base=20_000,
        supplies=";".join(f"S{n} a&b" for n in range(1, 41)),
        entered_at=story.at("2026-11-02 06:00"),
    )
    Step.objects.create(rule=rule, place=1, text=" / ".join(TYPED[:4])[:200])
    Step.objects.create(
        rule=rule,
        place=2,
        text="Vent depth",
        kind="value",
        unit="mm",
        low=Decimal("0.012"),
        high=Decimal("0.018"),
    )
    refresh_counts(molds=[mold.pk])
    written = write_order(
        story.doing(NOW),
        mold=mold,
        rules=[rule],
        people=[person],
        note=" | ".join(TYPED)[:400],
        why={rule.pk: "12,400 of 20,000 shots."},
    )
    row = Order.objects.get(pk=written.pk)
    hand_out(story.doing(NOW), order=row)
    return row


def sign(story: Story, order: Order, signer: Person, *, note: str = "") -> None:
    (line,) = order.tasks.all()
    sign_order(
        story.doing(NOW),
        order=order,
        signer=signer,
        pin="1357",
        minutes=20,
        source=SignedFrom.PAPER,
        results={line.pk: TaskResult(outcome="done", grade="heavy")},
        note=note,
    )


def test_texts_are_printed_as_they_were_typed(story: Story, order: Order, tmp_path: Path) -> None:
    text, warned = printed(story, "print_order", "1001", out=tmp_path / "order.pdf")
    for typed in TYPED:
        assert squeezed(typed) in squeezed(text), typed
    assert all(f"S{n} a&b" in text for n in range(1, 41))
    assert not warned


def test_a_sign_that_no_typeface_has_is_named_by_who_prints(
    story: Story, order: Order, tmp_path: Path
) -> None:
    report_interruption(
        story.doing(NOW), mold=order.mold, from_at=story.at(NOW), finding="Key 🔧 in the chute"
    )
    text, warned = printed(
        story, "print_logbook", month="2026-11", mold="0417", out=tmp_path / "month.pdf"
    )
    assert "U+1F527" in text
    assert "🔧" in warned


def test_the_logbook_prints_signed_texts_as_they_were_typed(
    story: Story, order: Order, person: Person, tmp_path: Path
) -> None:
    (line,) = order.tasks.all()
    record_step(story.doing(NOW), order=order, task=line, step=2, value="0,015")
    sign(story, order, person, note=TYPED[0])
    finding = " ".join(TYPED)[:400]
    report_interruption(
        story.doing(NOW), mold=order.mold, from_at=story.at(NOW), finding=finding, cause="a &amp; b"
    )
    text, warned = printed(
        story, "print_logbook", month="2026-11", mold="0417", out=tmp_path / "month.pdf"
    )
    for typed in (*TYPED, finding):
        assert squeezed(typed) in squeezed(text), typed
    assert not warned


@pytest.mark.parametrize("spelled", ["0.015", "0,015"])
def test_numbers_on_paper_are_the_plants_and_on_the_screen_the_persons(
    story: Story, order: Order, person: Person, tmp_path: Path, spelled: str
) -> None:
    factories.plant(language="de")
    story.lead.language = "en"
    story.lead.save()
    with translation.override("en"):
        text, _warned = printed(story, "print_order", "1001", out=tmp_path / "order.pdf")
    assert "12.400" in text
    assert "0,012" in text
    assert "0,018" in text
    shown = story.page("/molds/0417", at=NOW)
    assert "12,400" in shown
    assert "12.400" not in shown
    # what was written on the line comes back typed in either spelling
    (line,) = order.tasks.all()
    record_step(story.doing(NOW), order=order, task=line, step=2, value=spelled)
    assert StepValue.objects.get(step=2).number == Decimal("0.015")
    sign(story, order, person)
    text, _warned = printed(
        story, "print_logbook", month="2026-11", mold="0417", out=tmp_path / "month.pdf"
    )
    assert "0,015" in text
