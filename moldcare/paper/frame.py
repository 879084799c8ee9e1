"""The page that every document stands on: head with plate, foot with page x of y."""

import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from django.utils.translation import gettext as _
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, NextPageTemplate, PageTemplate

from moldcare.paper import marks
from moldcare.paper.styles import BODY, LABEL, LINE, SOFT_INK, TITLE, paragraph
from moldcare.paper.typefaces import BOLD, TEXT, Typesetter

# Room on the left for the holes of a binder.
LEFT: float = 20 * mm
RIGHT: float = 14 * mm
TOP: float = 12 * mm
BOTTOM: float = 20 * mm
HEAD_TO_RULE = 8.0
HEAD_TO_BODY = 12.0


class PaperSize(StrEnum):
    """The sizes a plant's printers hold."""

    A4 = "A4"
    LETTER = "Letter"


_MEASURES = {PaperSize.A4: A4, PaperSize.LETTER: LETTER}


def width_of(paper_size: PaperSize) -> float:
    """Return the width of a page between its margins, in points."""
    return float(_MEASURES[paper_size][0]) - LEFT - RIGHT


@dataclass(frozen=True, kw_only=True, slots=True)
class Paper:
    """A printed document.

    `missing_signs` are those that no embedded face has: each stands there as its code point,
    and the page that made the document says so.
    """

    content: bytes
    pages: int
    missing_signs: tuple[str, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class PageHead:
    """What stands at the head of the first page, and in one line on those that follow."""

    plate: str
    title: str
    subtitle: str = ""
    code_text: str = ""
    code_note: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class FootLine:
    """One line at the foot of every page."""

    text: str
    face: str = TEXT


class _Head:
    """Lays out and draws the head of the first page and of those that follow."""

    def __init__(self, head: PageHead, *, typesetter: Typesetter, width: float) -> None:
        self.head, self.typesetter, self.width = head, typesetter, width
        self.plate = marks.plate_measures(
            typesetter, head.plate or "-", size=27, most_width=width * 0.42
        )
        self.plate_width = self.plate.width + 14 if head.plate else 0.0
        self.code = marks.code_size(head.code_text) if head.code_text else 0.0
        self.note = paragraph(typesetter, head.code_note, style=LABEL)
        self.note_height = (
            self.note.wrap(self.code, 200)[1] if head.code_text and head.code_note else 0.0
        )
        self.words = [paragraph(typesetter, head.title, style=TITLE)]
        if head.subtitle:
            self.words.append(paragraph(typesetter, head.subtitle, style=BODY))
        self.words_width = width - self.plate_width - (self.code + 6 if self.code else 0)
        self.heights = [words.wrap(self.words_width, 4000)[1] for words in self.words]
        # the code's own blank rim stands in the margin around it
        rim = marks.CODE_RIM_SQUARES * marks.CODE_SQUARE if self.code else 0.0
        self.height = max(
            self.plate.height if head.plate else 0.0,
            sum(self.heights) + 2,
            self.code - rim + self.note_height,
        )
        self.rim = rim
        self.small = marks.plate_measures(
            typesetter, head.plate or "-", size=11, most_width=width * 0.3
        )

    def draw_first(self, canvas: Canvas, *, x: float, top: float) -> None:
        head = self.head
        if head.plate:
            marks.draw_plate(
                canvas,
                self.typesetter,
                head.plate,
                x=x,
                y=top - self.plate.height,
                measures=self.plate,
            )
        spare = (self.plate.height if head.plate else 0.0) - sum(self.heights)
        y = top + 2 - max(0.0, spare / 2)
        for words, height in zip(self.words, self.heights, strict=True):
            y -= height
            words.drawOn(canvas, x + self.plate_width, y)
        if head.code_text:
            left = x + self.width - self.code + self.rim
            marks.draw_code(canvas, head.code_text, x=left, y=top - self.code + self.rim)
            if head.code_note:
                self.note.drawOn(
                    canvas, left + self.rim, top - self.code + self.rim * 1.4 - self.note_height
                )
        marks.draw_double_rule(canvas, x=x, y=top - self.height - HEAD_TO_RULE, width=self.width)

    def draw_later(self, canvas: Canvas, *, x: float, top: float) -> None:
        head = self.head
        at = x
        if head.plate:
            marks.draw_plate(
                canvas,
                self.typesetter,
                head.plate,
                x=x,
                y=top - self.small.height,
                measures=self.small,
            )
            at += self.small.width + 8
        said = _("continued")
        said_width = marks.line_width(self.typesetter, said, face=TEXT, size=7.4)
        room = x + self.width - at - said_width - 8
        title = marks.fitted(self.typesetter, head.title, width=room, face=BOLD, size=9)
        middle = top - self.small.height / 2 - 3
        marks.draw_runs(canvas, self.typesetter, title, x=at, y=middle, face=BOLD, size=9)
        marks.draw_runs(
            canvas,
            self.typesetter,
            said,
            x=x + self.width,
            y=middle,
            face=TEXT,
            size=7.4,
            ink=SOFT_INK,
            is_right=True,
        )
        marks.draw_double_rule(
            canvas, x=x, y=top - self.small.height - HEAD_TO_RULE, width=self.width
        )


def _foot_drawn(
    canvas: Canvas,
    *,
    typesetter: Typesetter,
    foot: Sequence[FootLine],
    width: float,
    page: int,
    pages: int,
) -> None:
    """Draw the foot: who printed it when, what binds it, page x of y."""
    canvas.saveState()
    canvas.setStrokeColor(LINE)
    canvas.setLineWidth(0.6)
    y = BOTTOM - 11
    canvas.line(LEFT, y, LEFT + width, y)
    of_pages = _("Page %(page)d of %(pages)d") % {"page": page, "pages": pages}
    marks.draw_runs(
        canvas,
        typesetter,
        of_pages,
        x=LEFT + width,
        y=y - 11,
        face=BOLD,
        size=8,
        is_right=True,
    )
    room = width - marks.line_width(typesetter, of_pages, face=BOLD, size=8) - 14
    y -= 10
    for line in foot:
        size = 6.6 if line.face == TEXT else 5.9
        said = marks.fitted(typesetter, line.text, width=room, face=line.face, size=size)
        marks.draw_runs(
            canvas, typesetter, said, x=LEFT, y=y, face=line.face, size=size, ink=SOFT_INK
        )
        y -= 8.6
    canvas.restoreState()


def build_paper(
    story: Iterable[Flowable],
    *,
    typesetter: Typesetter,
    head: PageHead,
    foot: Sequence[FootLine],
    paper_size: PaperSize,
    language: str,
    subject: str = "",
) -> Paper:
    """Set a story on pages. The same input gives the same bytes.

    What stands on its page is let go: a long story is handed over as an iterator.
    """
    page_width, page_height = _MEASURES[paper_size]
    width = page_width - LEFT - RIGHT
    top = page_height - TOP
    drawn_head = _Head(head, typesetter=typesetter, width=width)
    finished: list[int] = []

    class NumberedCanvas(Canvas):  # type: ignore[misc]
        """Keeps the pages back until their number is known."""

        def __init__(self, *arguments: Any, **options: Any) -> None:
            # without a face of ours to begin with, every page would name one of the reader's own
            options["initialFontName"] = TEXT
            super().__init__(*arguments, **options)
            self._kept: list[dict[str, Any]] = []

        def showPage(self) -> None:
            self._kept.append(dict(self.__dict__))
            self._startPage()

        def save(self) -> None:
            for page, kept in enumerate(self._kept, start=1):
                self.__dict__.update(kept)
                _foot_drawn(
                    self,
                    typesetter=typesetter,
                    foot=foot,
                    width=width,
                    page=page,
                    pages=len(self._kept),
                )
                super().showPage()
            finished.append(len(self._kept))
            super().save()

    def first(canvas: Canvas, _document: BaseDocTemplate) -> None:
        drawn_head.draw_first(canvas, x=LEFT, top=top)

    def later(canvas: Canvas, _document: BaseDocTemplate) -> None:
        drawn_head.draw_later(canvas, x=LEFT, top=top)

    # a head that would fill the page leaves room for the rest of the document
    first_height = min(drawn_head.height, page_height * 0.5)

    def frame(name: str, head_height: float) -> Frame:
        return Frame(
            LEFT,
            BOTTOM,
            width,
            top - head_height - HEAD_TO_BODY - BOTTOM,
            leftPadding=0,
            rightPadding=0,
            topPadding=0,
            bottomPadding=0,
            id=name,
        )

    buffer = io.BytesIO()
    document = BaseDocTemplate(
        buffer,
        pagesize=(page_width, page_height),
        title=head.title,
        author="moldcare",
        subject=subject,
        creator="moldcare",
        lang=language,
        invariant=1,
        pageTemplates=[
            PageTemplate("first", [frame("first", first_height)], onPage=first),
            PageTemplate("later", [frame("later", drawn_head.small.height)], onPage=later),
        ],
    )
    document.build([NextPageTemplate("later"), *story], canvasmaker=NumberedCanvas)
    return Paper(
        content=buffer.getvalue(),
        pages=finished[-1],
        missing_signs=typesetter.missing_signs,
    )
