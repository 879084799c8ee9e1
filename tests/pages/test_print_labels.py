"""The page that prints labels, and the page that a press's label opens."""

import io
from pathlib import Path
from urllib.parse import unquote

import pypdf
import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse

from moldcare.acts.refresh import refresh_counts
from moldcare.molds.models import Circuit, Mold
from moldcare.paper.frame import Paper
from moldcare.plant.models import Plant, Spot
from tests import factories
from tests.paper.labels.pictures import codes, pictures

pytestmark = pytest.mark.django_db
SMALL = "a4-5x13-38.1x21.2"


@pytest.fixture
def client() -> Client:
    factories.plant()
    client = Client()
    client.force_login(factories.person(role="technician"))
    return client


@pytest.fixture
def mold() -> Mold:
    mold = factories.mold(number="17/3 A", name="Dripper cap")
    refresh_counts(molds=[mold.pk])
    return mold


def labels(client: Client, **asked: object) -> list[str]:
    """Print labels and give the texts of their sheets."""
    answer = client.get(reverse("print-labels"), {"print": "labels", **asked})
    assert answer.status_code == 200
    assert answer.headers["Content-Type"] == "application/pdf"
    return [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(answer.content)).pages]


def test_code_of_a_mold_opens_its_page(client: Client, mold: Mold, tmp_path: Path) -> None:
    asked = {"print": "labels", "molds": mold.number, "address": "https://molds.plant.example"}
    answer = client.get(reverse("print-labels"), asked)
    paper = Paper(content=answer.content, pages=1, missing_signs=())
    [picture] = pictures(paper, folder=tmp_path, dots_per_inch=300)
    found = dict(codes(picture))
    assert found["Code128"] == "17/3 A"
    path = found["QRCode"].removeprefix("https://molds.plant.example")
    page = client.get(path)
    assert page.status_code == 200
    assert "Dripper cap" in page.content.decode()


def test_code_of_a_place_opens_its_page(client: Client, tmp_path: Path) -> None:
    rack = factories.spot(kind="rack", number="B4")
    asked = {"print": "labels", "spots": "rack:B4", "address": "http://molds.plant.example"}
    answer = client.get(reverse("print-labels"), asked)
    paper = Paper(content=answer.content, pages=1, missing_signs=())
    [picture] = pictures(paper, folder=tmp_path, dots_per_inch=300)
    path = dict(codes(picture))["QRCode"].removeprefix("http://molds.plant.example")
    page = client.get(path).content.decode()
    assert f"Rack {rack.number}" in page
    assert "No mold is here now." in page


def test_number_alone_is_in_the_code_where_that_was_chosen(
    client: Client, mold: Mold, tmp_path: Path
) -> None:
    asked = {"print": "labels", "molds": mold.number, "code": "number"}
    answer = client.get(reverse("print-labels"), asked)
    paper = Paper(content=answer.content, pages=1, missing_signs=())
    [picture] = pictures(paper, folder=tmp_path, dots_per_inch=300)
    assert dict(codes(picture))["QRCode"] == "17/3 A"


def test_all_circuits_of_a_mold_get_labels(client: Client) -> None:
    mold = factories.mold(number="0417")
    for ident, half in (("A1", "A"), ("B1", "B")):
        Circuit.objects.create(mold=mold, ident=ident, half=half)
    [text] = labels(client, circuits="0417")
    assert "0417 A1" in text
    assert "0417 B1" in text


def test_molds_are_chosen_by_a_part_of_number_or_name_and_unticked(client: Client) -> None:
    for number, name in (("0417", "Cap"), ("0418", "Cap"), ("0500", "Base")):
        factories.mold(number=number, name=name)
    page = client.get(reverse("print-labels"), {"what": "molds", "q": "cap"}).content.decode()
    assert page.count(" checked>") == 2
    assert "0500" not in page
    asked = {"what": "molds", "q": "cap", "listed": "molds cap", "molds": ["0418"]}
    text = "".join(labels(client, **asked))
    assert "0418" in text
    assert "0417" not in text


def test_ticks_of_another_list_are_not_taken_for_those_of_this_one(client: Client) -> None:
    factories.mold(number="0417", name="Cap")
    asked = {"what": "molds", "q": "0417", "listed": "molds cap"}
    page = client.get(reverse("print-labels"), asked).content.decode()
    assert page.count(" checked>") == 1


def test_sheet_chosen_last_is_remembered_and_one_of_another_paper_refused(
    client: Client, mold: Mold
) -> None:
    address = reverse("print-labels")
    labels(client, molds=mold.number, sheet=SMALL, down="-0,5")
    page = client.get(address).content.decode()
    assert f'value="{SMALL}" selected' in page
    assert 'value="-0,5"' in page
    asked = {"print": "labels", "molds": mold.number, "sheet": SMALL, "paper": "Letter"}
    refused = client.get(address, asked)
    assert refused.status_code == 422
    assert "the printer holds Letter paper" in refused.content.decode()


