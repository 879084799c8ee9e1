"""What an auditor finds on the record of a mold.

The clauses of IATF 16949:2016 are named beside the check of what they ask for, in our own words.
"""

import io
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pypdf
import pytest
from django.test import Client
from django.urls import reverse
from PIL import Image

from moldcare.acts.doing import Doing
from moldcare.acts.files import add_file
from moldcare.acts.refresh import refresh_counts
from moldcare.files import store
from moldcare.files.models import File
from moldcare.molds.models import (
    Component,
    ConditionNote,
    Fitting,
    MarkingPhoto,
    Mold,
    Position,
    Supply,
)
from moldcare.molds.queries import MODIFICATION
from moldcare.pages.printing.mold_record import mold_record
from moldcare.paper.frame import PaperSize
from moldcare.paper.mold_record import MoldRecord, mold_record_pdf
from moldcare.plant.models import Person, Qualification
from tests import factories
from tests.paper.reading import whole_text

pytestmark = pytest.mark.django_db
START = factories.ENTERED_AT
NOW = START + timedelta(days=20)


@pytest.fixture
def lead() -> Person:
    factories.plant()
    return factories.person(role="lead", name="Ruth Okafor")


@pytest.fixture
def mold(lead: Person) -> Mold:
    owner = factories.owner(name="Asterline Irrigation", is_customer=True, retention_years=15)
    mold = factories.mold(
        number="0417",
        name="Dripper cap",
        owner=owner,
        mold_class="101",
        drawing_revision="C",
        resin="POM",
        mass_a_kg=Decimal(420),
        opening_count=300_000,
        opening_source="the old mold card",
    )
    press, rack = factories.spot(number="7"), factories.spot(kind="rack", number="B4")
    factories.set_in_press(mold, press=press, author=lead, at=START + timedelta(hours=1))
    factories.move(mold, to=rack, author=lead, at=START + timedelta(days=3))
    counter = factories.counter(on=mold, author=lead)
    hours = [(8, 2_000), (16, 4_000)]
    factories.readings(
        counter,
        rows=[(START + timedelta(hours=hour), value) for hour, value in hours],
        author=lead,
    )
    refresh_counts(counters=[counter.pk], molds=[mold.pk])
    return mold


def record_of(mold: Mold) -> MoldRecord:
    return mold_record(mold, at=NOW, printed_by="Ruth Okafor")


def text_of(mold: Mold) -> str:
    return whole_text(mold_record_pdf(record_of(mold), paper_size=PaperSize.A4))


def section(mold: Mold, title: str) -> str:
    [found] = [each for each in record_of(mold).sections if each.title == title]
    return " ".join(f"{lead} {said}" for lead, said in found.lines) + found.more


def fact(mold: Mold, label: str) -> list[str]:
    [found] = [each for each in record_of(mold).facts if each.label == label]
    return list(found.lines)


def test_people_and_places_of_maintenance_are_named(mold: Mold, lead: Person) -> None:
    """8.5.1.6 a: where and by whom tools are maintained and repaired."""
    factories.care_rule(mold=mold, qualification="hot runner", where_done="bench")
    able = factories.person(name="Ines Vogt")
    Qualification.objects.create(
        person=able,
        subject="hot runner",
        evidence="course",
        valid_from=date(2025, 1, 1),
        written_at=START,
    )
    said = section(mold, "people")
    assert "hot runner: Ines Vogt" in said
    assert "Care is done:" in said


def test_qualification_that_lapsed_is_nobodys(mold: Mold) -> None:
    """8.5.1.6 a."""
    factories.care_rule(mold=mold, qualification="hot runner")
    once = factories.person(name="Ines Vogt")
    Qualification.objects.create(
        person=once,
        subject="hot runner",
        evidence="course",
        valid_from=date(2025, 1, 1),
        valid_to=date(2025, 6, 1),
        written_at=START,
    )
    assert "hot runner: nobody at present" in section(mold, "people")


def test_storage_and_recovery_are_shown(mold: Mold) -> None:
    """8.5.1.6 b: where a tool is stored, and that it was taken out and put back."""
    said = section(mold, "storage")
    assert "rack B4: since" in said
    assert "press 7:" in said


def test_set_up_is_shown(mold: Mold) -> None:
    """8.5.1.6 c: set-up of the tool."""
    said = section(mold, "set-up")
    assert "press 7: set" in said
    assert "by Ruth Okafor" in said


def test_change_plan_of_wearing_parts_is_shown(mold: Mold) -> None:
    """8.5.1.6 d: a plan by which perishable tools are changed."""
    position = Position.objects.create(mold=mold, ident="core 1")
    rule = factories.care_rule(
        mold=mold, name="Change the core pin", target="position", position=position
    )
    factories.care_rule(mold=mold, name="Wipe the vents")
    refresh_counts(molds=[mold.pk])
    said = section(mold, "wearing parts")
    assert rule.name in said
    assert "Wipe the vents" not in said


def test_modifications_with_their_revision_are_shown(mold: Mold, lead: Person) -> None:
    """8.5.1.6 e and f: changes of the tool are documented, with the revision of the drawing."""
    factories.entry(
        mold.chain,
        author=lead,
        kind=MODIFICATION,
        sentence="Modification: gate widened to 1.2 mm. Drawing revision: B → C.",
    )
    said = section(mold, "changes")
    assert "Drawing revision: C" in said
    assert "gate widened to 1.2 mm" in said
    assert "Ruth Okafor" in said


def test_tool_is_identified_by_its_number(mold: Mold) -> None:
    """8.5.1.6 g: a serial or asset number."""
    record = record_of(mold)
    assert record.number == "0417"
    assert "0417" in text_of(mold)


