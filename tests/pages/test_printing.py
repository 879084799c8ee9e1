import io
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from zoneinfo import ZoneInfo

import pypdf
import pytest
from django.core.management import CommandError, call_command

from moldcare.acts import refresh
from moldcare.acts.corrections import correct_entry
from moldcare.acts.doing import Doing
from moldcare.acts.orders import hand_out, write_order
from moldcare.acts.sheet import record_look, record_step
from moldcare.acts.signing import sign_order
from moldcare.care.models import CareRule, Cover, Step
from moldcare.core.chain import photo_fact
from moldcare.counters.models import Life
from moldcare.logbook.models import Entry
from moldcare.logbook.queries import entries_written_in
from moldcare.molds.models import Auxiliary, Mold
from moldcare.pages.printing import fact_lines, logbook_month, order_document, photo_lines
from moldcare.paper.frame import PaperSize
from moldcare.paper.logbook import FactLine, logbook_pdf
from moldcare.paper.work_order import work_order_pdf
from moldcare.plant.models import Person, ShiftPattern, ShiftSlot
from moldcare.plant.queries import forget_calendars
from moldcare.work.models import Order
from tests import factories

pytestmark = pytest.mark.django_db
BERLIN = ZoneInfo("Europe/Berlin")


@pytest.fixture(autouse=True)
def derives_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(refresh, "refresh_care", lambda **_touched: None)


@pytest.fixture
def mold() -> Mold:
    factories.plant()
    owner = factories.owner(name="Asterline Irrigation", retention_years=15)
    mold = factories.mold(number="0417", name="Dripper cap", owner=owner, mass_a_kg=420)
    Life.objects.update_or_create(
        mold=mold,
        defaults={
            "cycles": 1_204_512,
            "shots": 1_203_900,
            "has_dry_cycles": True,
            "newest_at": datetime(2026, 11, 25, 5, 0, tzinfo=UTC),
        },
    )
    return mold


@pytest.fixture
def rule(mold: Mold) -> CareRule:
    rule = factories.care_rule(
        mold=mold,
        name="Vents, bench clean",
        minutes=90,
        supplies="Lint-free cloth; Mold cleaner",
        asks_checked=True,
    )
    Step.objects.create(rule=rule, place=1, text="Wash the vents")
    Step.objects.create(
        rule=rule,
        place=2,
        text="Depth at cavity 17",
        kind="value",
        unit="mm",
        low=Decimal("0.010"),
        high=Decimal("0.020"),
    )
    Cover.objects.create(
        covering=rule, covered=factories.care_rule(mold=mold, name="Vents, wipe in press")
    )
    return rule


@pytest.fixture
def order(doing: Doing, rule: CareRule, technician: Person) -> Order:
    pattern = ShiftPattern.objects.create(valid_from=date(2026, 1, 1), written_at=doing.now)
    for weekday in range(5):
        ShiftSlot.objects.create(
            pattern=pattern, weekday=weekday, name="early", starts="06:00", ends="14:00"
        )
    forget_calendars()
    bench = factories.spot(kind="bench", number="2")
    factories.move(rule.mold, to=bench, author=technician)
    written = write_order(
        doing,
        mold=rule.mold,
        rules=[rule],
        planned_at=datetime(2026, 11, 26, 7, 0, tzinfo=UTC),
        people=[technician],
        why={rule.pk: "131,200 of 125,000 shots."},
    )
    order = Order.objects.get(number=written.number)
    hand_out(doing, order=order)
    return order


def signed(doing: Doing, order: Order, *, depth: str = "0.015") -> Order:
    task = order.tasks.get(covered_by=None)
    grades = {line.pk: "heavy" for line in order.tasks.all()}
    record_look(doing, order=order, grades=grades, without_photo="camera is broken")
    record_step(doing, order=order, task=task, step=1)
    record_step(doing, order=order, task=task, step=2, value=depth)
    sign_order(doing, order=order, signer=doing.person, minutes=95)
    order.refresh_from_db()
    return order


