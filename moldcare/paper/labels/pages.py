"""Draws labels on their stock, and the sheet that shows how far a printer is off."""

import io
from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _
from reportlab.graphics.barcode.code128 import Code128
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from moldcare.core.errors import LabelsRefused
from moldcare.paper import marks
from moldcare.paper.frame import Paper
from moldcare.paper.labels.document import Label, LabelsDocument
from moldcare.paper.labels.layout import (
    BAR_RIM_MODULES,
    EDGE_MM,
    Bars,
    Box,
    LabelLayout,
    label_layout,
)
from moldcare.paper.styles import INK, SOFT_INK, WHITE
from moldcare.paper.text import RunningText, runs_of
from moldcare.paper.typefaces import BOLD, NUMBER, TEXT, Typesetter

MOST_LABELS = 1_000
MOST_NUMBER_SIZE, SMALL_NUMBER_SIZE, LEAST_NUMBER_SIZE = 34.0, 9.0, 4.0
_SIZE_STEP = 0.92
_LEADING = 1.12
# the line above the number, and those under it
_KIND_SIZE, _NAME_SIZE = 5.6, 6.8
_KIND_HEIGHT, _NAME_HEIGHT = 7.2, 8.6


@dataclass(frozen=True, kw_only=True, slots=True)
class PlannedLabel:
    """A label and where everything stands on it."""

    label: Label
    layout: LabelLayout


def planned_labels(document: LabelsDocument) -> list[PlannedLabel]:
    """Return the labels with their layouts, those that do not fit among them."""
    return [
        PlannedLabel(label=label, layout=label_layout(label, stock=document.stock))
        for label in document.labels
    ]


def checked_labels(document: LabelsDocument) -> list[PlannedLabel]:
    """Return the labels with their layouts.

    Raises
    ------
    LabelsRefused
        If there are none or too many, the first free label is not on a sheet, or a code would
        have squares too small to be scanned.
    """
    stock, count = document.stock, len(document.labels)
    if not count:
        raise LabelsRefused(_("Choose first what gets a label."))
    if count > MOST_LABELS:
        raise LabelsRefused(
            _("%(count)d labels are more than one file holds: print at most %(most)d at a time.")
            % {"count": count, "most": MOST_LABELS}
        )
    if not 1 <= document.start_at <= stock.count:
        raise LabelsRefused(
            _("%(stock)s has labels 1 to %(count)d: the first free one cannot be no. %(at)d.")
            % {"stock": stock.measures, "count": stock.count, "at": document.start_at}
        )
    planned = planned_labels(document)
    refused = [each.label.number for each in planned if each.layout.code is None]
    if refused:
        raise LabelsRefused(
            _(
                "The code does not fit on %(stock)s with squares that can be scanned: "
                "%(numbers)s. Choose larger labels, or let the code hold only the number."
            )
            % {"stock": stock.measures, "numbers": _some(refused)}
        )
    return planned


def _some(numbers: Sequence[str], *, most: int = 8) -> str:
    said = ", ".join(number[:40] for number in numbers[:most])
    return f"{said}, …" if len(numbers) > most else said


