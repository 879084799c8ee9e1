"""A handover on paper: read back from its pages, short and long, in any writing."""

from dataclasses import replace
from io import BytesIO

import pytest
from pypdf import PdfReader

from moldcare.paper.frame import PaperSize
from moldcare.paper.handover import (
    HandoverDocument,
    HandoverPart,
    HandoverSignature,
    handover_pdf,
)

SIGNED = HandoverSignature(label="handed over", name="Anna", at="Wed 25 Nov 2026, 13:55", note="")
TAKEN = HandoverSignature(
    label="taken", name="Ben", at="Wed 25 Nov 2026, 14:05", note="Seen, will see to it."
)
OPEN = HandoverSignature(label="taken", name="", at="", note="")
DOCUMENT = HandoverDocument(
    language="en",
    shift="early",
    at="Wed 25 Nov 2026, 13:55",
    plant_name="Molding plant",
    entry_number=251,
    parts=[
        HandoverPart(title="Stands still", lines=[]),
        HandoverPart(
            title="Runs, and what is left",
            lines=[("M-7 (press 3)", "Wipe the vents: 22,072 of 48,000 shots.")],
        ),
        HandoverPart(title="Held readings", lines=[("", "More stand under held readings.")]),
    ],
    note="Press 3 drips.\nTray 4 holds the slide.",
    remark="",
    signatures=[SIGNED, OPEN],
    printed_at="Wed 25 Nov 2026, 14:00",
)


def read(document: HandoverDocument, *, paper_size: PaperSize = PaperSize.A4) -> tuple[str, int]:
    """The text of all pages, with one blank between words, and their number."""
    paper = handover_pdf(document, paper_size=paper_size)
    pages = PdfReader(BytesIO(paper.content)).pages
    assert len(pages) == paper.pages
    return " ".join(" ".join(page.extract_text() for page in pages).split()), len(pages)


@pytest.mark.parametrize("paper_size", list(PaperSize))
def test_everything_that_was_signed_stands_on_one_page(paper_size: PaperSize) -> None:
    said, pages = read(DOCUMENT, paper_size=paper_size)
    assert pages == 1
    in_order = [
        "M-7 (press 3)",
        "22,072 of 48,000 shots",
        "More stand under held readings.",
        "Stands still",
        "Press 3 drips.",
        "Tray 4 holds the slide.",
        "handed over",
        "Anna",
        "name, time",
        "entry no. 251 of the plant",
    ]
    at = [said.index(words) for words in in_order]
    assert at == sorted(at)
    assert "Nothing to say of" in said


def test_who_took_it_stands_in_place_of_the_line_to_sign_on() -> None:
    said, _pages = read(replace(DOCUMENT, signatures=[SIGNED, TAKEN]))
    assert "Ben" in said
    assert "Seen, will see to it." in said
    assert "name, time" not in said


def test_a_sheet_that_was_put_right_says_so_first() -> None:
    said, _pages = read(replace(DOCUMENT, remark="Put right by a newer one, entry no. 260."))
    assert said.index("Put right by a newer one") < said.index("M-7")


def test_many_molds_and_a_long_note_go_on_over_pages() -> None:
    lines = [(f"M-{n} (press {n})", f"Step {n} " + "is still to be done " * 6) for n in range(120)]
    long = replace(
        DOCUMENT,
        parts=[HandoverPart(title="Runs, and what is left", lines=lines)],
        note="\n".join(f"Line {n} of a long note." for n in range(90)),
    )
    said, pages = read(long)
    assert pages > 3
    assert all(f"M-{n} (press {n})" in said for n in range(120))
    assert all(f"Line {n} of a long note." in said for n in range(90))
    assert "Runs, and what is left, continued" in said
    assert said.index("Line 89 of") < said.index("handed over Anna")


def test_the_same_handover_prints_the_same_bytes() -> None:
    first = handover_pdf(DOCUMENT, paper_size=PaperSize.A4)
    assert first.content == handover_pdf(DOCUMENT, paper_size=PaperSize.A4).content


@pytest.mark.parametrize(
    "text", ["Größe ≤ 5 µm", '<b>& "quotes"</b>', "Pièce à côté", "金型を確認"]
)
def test_any_writing_and_any_signs_are_printed_as_they_are(text: str) -> None:
    said, _pages = read(replace(DOCUMENT, note=text))
    assert text in said