def text_of(content: bytes) -> str:
    return "\n".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(content)).pages)


def test_an_order_says_what_to_do_where_and_why(doing: Doing, order: Order) -> None:
    document = order_document(order, at=doing.now, printed_by="Rosa Feldmann")
    assert (document.order_number, document.mold_number) == ("1001", "0417")
    assert document.place == "bench 2"
    assert document.planned_shift == "Thu 26\u00a0Nov\u00a02026, early"
    assert (document.total_cycles, document.total_shots) == (1_204_512, 1_203_900)
    assert document.total_as_of == "25\u00a0Nov\u00a02026, 06:00"
    assert (document.owner, document.is_customer_property) == ("Asterline Irrigation", True)
    assert document.people == ["Tomas Breuer"]
    assert document.families == ["vents"]
    assert [str(meaning) for meaning in document.signatures] == ["done", "checked"]
    (task,) = document.tasks
    assert task.reason == "131,200 of 125,000 shots."
    assert task.covers == ["Vents, wipe in press"]
    assert [supply.name for supply in task.supplies] == ["Lint-free cloth", "Mold cleaner"]
    look, wash, depth = task.steps
    assert look.text == "Look and photograph before cleaning"
    assert wash.kind == "tick"
    assert (depth.at_least, depth.at_most, depth.unit) == (Decimal("0.01"), Decimal("0.02"), "mm")
    # the four grades stand in the words of the task's family
    assert document.tasks[0].grades[0].meaning == "shiny, no residue"


def test_shots_that_are_not_known_apart_are_not_printed(doing: Doing, order: Order) -> None:
    Life.objects.filter(mold=order.mold).update(has_dry_cycles=False, is_estimated=True)
    document = order_document(order, at=doing.now, printed_by="-")
    assert document.total_shots is None
    assert document.is_estimated


def test_an_order_prints_on_one_to_three_pages_without_a_screen(doing: Doing, order: Order) -> None:
    document = order_document(order, at=doing.now, printed_by="Rosa Feldmann")
    paper = work_order_pdf(document, paper_size=PaperSize.A4)
    assert 1 <= paper.pages <= 3
    said = text_of(paper.content)
    for part in ("0417", "Dripper cap", "Depth at cavity 17", "Vents, wipe in press", "1001"):
        assert part in said


def test_numbers_on_paper_are_the_plants(doing: Doing, order: Order) -> None:
    factories.plant(language="de")
    document = order_document(order, at=doing.now, printed_by="-")
    paper = work_order_pdf(document, paper_size=PaperSize.A4)
    said = text_of(paper.content).replace("\u00a0", " ")
    assert "1.204.512" in said
    assert "0,02" in said


def test_an_auxiliary_has_no_count(doing: Doing) -> None:
    factories.plant()
    auxiliary = Auxiliary.objects.create(
        number="TC-3",
        name="controller",
        kind="temperature",
        chain=factories.new_chain("auxiliary", "TC-3"),
        entered_at=doing.now,
    )
    rule = factories.care_rule(auxiliary=auxiliary, target="auxiliary", name="Change the filter")
    written = write_order(doing, auxiliary=auxiliary, rules=[rule])
    document = order_document(
        Order.objects.get(number=written.number), at=doing.now, printed_by="-"
    )
    assert (document.mold_number, document.total_cycles) == ("TC-3", None)
    assert document.tasks[0].has_grade is False
    assert work_order_pdf(document, paper_size=PaperSize.LETTER).pages == 1