class _LabelSheets:
    """Labels being drawn, sheet after sheet."""

    def __init__(self, document: LabelsDocument, *, title: str) -> None:
        self.document, self.stock = document, document.stock
        self.typesetter = Typesetter()
        page_width, page_height = (side * mm for side in self.stock.page_mm)
        self.page_height = page_height
        self.buffer = io.BytesIO()
        self.canvas = Canvas(
            self.buffer,
            pagesize=(page_width, page_height),
            invariant=1,
            lang=document.language,
            initialFontName=TEXT,
        )
        self.canvas.setTitle(title)
        self.canvas.setAuthor("moldcare")
        self.canvas.setCreator("moldcare")
        # a viewer that heeds it offers no "fit to page"
        self.canvas.setViewerPreference("PrintScaling", "None")
        self.pages = 0

    def finished(self) -> Paper:
        self.canvas.save()
        return Paper(
            content=self.buffer.getvalue(),
            pages=self.pages,
            missing_signs=self.typesetter.missing_signs,
        )

    def end_page(self) -> None:
        self.canvas.showPage()
        self.pages += 1

    def _corner(self, place: int) -> tuple[float, float]:
        across, down = self.stock.corner_mm(place)
        return across + self.document.offset_right_mm, down + self.document.offset_down_mm

    def _on_dots(self, corner: tuple[float, float], box: Box) -> tuple[float, float]:
        """Return the lower left corner of a box in points, its upper left one on whole dots."""
        dot = self.stock.dot_mm
        left = round((corner[0] + box.left_mm) / dot) * dot
        top = round((corner[1] + box.top_mm) / dot) * dot
        return left * mm, self.page_height - (top + box.height_mm) * mm

    def label(self, planned: PlannedLabel, *, place: int) -> None:
        """Draw one label at its place on the sheet."""
        layout, corner = planned.layout, self._corner(place)
        if layout.code is not None:
            x, y = self._on_dots(corner, layout.code.box)
            marks.draw_squares(
                self.canvas, layout.code.rows, x=x, y=y, square=layout.code.square_mm * mm
            )
        if layout.bars is not None:
            self._bars(planned.label.bar_text, bars=layout.bars, corner=corner)
        self._words(planned.label, box=layout.words, corner=corner)

    def _bars(self, text: str, *, bars: Bars, corner: tuple[float, float]) -> None:
        x, y = self._on_dots(corner, bars.box)
        module = bars.module_mm * mm
        self.canvas.saveState()
        self.canvas.setFillColor(INK)
        drawn = Code128(text, barWidth=module, barHeight=bars.box.height_mm * mm, quiet=0)
        drawn.drawOn(self.canvas, x + BAR_RIM_MODULES * module, y)
        self.canvas.restoreState()

    def _words(self, label: Label, *, box: Box, corner: tuple[float, float]) -> None:
        """Write kind, number, name and plant; the number comes first where room is short."""
        left = (corner[0] + box.left_mm) * mm
        top = self.page_height - (corner[1] + box.top_mm) * mm
        width, height = box.width_mm * mm, box.height_mm * mm
        least = 14.0
        lines = [text for text in (label.name, self.document.plant_name) if text]
        lines = lines[: max(0, int((height - least - _KIND_HEIGHT) // _NAME_HEIGHT))]
        has_kind = bool(label.kind) and height - len(lines) * _NAME_HEIGHT - _KIND_HEIGHT >= least
        room = height - len(lines) * _NAME_HEIGHT - (_KIND_HEIGHT if has_kind else 0.0)
        number = self._number(label.number, width=width, height=room)
        spare = max(0.0, room - number.height)
        y = top - min(spare / 2, 8.0)
        if has_kind:
            self._line(label.kind, x=left, y=y - _KIND_SIZE, width=width, size=_KIND_SIZE)
            y -= _KIND_HEIGHT
        y -= number.height
        number.drawOn(self.canvas, left, y)
        for at, text in enumerate(lines):
            y -= _NAME_HEIGHT
            face = BOLD if at == 0 and label.name else TEXT
            self._line(text, x=left, y=y + 2.0, width=width, size=_NAME_SIZE, face=face)

    def _line(
        self, text: str, *, x: float, y: float, width: float, size: float, face: str = TEXT
    ) -> None:
        said = marks.fitted(self.typesetter, text, width=width, face=face, size=size)
        ink = INK if face == BOLD else SOFT_INK
        marks.draw_runs(self.canvas, self.typesetter, said, x=x, y=y, face=face, size=size, ink=ink)

    def _number(self, text: str, *, width: float, height: float) -> RunningText:
        """Set a number as large as it fits: on one line, else on several, at last shortened."""

        def set_as(words: str, size: float) -> RunningText:
            style = ParagraphStyle(
                "number", fontName=NUMBER, fontSize=size, leading=size * _LEADING
            )
            runs = runs_of(self.typesetter, words, face=NUMBER, size=size, ink=INK)
            running = RunningText(runs, style=style)
            running.wrap(width, height)
            return running

        def fits(running: RunningText, *, most_lines: int | None) -> bool:
            if most_lines is not None and len(running.lines) > most_lines:
                return False
            return bool(running.height <= height)

        text = text or "-"
        for most_lines, least in ((1, SMALL_NUMBER_SIZE), (None, LEAST_NUMBER_SIZE)):
            size = min(MOST_NUMBER_SIZE, height / _LEADING)
            while size >= least:
                running = set_as(text, size)
                if fits(running, most_lines=most_lines):
                    return running
                size *= _SIZE_STEP
        fitting, too_long = 0, len(text)
        while too_long - fitting > 1:
            middle = (fitting + too_long) // 2
            if fits(set_as(text[:middle] + "…", LEAST_NUMBER_SIZE), most_lines=None):
                fitting = middle
            else:
                too_long = middle
        return set_as(text[:fitting] + "…", LEAST_NUMBER_SIZE)

    def outlines(self) -> None:
        """Draw where every label of a sheet should be."""
        canvas, stock = self.canvas, self.stock
        canvas.saveState()
        canvas.setStrokeColor(SOFT_INK)
        canvas.setLineWidth(0.4)
        for place in range(stock.count):
            across, down = self._corner(place)
            canvas.rect(
                across * mm,
                self.page_height - (down + stock.height_mm) * mm,
                stock.width_mm * mm,
                stock.height_mm * mm,
            )
        canvas.restoreState()

    def ruler(self, *, length_mm: int, is_down: bool) -> None:
        """Draw a scale from the sheet's upper left corner: a tick a mm, a figure every 10 mm."""
        canvas = self.canvas
        canvas.saveState()
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(0.25)
        # clear of the edge that printers leave blank
        base = 6.0
        for at in range(length_mm + 1):
            tall = 3.0 if at % 10 == 0 else 2.2 if at % 5 == 0 else 1.4
            if is_down:
                y = self.page_height - at * mm
                canvas.line(base * mm, y, (base + tall) * mm, y)
            else:
                top = self.page_height - base * mm
                canvas.line(at * mm, top, at * mm, top - tall * mm)
            if at % 10 == 0 and at:
                x = (base + 3.4) * mm if is_down else at * mm - 2.5
                y = (
                    self.page_height - at * mm - 1.8
                    if is_down
                    else self.page_height - (base + 5.4) * mm
                )
                marks.draw_runs(canvas, self.typesetter, str(at), x=x, y=y, face=TEXT, size=5)
        canvas.restoreState()

    def sentence(self, text: str, *, left_mm: float, top_mm: float, width_mm: float) -> None:
        """Write a sentence over whatever is drawn there."""
        size, leading, rim = 8.0, 10.6, 6.0
        style = ParagraphStyle("sentence", fontName=TEXT, fontSize=size, leading=leading)
        runs = runs_of(self.typesetter, text, face=TEXT, size=size, ink=INK)
        running = RunningText(runs, style=style)
        running.wrap(width_mm * mm, self.page_height)
        x, y = left_mm * mm, self.page_height - top_mm * mm - running.height
        self.canvas.saveState()
        self.canvas.setFillColor(WHITE)
        self.canvas.rect(
            x - rim, y - rim, running.width + 2 * rim, running.height + 2 * rim, stroke=0, fill=1
        )
        self.canvas.restoreState()
        running.drawOn(self.canvas, x, y)

    def heading(self, text: str, *, left_mm: float, top_mm: float) -> None:
        """Write one line, shortened where the page ends."""
        self._line(
            text,
            x=left_mm * mm,
            y=self.page_height - top_mm * mm,
            width=(self.stock.page_mm[0] - left_mm - EDGE_MM) * mm,
            size=_NAME_SIZE,
        )


def drawn_labels(document: LabelsDocument) -> Paper:
    """Draw the labels; the plant's language must be the active one."""
    planned = checked_labels(document)
    title = _("Labels, %(stock)s") % {"stock": document.stock.measures}
    sheets = _LabelSheets(document, title=title)
    first, count = document.start_at - 1, document.stock.count
    for at, each in enumerate(planned, start=first):
        place = at % count
        if place == 0 and at != first:
            sheets.end_page()
        sheets.label(each, place=place)
    sheets.end_page()
    return sheets.finished()


def drawn_ruler_sheet(document: LabelsDocument) -> Paper:
    """Draw the outlines of all labels and two rulers, to be held against real stock."""
    stock = document.stock
    title = _("Test sheet, %(stock)s") % {"stock": stock.measures}
    sheets = _LabelSheets(document, title=title)
    sheets.outlines()
    width_mm, height_mm = (int(side) for side in stock.page_mm)
    sheets.ruler(length_mm=width_mm, is_down=False)
    sheets.ruler(length_mm=height_mm, is_down=True)
    if stock.paper is None:
        sheets.heading(title, left_mm=11.5, top_mm=14.0)
    else:
        sheets.sentence(
            title
            + ". "
            + _(
                "Print at 100 %, never “fit to page”: 50 mm on the scales must be 50 mm on your "
                "ruler. Hold it with a sheet of labels against the light: the outlines stand on "
                "the labels' edges. If all are off by the same, type that as offset; if it grows "
                "from row to row, the print was scaled."
            ),
            left_mm=stock.page_mm[0] / 4,
            top_mm=stock.page_mm[1] / 2,
            width_mm=stock.page_mm[0] / 2,
        )
    sheets.end_page()
    return sheets.finished()
