"""The pages of handovers, and their paper."""

import re
from collections.abc import Callable
from datetime import timedelta
from io import BytesIO

import pytest
from django.test import Client
from pypdf import PdfReader

from moldcare.acts.doing import Doing
from moldcare.acts.floor import set_mold
from moldcare.acts.refresh import refresh_counts
from moldcare.molds.models import Mold
from moldcare.plant.models import Person
from moldcare.work.models import Handover, HandoverTaken, PartOut, PassedOn
from tests import factories

pytestmark = pytest.mark.django_db
ClientOf = Callable[[str], Client]


@pytest.fixture
def anna() -> Person:
    factories.plant()
    return factories.person(name="Anna", role="technician", pin="2904", badge="4711")


@pytest.fixture
def ben() -> Person:
    return factories.person(name="Ben", role="technician", pin="7391", badge="4712")


@pytest.fixture
def client(anna: Person) -> Client:
    client = Client()
    client.force_login(anna)
    return client


@pytest.fixture
def running(anna: Person, doing: Doing) -> Mold:
    mold = factories.counted_mold(number="M-7")
    set_mold(doing, mold=mold, press=factories.spot(number="3"), at=doing.now - timedelta(hours=9))
    rule = factories.care_rule(mold=mold, name="Wipe the vents")
    order = factories.order(mold, rules=[rule], author=doing.person, begun_at=doing.now)
    said = {"order": order, "at": doing.now, "person": doing.person, "written_at": doing.now}
    PassedOn.objects.create(note="slide is out, mind the spring", **said)
    PartOut.objects.create(what="slide B", lies="tray 4", **said)
    refresh_counts(molds=[mold.pk])
    return mold


def sections_of(page: str) -> dict[str, str]:
    found = re.findall(
        r'<section class="ledger" aria-labelledby="part-(\w+)">(.*?)</section>', page, re.S
    )
    return dict(found)


def test_what_the_next_shift_must_know_is_read_from_the_plant(
    client: Client, running: Mold, clock: object
) -> None:
    page = client.get("/handover").content.decode()
    parts = sections_of(page)
    assert set(parts) == {"running", "open_steps", "parts_out"}
    assert "/molds/M-7" in parts["running"]
    assert "<b>Press 3.</b>" in parts["running"]
    assert "Wipe the vents" in parts["running"]
    assert "slide is out, mind the spring" in parts["open_steps"]
    assert "slide B: lies tray 4" in parts["parts_out"]


def test_a_shift_is_given_and_taken_at_one_tablet(
    client: Client, running: Mold, ben: Person, clock: object
) -> None:
    shift = re.search(r'name="shift" value="([^"]+)"', client.get("/handover").content.decode())
    assert shift
    given = client.post(
        "/handover", {"shift": shift[1], "note": "Press 3 drips.", "badge": "", "pin": "2904"}
    )
    row = Handover.objects.get()
    assert given.headers["Location"] == f"/handover/{row.pk}"
    assert "Nobody has taken it yet" in client.get(f"/handover/{row.pk}").content.decode()
    assert "Waits to be taken" in client.get("/handover").content.decode()

    wrong = client.post(
        f"/handover/{row.pk}", {"badge": "*4712*", "pin": "0000", "note": "read it"}
    )
    assert wrong.status_code == 422
    page = wrong.content.decode()
    assert "do not belong together" in page
    assert "read it" in page
    taken = client.post(f"/handover/{row.pk}", {"badge": "*4712*", "pin": "7391", "note": ""})
    assert taken.status_code == 302
    assert HandoverTaken.objects.get().person == ben
    page = client.get(f"/handover/{row.pk}").content.decode()
    assert "Taken by Ben" in page
    assert 'id="take"' not in page
    # what was signed stays as it stood, whatever happens later
    PartOut.objects.create(
        order=PartOut.objects.get().order,
        what="core pin",
        lies="bench 1",
        at=row.at,
        person=ben,
        written_at=row.at,
    )
    assert "core pin" not in client.get(f"/handover/{row.pk}").content.decode()
    assert "core pin" in client.get("/handover").content.decode()


def test_a_note_is_put_right_and_the_old_one_says_so(
    client: Client, running: Mold, clock: object
) -> None:
    client.post("/handover", {"shift": shifts(client)[0], "note": "Press 3 drips.", "pin": "2904"})
    old = Handover.objects.get()
    fields = {"note": "Press 4 drips.", "reason": "wrong press", "pin": "2904"}
    answer = client.post(f"/handover/{old.pk}/correct", fields)
    newer = Handover.objects.exclude(pk=old.pk).get()
    assert answer.headers["Location"] == f"/handover/{newer.pk}"
    assert "This one was put right." in client.get(f"/handover/{old.pk}").content.decode()
    assert "Press 4 drips." in client.get(f"/handover/{newer.pk}").content.decode()
    assert "Do not work from this sheet" in text_of(client, old)
    assert client.get("/handover/999999").status_code == 404


def shifts(client: Client) -> list[str]:
    return re.findall(r'name="shift" value="([^"]+)"', client.get("/handover").content.decode())


def text_of(client: Client, row: Handover, paper: str = "A4") -> str:
    answer = client.get(f"/handover/{row.pk}/handover.pdf", {"paper": paper})
    assert answer.headers["Content-Type"] == "application/pdf"
    pages = PdfReader(BytesIO(answer.content)).pages
    width, height = (round(float(side)) for side in pages[0].mediabox[2:])
    # ISO 216 and ANSI/ASME Y14.1, in points of 1/72 inch
    assert (width, height) == {"A4": (595, 842), "Letter": (612, 792)}[paper]
    return " ".join(" ".join(page.extract_text() for page in pages).split())


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_paper_says_what_the_page_says(
    client: Client, running: Mold, ben: Person, clock: object, paper: str
) -> None:
    client.post("/handover", {"shift": shifts(client)[0], "note": "Press 3 drips.", "pin": "2904"})
    row = Handover.objects.get()
    said = text_of(client, row, paper)
    for words in ("Handover", "M-7 (press 3)", "slide B: lies tray 4", "Press 3 drips.", "Anna"):
        assert words in said
    assert "Ben" not in said
    client.post(f"/handover/{row.pk}", {"badge": "4712", "pin": "7391", "note": "Seen."})
    assert "Ben" in text_of(client, row, paper)


def test_a_reader_looks_and_does_not_sign(client_of: ClientOf, running: Mold) -> None:
    page = client_of("reader").get("/handover")
    assert page.status_code == 200
    assert b'id="give"' not in page.content
    assert client_of("reader").post("/handover", {"pin": "1"}).status_code == 403
