"""The page that every document stands on."""

import hashlib
import io
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PdfReader
from reportlab.lib.units import mm

from moldcare.paper.frame import Paper, PaperSize
from moldcare.paper.logbook import logbook_pdf
from moldcare.paper.work_order import work_order_pdf
from tests.paper import samples
from tests.paper.reading import fonts, page_texts, squeezed, whole_text

FONT_FOLDER = Path(__file__).resolve().parents[2] / "static" / "fonts"


def printed(kind: str, paper_size: PaperSize = PaperSize.A4) -> Paper:
    if kind == "work order":
        return work_order_pdf(samples.usual_work_order(), paper_size=paper_size)
    if kind == "mold month":
        return logbook_pdf(samples.mold_month(), paper_size=paper_size)
    return logbook_pdf(samples.plant_month(entries_count=40), paper_size=paper_size)


KINDS = ["work order", "mold month", "plant month"]


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(
    ("paper_size", "width_mm", "height_mm"),
    # ISO 216 and ANSI/ASME Y14.1
    [(PaperSize.A4, 210, 297), (PaperSize.LETTER, 215.9, 279.4)],
)
def test_pages_have_the_plants_size(
    kind: str, paper_size: PaperSize, width_mm: float, height_mm: float
) -> None:
    for page in PdfReader(io.BytesIO(printed(kind, paper_size).content)).pages:
        assert float(page.mediabox.width) == pytest.approx(width_mm * mm, abs=0.1)
        assert float(page.mediabox.height) == pytest.approx(height_mm * mm, abs=0.1)


@pytest.mark.parametrize("kind", KINDS)
def test_every_page_says_which_of_how_many_it_is(kind: str) -> None:
    paper = printed(kind)
    texts = page_texts(paper)
    assert len(texts) == paper.pages
    for page, text in enumerate(texts, start=1):
        assert f"Page {page} of {paper.pages}" in text


@pytest.mark.parametrize("kind", KINDS)
def test_every_typeface_is_inside_the_file_as_a_subset(kind: str) -> None:
    paper = printed(kind)
    found = set(fonts(paper))
    assert found
    for name, is_embedded in found:
        assert is_embedded, name
        assert name[1:8].endswith("+"), name
    assert b"Helvetica" not in paper.content


@pytest.mark.parametrize("kind", KINDS)
def test_same_input_gives_the_same_bytes(kind: str) -> None:
    assert printed(kind).content == printed(kind).content


def test_another_process_gives_the_same_bytes() -> None:
    program = (
        "import django, hashlib; django.setup()\n"
        "from moldcare.paper.frame import PaperSize\n"
        "from moldcare.paper.work_order import work_order_pdf\n"
        "from tests.paper import samples\n"
        "paper = work_order_pdf(samples.usual_work_order(), paper_size=PaperSize.A4)\n"
        "print(hashlib.sha256(paper.content).hexdigest())\n"
    )
    settings = {"DJANGO_SETTINGS_MODULE": "moldcare.settings", "PYTHONHASHSEED": "11"}
    found = subprocess.run(
        [sys.executable, "-c", program],
        check=True,
        capture_output=True,
        text=True,
        cwd=FONT_FOLDER.parents[1],
        env={**os.environ, **settings},
    )
    ours = hashlib.sha256(printed("work order").content).hexdigest()
    assert found.stdout.strip() == ours


def test_typefaces_are_the_pinned_bytes() -> None:
    lines = (FONT_FOLDER / "VERSIONS").read_text().split("SHA-256\n")[1].splitlines()
    pinned = {line.split("  ")[1]: line.split("  ")[0] for line in lines}
    there = {
        path.name: hashlib.sha256(path.read_bytes()).hexdigest()
        for path in FONT_FOLDER.glob("*.ttf")
    }
    assert there == pinned


SIGNS_OF_MARKUP = [
    "0.010 < vent < 0.020 mm",
    "J&C",
    "<b>hot</b>",
    "a &amp; b",
    "<img src='file:///etc/hostname'/>",
    "</para>",
    "&#65;",
    "%(name)s %d",
]


@pytest.mark.parametrize("typed", SIGNS_OF_MARKUP)
def test_text_is_printed_as_it_was_typed(typed: str) -> None:
    order = samples.usual_work_order()
    task = replace(samples.vents_task(), name=typed, reason=typed)
    paper = work_order_pdf(
        replace(order, mold_name=typed, note=typed, owner=typed, place=typed, tasks=[task]),
        paper_size=PaperSize.A4,
    )
    assert squeezed(whole_text(paper)).count(squeezed(typed)) >= 6
    entry = samples.mold_month().entries[0]
    month = replace(
        samples.mold_month(), name=typed, entries=[replace(entry, sentence=typed, author=typed)]
    )
    log = logbook_pdf(month, paper_size=PaperSize.A4)
    assert squeezed(whole_text(log)).count(squeezed(typed)) >= 3


def test_double_blanks_and_lines_stay() -> None:
    month = samples.mold_month()
    entry = replace(month.entries[0], sentence="size  12\n\nsize  14")
    text = page_texts(logbook_pdf(replace(month, entries=[entry]), paper_size=PaperSize.A4))[0]
    lines = [line.replace("\u00a0", " ").strip() for line in text.splitlines()]
    assert "size  12" in lines
    assert "size  14" in lines


def test_names_and_signs_of_many_scripts_are_readable() -> None:
    people = ["Łukasz Ørsted", "王伟", "Дмитрий", "Ελένη", "김민준"]
    note = "⌀ 8 µm ≤ 0,02 · 25 °C · H₂O · ✓"
    paper = work_order_pdf(
        replace(samples.usual_work_order(), people=people, note=note), paper_size=PaperSize.A4
    )
    assert paper.missing_signs == ()
    for said in (*people, note):
        assert squeezed(said) in squeezed(whole_text(paper))


def test_sign_that_no_face_has_is_named_and_reported() -> None:
    order = replace(samples.usual_work_order(), note="Key 🔧 and \U0001f6e0, again 🔧")
    paper = work_order_pdf(order, paper_size=PaperSize.A4)
    assert paper.missing_signs == ("🔧", "\U0001f6e0")
    assert "Key [U+1F527] and [U+1F6E0], again [U+1F527]" in whole_text(paper)


def test_sign_missing_in_plate_head_and_foot_is_reported_too() -> None:
    order = replace(
        samples.small_work_order(),
        mold_number="04🔧",
        order_number="22\U0001f6e0",
        printed_by="Ruth \U0001f9ef",
    )
    paper = work_order_pdf(order, paper_size=PaperSize.A4)
    assert set(paper.missing_signs) == {"🔧", "\U0001f6e0", "\U0001f9ef"}
    assert "04[U+1F527]" in whole_text(paper)


def test_control_signs_do_not_break_a_document() -> None:
    typed = "a\x00b\x0bc\x1bd\ufffee"
    order = replace(samples.small_work_order(), note=typed, place=typed)
    paper = work_order_pdf(order, paper_size=PaperSize.A4)
    assert "a[U+0000]b[U+000B]c[U+001B]d[U+FFFE]e" in squeezed(whole_text(paper))