def test_a_month_holds_what_was_written_in_it_on_the_plants_clocks(
    mold: Mold, technician: Person
) -> None:
    # Berlin is one hour ahead in winter: November begins at 23:00 UTC of 31 October
    for at in (
        datetime(2026, 10, 31, 22, 59, 59, tzinfo=UTC),
        datetime(2026, 10, 31, 23, 0, tzinfo=UTC),
        datetime(2026, 11, 30, 22, 59, 59, tzinfo=UTC),
        datetime(2026, 11, 30, 23, 0, tzinfo=UTC),
    ):
        factories.entry(mold.chain, author=technician, at=at)
    month = logbook_month(date(2026, 11, 17), mold=mold)
    assert [entry.number for entry in month.entries] == [2, 3]
    assert month.month == date(2026, 11, 1)
    assert [(head.chain_label, head.number) for head in month.heads] == [("0417", 3)]
    assert month.check_said == "whole, no. 1 to 3"
    # fifteen years after the month's last day
    assert month.retention == "30\u00a0Nov\u00a02041"


def test_a_late_entry_stands_in_the_month_it_was_written(mold: Mold, technician: Person) -> None:
    happened = datetime(2026, 10, 30, 20, 0, tzinfo=UTC)
    factories.entry(
        mold.chain,
        author=technician,
        at=happened,
        written_at=datetime(2026, 11, 2, 6, 0, tzinfo=UTC),
    )
    assert list(entries_written_in(date(2026, 10, 1), zone=BERLIN)) == []
    (entry,) = logbook_month(date(2026, 11, 1)).entries
    assert entry.happened_at == happened


def test_a_correction_of_an_earlier_month_repeats_the_original(mold: Mold, lead: Person) -> None:
    october = datetime(2026, 10, 28, 21, 0, tzinfo=UTC)
    row = factories.entry(
        mold.chain, author=lead, at=october, sentence="Circuit B2: 11.9 l/min.", facts={}
    )
    november = Doing(person=lead, now=datetime(2026, 11, 4, 7, 0, tzinfo=UTC))
    first = correct_entry(
        november, entry=row, sentence="Circuit B2: 10.9 l/min.", reason="digits swapped"
    )
    again = correct_entry(
        november,
        entry=Entry.objects.get(pk=first.entry_pk),
        sentence="Circuit B2: 10.8 l/min.",
        reason="misread",
    )
    one, two = logbook_month(date(2026, 11, 1), mold=mold).entries
    assert one.original is not None
    assert one.original.sentence == "Circuit B2: 11.9 l/min."
    assert (two.number, two.corrects, two.original) == (again.entry_number, one.number, None)
    (before,) = logbook_month(date(2026, 10, 1), mold=mold).entries
    assert (before.number, before.original) == (1, None)


def test_the_same_month_prints_the_same_bytes_whenever(
    doing: Doing, order: Order, technician: Person
) -> None:
    signed(doing, order)
    first = logbook_pdf(logbook_month(date(2026, 11, 1), mold=order.mold), paper_size=PaperSize.A4)
    factories.entry(order.mold.chain, author=technician, at=doing.now + timedelta(days=20))
    again = logbook_pdf(logbook_month(date(2026, 11, 1), mold=order.mold), paper_size=PaperSize.A4)
    assert first.content == again.content


def test_a_signed_order_reads_whole_on_paper(doing: Doing, order: Order) -> None:
    signed(doing, order, depth="0.018")
    (entry,) = logbook_month(date(2026, 11, 1), mold=order.mold).entries
    facts = {(line.label, line.value, line.unit) for line in entry.facts}
    assert ("Depth at cavity 17", Decimal("0.018"), "mm") in facts
    assert ("Vents, bench clean", "done; found heavy", "") in facts
    assert ("Vents, wipe in press", "done; covered; found heavy", "") in facts
    assert ("minutes", 95, "") in facts
    assert ("cycles", 1_204_512, "") in facts
    assert entry.meaning == "done"


def test_of_a_correction_only_what_changes_is_printed(doing: Doing, order: Order) -> None:
    signed(doing, order)
    row = Entry.objects.get(chain=order.mold.chain)
    correct_entry(doing, entry=row, facts={"minutes": 90}, reason="wrong figure")
    correction = logbook_month(date(2026, 11, 1), mold=order.mold).entries[1]
    assert correction.facts == [
        FactLine(label="minutes", value=90),
        FactLine(label="reason", value="wrong figure"),
    ]


