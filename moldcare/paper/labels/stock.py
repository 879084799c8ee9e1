"""Label stock by its measures: sheets of A4 and Letter, and single labels of label printers."""

from dataclasses import dataclass

from django.utils.translation import gettext as _

from moldcare.core.errors import LabelsRefused
from moldcare.paper.frame import PaperSize

# ISO 216, and ANSI/ASME Y14.1 size A
_PAGES_MM = {PaperSize.A4: (210.0, 297.0), PaperSize.LETTER: (215.9, 279.4)}
MM_AN_INCH = 25.4


@dataclass(frozen=True, kw_only=True, slots=True)
class LabelStock:
    """Labels as they are bought; a sheet's margins left and right, and top and bottom, are alike.

    `paper` is None where the printer takes one label at a time: the page is the label then.
    Squares and bars are whole dots of `dots_per_inch`, so that none of them is uneven.
    """

    key: str
    paper: PaperSize | None
    columns: int = 1
    rows: int = 1
    width_mm: float
    height_mm: float
    gap_across_mm: float = 0.0
    gap_down_mm: float = 0.0
    dots_per_inch: int = 300

    @property
    def page_mm(self) -> tuple[float, float]:
        """Width and height of what goes through the printer."""
        return _PAGES_MM[self.paper] if self.paper else (self.width_mm, self.height_mm)

    @property
    def count(self) -> int:
        """How many labels a sheet has."""
        return self.columns * self.rows

    @property
    def left_mm(self) -> float:
        """The margin beside the first column."""
        used = self.columns * self.width_mm + (self.columns - 1) * self.gap_across_mm
        return (self.page_mm[0] - used) / 2

    @property
    def top_mm(self) -> float:
        """The margin above the first row."""
        used = self.rows * self.height_mm + (self.rows - 1) * self.gap_down_mm
        return (self.page_mm[1] - used) / 2

    @property
    def dot_mm(self) -> float:
        """One dot of the printer."""
        return MM_AN_INCH / self.dots_per_inch

    def corner_mm(self, place: int) -> tuple[float, float]:
        """Return how far the upper left corner of a label lies from that of its sheet.

        Labels are counted from 0, row by row.
        """
        row, column = divmod(place, self.columns)
        return (
            self.left_mm + column * (self.width_mm + self.gap_across_mm),
            self.top_mm + row * (self.height_mm + self.gap_down_mm),
        )

    @property
    def measures(self) -> str:
        """Its name: what a ruler says about it."""
        size = f"{self.width_mm:g} x {self.height_mm:g} mm"
        if self.paper:
            return f"{self.paper.value}, {self.columns} x {self.rows}, {size}"
        return _("single labels, %(size)s, %(dots)d dots an inch") % {
            "size": size,
            "dots": self.dots_per_inch,
        }


def _single(width_mm: float, height_mm: float, *, dots_per_inch: int) -> LabelStock:
    return LabelStock(
        key=f"{width_mm:g}x{height_mm:g}-{dots_per_inch}",
        paper=None,
        width_mm=width_mm,
        height_mm=height_mm,
        dots_per_inch=dots_per_inch,
    )


def _sheet(
    paper: PaperSize,
    columns: int,
    rows: int,
    *,
    size_mm: tuple[float, float],
    gap_across_mm: float,
) -> LabelStock:
    width_mm, height_mm = size_mm
    return LabelStock(
        key=f"{paper.value.lower()}-{columns}x{rows}-{width_mm:g}x{height_mm:g}",
        paper=paper,
        columns=columns,
        rows=rows,
        width_mm=width_mm,
        height_mm=height_mm,
        gap_across_mm=gap_across_mm,
    )


# common stock, by measures from memory; the test sheet shows whether a plant's own is like it
STOCKS = (
    _sheet(PaperSize.A4, 3, 7, size_mm=(63.5, 38.1), gap_across_mm=2.54),
    _sheet(PaperSize.A4, 2, 4, size_mm=(99.1, 67.7), gap_across_mm=2.5),
    _sheet(PaperSize.A4, 3, 8, size_mm=(63.5, 33.9), gap_across_mm=2.54),
    _sheet(PaperSize.A4, 5, 13, size_mm=(38.1, 21.2), gap_across_mm=2.5),
    _sheet(PaperSize.LETTER, 3, 10, size_mm=(66.7, 25.4), gap_across_mm=3.1),
    _sheet(PaperSize.LETTER, 2, 5, size_mm=(101.6, 50.8), gap_across_mm=4.8),
    _sheet(PaperSize.LETTER, 2, 7, size_mm=(101.6, 33.9), gap_across_mm=4.8),
    *(
        _single(width_mm, height_mm, dots_per_inch=dots)
        for width_mm, height_mm in ((100.0, 50.0), (62.0, 29.0), (50.0, 25.0), (25.0, 15.0))
        for dots in (203, 300)
    ),
)
_BY_KEY = {stock.key: stock for stock in STOCKS}


def stocks_for(paper: PaperSize) -> list[LabelStock]:
    """Return the stock that a plant with this paper can print on."""
    return [stock for stock in STOCKS if stock.paper in (None, paper)]


def stock_named(key: str, *, paper: PaperSize) -> LabelStock:
    """Return the stock with the key; sheets of another paper than the printer holds are refused.

    Raises
    ------
    LabelsRefused
        If there is no such stock, or its sheets are not of this paper.
    """
    stock = _BY_KEY.get(key)
    if stock is None:
        raise LabelsRefused(_("There is no label sheet “%(key)s”.") % {"key": key[:40]})
    if stock.paper not in (None, paper):
        raise LabelsRefused(
            _(
                "%(stock)s does not fit: the printer holds %(paper)s paper. Choose a sheet of that "
                "size, or change the paper first."
            )
            % {"stock": stock.measures, "paper": paper.value}
        )
    return stock