@pytest.mark.parametrize(
    ("condition", "said"),
    [("fit", "fit to run"), ("needs_work", "needs work"), ("out_of_use", "out of use")],
)
def test_status_is_shown(mold: Mold, lead: Person, condition: str, said: str) -> None:
    """8.5.1.6 g: whether it is in production, under repair or to be disposed of."""
    ConditionNote.objects.create(
        mold=mold, at=START + timedelta(days=4), condition=condition, person=lead, written_at=START
    )
    assert said in fact(mold, "condition")[0]


def test_ownership_and_place_are_shown(mold: Mold) -> None:
    """8.5.1.6 g: whose it is, and where."""
    assert fact(mold, "owner")[:2] == ["Asterline Irrigation", "customer's property"]
    assert fact(mold, "place")[0] == "rack B4"


def plate_photo(lead: Person) -> File:
    made = io.BytesIO()
    Image.new("RGB", (60, 40), "silver").save(made, "PNG")
    kept = add_file(Doing(person=lead, now=START), content=made.getvalue(), name="plate.png")
    return File.objects.get(pk=kept.pk)


def test_customers_property_is_marked_to_be_seen(mold: Mold, lead: Person) -> None:
    """8.5.1.6, last part: a customer's tool is marked for good, so that its owner can be seen."""
    assert "No photo of its plate and marking yet." in record_of(mold).marking.said
    MarkingPhoto.objects.create(
        mold=mold,
        file=plate_photo(lead),
        at=START,
        shows="number and owner, stamped",
        person=lead,
        entry=factories.entry(mold.chain, author=lead),
        written_at=START,
    )
    found = record_of(mold).marking
    assert "Property of Asterline Irrigation." in found.said
    assert "It shows: number and owner, stamped." in found.said
    [page] = pypdf.PdfReader(
        io.BytesIO(mold_record_pdf(record_of(mold), paper_size=PaperSize.A4).content)
    ).pages
    assert len(page.images) == 1


def test_photo_that_is_gone_from_the_store_is_said(mold: Mold, lead: Person) -> None:
    photo = plate_photo(lead)
    MarkingPhoto.objects.create(
        mold=mold,
        file=photo,
        at=START,
        person=lead,
        entry=factories.entry(mold.chain, author=lead),
        written_at=START,
    )
    store.path_of(photo.sha256).unlink()
    assert "not in the store any more" in text_of(mold)


def test_records_are_kept_as_long_as_was_agreed(mold: Mold) -> None:
    """7.5.3.2.1: records of tools are kept as long as the owner asks."""
    on = date(NOW.year + 15, NOW.month, NOW.day)
    assert str(on.year) in fact(mold, "records kept until")[0]
    mold.owner = None
    mold.save()
    assert fact(mold, "records kept until") == ["nothing agreed"]
    assert fact(mold, "owner") == ["the plant's own"]


def test_life_count_says_how_well_it_is_known(mold: Mold) -> None:
    said = " ".join(" ".join(line) for line in record_of(mold).life.lines).replace("\u00a0", " ")
    assert "304,000 cycles" in said
    assert "300,000 cycles of them before our records" in said
    assert "on the word of the old mold card" in said
    assert "0 % of what was counted since then is estimated" in said
    assert "No reading is held." in said


def test_spare_parts_and_what_sits_in_it_are_shown(mold: Mold, lead: Person) -> None:
    """8.5.1.5: spare parts of key equipment are at hand."""
    supply = Supply.objects.create(
        number="S-12", name="O-ring 24 x 2.5", unit="pieces", minimum=8, place="drawer 3"
    )
    supply.molds.add(mold)
    position = Position.objects.create(mold=mold, ident="core 1")
    piece = Component.objects.create(serial="1001-K1", name="core")
    Fitting.objects.create(
        component=piece, position=position, at=START, person=lead, written_at=START
    )
    assert "S-12 O-ring 24 x 2.5: at least 8" in section(mold, "spare parts")
    assert "drawer 3" in section(mold, "spare parts")
    assert "core 1: core 1001-K1" in section(mold, "parts in it")


def test_rules_say_state_reason_and_last_work(mold: Mold, lead: Person) -> None:
    rule = factories.care_rule(mold=mold, name="Wipe the vents", count_base=3_000)
    factories.completion(rule, author=lead, at=START + timedelta(hours=2))
    refresh_counts(molds=[mold.pk])
    [line] = record_of(mold).rules
    assert line.name == "Wipe the vents."
    assert line.state_text
    assert "3,000" in line.said
    assert "Ruth Okafor" in line.last_done


def test_mold_of_which_nothing_is_known_has_a_record() -> None:
    factories.plant()
    text = text_of(factories.mold(number="0001", name=""))
    for said in ("not known", "No care rule is in force.", "No signed order yet."):
        assert said in text


def test_record_is_in_the_plants_language_and_zone(mold: Mold) -> None:
    record = mold_record(
        mold, at=datetime(2026, 1, 5, 23, 30, tzinfo=UTC), printed_by="Ruth Okafor"
    )
    assert record.printed_at.replace("\u00a0", " ") == "6 Jan 2026, 00:30"


def test_page_gives_the_record_as_a_file(mold: Mold, lead: Person) -> None:
    client = Client()
    client.force_login(lead)
    answer = client.get(reverse("mold-record", kwargs={"number": "0417"}))
    assert answer.headers["Content-Type"] == "application/pdf"
    assert "0417" in pypdf.PdfReader(io.BytesIO(answer.content)).pages[0].extract_text()
    missing = client.get(reverse("mold-record", kwargs={"number": "nothing"}))
    assert missing.status_code == 404