def test_any_entrys_facts_become_lines() -> None:
    facts = {
        "a_count": 7,
        "nothing": None,
        "empty": "",
        "no": False,
        "is_set": True,
        "rules": [4, 5],
        "names": ["one", "two"],
        "at": "2026-11-03T14:05:00.000000Z",
        "inner": {"value_mm": "0.015", "deep": {"word": "x"}},
        "look": {"photo": photo_fact(name="a.jpg", content_sha256="0" * 64)},
        "odd": [[], [1, "x", None], {}],
    }
    lines = list(fact_lines(facts, zone=BERLIN, locale="de"))
    assert lines[:4] == [
        FactLine(label="a count", value=7),
        FactLine(label="is set", value="yes"),
        FactLine(label="names", value="one, two"),
        FactLine(label="at", value="03.11.2026, 15:05"),
    ]
    assert FactLine(label="inner, deep, word", value="x") in lines
    assert [photo.name for photo in photo_lines(facts)] == ["a.jpg"]


def test_a_changed_entry_is_said_on_the_page(mold: Mold, technician: Person) -> None:
    row = factories.entry(mold.chain, author=technician, at=datetime(2026, 11, 2, tzinfo=UTC))
    Entry.objects.bulk_create(
        [
            Entry(
                chain=mold.chain,
                number=2,
                form=1,
                kind="note",
                happened_at=row.happened_at,
                written_at=row.written_at,
                author=technician,
                author_name=technician.name,
                sentence="put in by hand",
                facts="{}",
                previous_hash=row.hash,
                hash="a" * 64,
                canonical="{}",
            )
        ]
    )
    assert "entry 2" in logbook_month(date(2026, 11, 1), mold=mold).check_said
    assert "entry 2" in logbook_month(date(2026, 11, 1)).check_said


def test_commands_write_files(doing: Doing, order: Order, tmp_path: Path, clock: object) -> None:
    out = io.StringIO()
    page = tmp_path / "order.pdf"
    call_command("print_order", "1001", out=page, address="https://molds.example/", stdout=out)
    assert "Vents, bench clean" in text_of(page.read_bytes())
    signed(doing, order)
    month = tmp_path / "month.pdf"
    call_command("print_logbook", month="2026-11", mold="0417", out=month, stdout=out)
    assert "Vents, bench clean" in text_of(month.read_bytes())
    call_command("print_logbook", month="2026-11", out=tmp_path / "plant.pdf", stdout=out)
    assert "1 entry, 1 page." in out.getvalue()


@pytest.mark.parametrize(
    ("command", "arguments", "said"),
    [
        ("print_order", {"number": 7}, "no order 7"),
        ("print_logbook", {"month": "november"}, "is no month"),
        ("print_logbook", {"month": "2026-13"}, "is no month"),
        ("print_logbook", {"month": "2026-11", "mold": "none"}, "no mold none"),
    ],
)
def test_commands_say_what_is_wrong(
    command: str, arguments: dict[str, object], said: str, tmp_path: Path
) -> None:
    positional = [str(arguments.pop("number"))] if "number" in arguments else []
    with pytest.raises(CommandError, match=said):
        call_command(command, *positional, out=tmp_path / "x.pdf", **arguments)


def test_a_folder_that_is_not_there_is_said(mold: Mold, tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="cannot be written"):
        call_command("print_logbook", month="2026-11", out=tmp_path / "gone" / "x.pdf")


def test_a_place_and_a_choice_are_printed_in_words() -> None:
    facts = {
        "to": {"id": 31, "kind": "bench", "number": "4"},
        "condition": "needs_work",
        "note": "gate_7 is worn",
        "run": 387,
    }
    lines = {line.label: line.value for line in fact_lines(facts, zone=BERLIN, locale="en")}
    assert lines == {"to": "bench 4", "condition": "needs work", "note": "gate_7 is worn"}