def test_sheets_are_those_of_the_plants_paper(client: Client) -> None:
    Plant.objects.update(paper="Letter")
    page = client.get(reverse("print-labels")).content.decode()
    assert "Letter, 3 x 10, 66.7 x 25.4 mm" in page
    assert "A4, 3 x 7" not in page


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("start", "22", "cannot be no. 22"),
        ("start", "x", "cannot be read"),
        ("right", "40", "at most 10"),
        ("address", "molds.plant", "whole address"),
        ("address", "http://molds:port", "whole address"),
        ("address", "http://[molds", "whole address"),
        ("sheet", "nothing", "no label sheet"),
    ],
)
def test_wrong_choice_gets_a_sentence_and_no_file(
    client: Client, mold: Mold, field: str, typed: str, said: str
) -> None:
    asked = {"print": "labels", "molds": mold.number, field: typed}
    answer = client.get(reverse("print-labels"), asked)
    assert answer.status_code == 422
    assert said in answer.content.decode()


def test_nothing_chosen_is_said(client: Client) -> None:
    answer = client.get(reverse("print-labels"), {"print": "labels"})
    assert answer.status_code == 422
    assert "Choose first what gets a label" in answer.content.decode()


def test_page_says_which_labels_have_no_bars_and_why(client: Client) -> None:
    factories.mold(number="Форма 12")
    factories.mold(number="WZ-000123456789012345678")
    asked = {"molds": ["Форма 12", "WZ-000123456789012345678"], "sheet": SMALL}
    page = client.get(reverse("print-labels"), asked).content.decode()
    assert "Without bars, for want of room:</b> WZ-000123456789012345678" in page
    assert "figures and common signs:</b> Форма 12" in page


def test_page_says_where_a_code_does_not_fit_and_what_helps(client: Client, mold: Mold) -> None:
    asked = {"molds": mold.number, "sheet": "25x15-203"}
    page = client.get(reverse("print-labels"), asked).content.decode()
    assert "The code does not fit on this sheet:</b> 17/3 A" in page


def test_codes_that_open_only_on_this_machine_are_said(client: Client, mold: Mold) -> None:
    asked = {"molds": mold.number, "address": "http://127.0.0.1:8000"}
    page = client.get(reverse("print-labels"), asked).content.decode()
    assert "open only on this machine" in page
    named = {**asked, "address": "http://molds.plant.example"}
    assert "open only on this machine" not in (
        client.get(reverse("print-labels"), named).content.decode()
    )


@pytest.mark.parametrize(
    ("address", "is_said"),
    [
        ("http://localhost:8000", True),
        ("http://[::1]:8000", True),
        ("http://127.0.0.1", True),
        ("http://localhost.plant.example", False),
        ("http://127.0.0.1.plant.example", False),
    ],
)
def test_this_machine_is_told_from_servers_that_are_called_like_it(
    client: Client, mold: Mold, address: str, is_said: bool
) -> None:
    page = client.get(reverse("print-labels"), {"molds": mold.number, "address": address})
    assert ("open only on this machine" in page.content.decode()) == is_said


def test_test_sheet_needs_nothing_chosen(client: Client) -> None:
    answer = client.get(reverse("print-labels"), {"print": "rulers"})
    assert answer.status_code == 200
    [page] = pypdf.PdfReader(io.BytesIO(answer.content)).pages
    assert "Print at 100 %" in page.extract_text()


def test_page_of_a_press_shows_what_is_there_its_counter_and_what_comes(client: Client) -> None:
    lead = factories.person(role="lead")
    press = factories.spot(kind="press", number="7")
    mold = factories.mold(number="0417")
    at = factories.ENTERED_AT
    factories.set_in_press(mold, press=press, author=lead, at=at)
    factories.counter(on=press, author=lead, label="Press 7 cycles")
    page = client.get(reverse("spot", kwargs={"kind": "press", "spot_number": "7"}))
    text = page.content.decode()
    assert "Press 7" in text
    assert "Press 7 cycles" in text
    assert "presses=7" in text


@pytest.mark.parametrize("number", ["7/2", "..", "Werk Süd ~1", "a\\b"])
def test_place_of_any_number_has_a_page(client: Client, number: str) -> None:
    factories.spot(kind="bench", number=number)
    address = reverse("spot", kwargs={"kind": "bench", "spot_number": number})
    assert client.get(address).status_code == 200
    assert unquote(address).count("/") == 3


def test_place_that_is_not_there_is_said(client: Client) -> None:
    assert not Spot.objects.filter(number="99").exists()
    address = reverse("spot", kwargs={"kind": "press", "spot_number": "99"})
    assert client.get(address).status_code == 404


@pytest.mark.parametrize("what", ["molds", "circuits", "presses", "spots"])
def test_number_that_names_nothing_is_said_and_nothing_printed(
    client: Client, mold: Mold, what: str
) -> None:
    asked = {"print": "labels", "molds": [mold.number], "address": "https://molds.plant.example"}
    asked[what] = [*asked.get(what, []), "M-9999"]
    answer = client.get(reverse("print-labels"), asked)
    assert answer.headers["Content-Type"].startswith("text/html")
    assert "M-9999 is not here." in answer.content.decode()
    # what is there stays chosen
    assert f'value="{mold.number}"' in answer.content.decode()


def test_command_refuses_a_number_that_names_nothing(
    client: Client, mold: Mold, tmp_path: Path
) -> None:
    out = tmp_path / "labels.pdf"
    with pytest.raises(CommandError, match=r"M-9998, M-9999 are not here"):
        call_command("print_labels", "--molds", mold.number, "M-9998", "M-9999", out=out)
    assert not out.exists()
