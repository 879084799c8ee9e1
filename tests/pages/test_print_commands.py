"""Labels and mold records from the command line."""

import io
from pathlib import Path

import pypdf
import pytest
from django.core.management import CommandError, call_command

from moldcare.molds.models import Circuit
from moldcare.paper.frame import Paper
from tests import factories
from tests.paper.labels.pictures import codes, pictures

pytestmark = pytest.mark.django_db
NO_ADDRESSES = (
    "molds.plant.example",
    "ftp://molds.plant.example",
    "javascript:alert(1)",
    "https://",
    "https://molds.plant.example:port",
    "https://molds.plant.example:0",
    "https://molds.plant.example/?a=1",
    "https://molds plant",
    "https://[molds",
    "https://molds\n.example",
    "https://" + "m" * 130,
)


@pytest.fixture(autouse=True)
def plant() -> None:
    factories.plant()
    mold = factories.mold(number="0417", name="Dripper cap")
    Circuit.objects.create(mold=mold, ident="A1", half="A")
    factories.spot(kind="press", number="7")
    factories.spot(kind="rack", number="B4")


def pages_of(file: Path) -> str:
    return " ".join(page.extract_text() for page in pypdf.PdfReader(file).pages)


def test_labels_of_all_kinds_are_written_to_a_file(tmp_path: Path) -> None:
    out, said = tmp_path / "labels.pdf", io.StringIO()
    call_command(
        "print_labels",
        molds=["0417"],
        circuits=["0417"],
        presses=["7"],
        spots=["rack:B4"],
        out=out,
        stdout=said,
    )
    text = pages_of(out)
    for number in ("0417", "0417 A1", "7", "B4"):
        assert number in text
    assert "4 labels, 1 page." in said.getvalue()


def test_code_holds_the_address_where_one_was_given(tmp_path: Path) -> None:
    out = tmp_path / "labels.pdf"
    address = "https://molds.plant.example/"
    call_command("print_labels", molds=["0417"], address=address, out=out, stdout=io.StringIO())
    paper = Paper(content=out.read_bytes(), pages=1, missing_signs=())
    [picture] = pictures(paper, folder=tmp_path, dots_per_inch=300)
    assert ("QRCode", "https://molds.plant.example/molds/0417") in codes(picture)


@pytest.mark.parametrize(
    ("command", "asked"),
    [("print_labels", {"molds": ["0417"]}), ("print_mold_record", {"mold": "0417"})],
)
@pytest.mark.parametrize("address", NO_ADDRESSES)
def test_address_that_no_phone_opens_is_refused(
    command: str, asked: dict[str, object], address: str, tmp_path: Path
) -> None:
    out = tmp_path / "page.pdf"
    with pytest.raises(CommandError, match="Write the whole address"):
        call_command(command, **asked, address=address, out=out)
    assert not out.exists()


@pytest.mark.parametrize("typed", ["nan", "inf", "-11", "40", "a little"])
def test_offset_beyond_a_printer_s_is_refused(typed: str, tmp_path: Path) -> None:
    out = tmp_path / "labels.pdf"
    with pytest.raises(CommandError, match="no offset in mm"):
        call_command("print_labels", "--molds", "0417", f"--right={typed}", out=out)
    assert not out.exists()


def test_all_of_a_kind_are_printed(tmp_path: Path) -> None:
    factories.mold(number="0418")
    out = tmp_path / "labels.pdf"
    call_command("print_labels", all="molds", out=out, stdout=io.StringIO())
    assert "0417" in pages_of(out)
    assert "0418" in pages_of(out)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({}, "Choose first"),
        ({"molds": ["0417", "9999"]}, "9999 is not here"),
        ({"molds": ["0417"], "sheet": "nothing"}, "no label sheet"),
        ({"molds": ["0417"], "start": 99}, "cannot be no. 99"),
        (
            {"molds": ["0417"], "sheet": "25x15-203", "address": "https://molds.plant.example"},
            "does not fit",
        ),
    ],
)
def test_what_cannot_be_printed_is_said_and_no_file_is_written(
    asked: dict[str, object], said: str, tmp_path: Path
) -> None:
    out = tmp_path / "labels.pdf"
    with pytest.raises(CommandError, match=said):
        call_command("print_labels", out=out, **asked)
    assert not out.exists()


def test_record_of_a_mold_is_written_to_a_file(tmp_path: Path) -> None:
    out, said = tmp_path / "record.pdf", io.StringIO()
    call_command("print_mold_record", mold="0417", out=out, stdout=said)
    assert "Dripper cap" in pages_of(out)
    assert "mold 0417, 1 page." in said.getvalue()


def test_record_of_no_mold_and_a_file_that_cannot_be_written_are_said(tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="no mold 9999"):
        call_command("print_mold_record", mold="9999", out=tmp_path / "record.pdf")
    with pytest.raises(CommandError, match="cannot be written"):
        call_command("print_mold_record", mold="0417", out=tmp_path / "none" / "record.pdf")
    with pytest.raises(CommandError, match="cannot be written"):
        call_command("print_labels", molds=["0417"], out=tmp_path / "none" / "labels.pdf")
