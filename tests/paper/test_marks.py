"""The code to scan, drawn as it is and read back."""

import math

import pytest
import zxingcpp
from PIL import Image, ImageDraw
from reportlab.lib.units import inch, mm

from moldcare.paper import marks


class Outline:
    """Keeps the squares that are drawn."""

    def __init__(self) -> None:
        self.squares: list[tuple[float, float, float, float]] = []

    def rect(self, x: float, y: float, width: float, height: float) -> None:
        self.squares.append((x, y, width, height))


class Sheet:
    """Stands for the page: what a printer of some dots an inch would blacken."""

    def __init__(self) -> None:
        self.outline = Outline()

    def beginPath(self) -> Outline:
        return self.outline

    def saveState(self) -> None: ...

    def restoreState(self) -> None: ...

    def setFillColor(self, color: object) -> None: ...

    def drawPath(self, path: Outline, *, stroke: int, fill: int) -> None:
        assert (stroke, fill) == (0, 1)

    def printed(self, *, side: float, dots_per_inch: int) -> Image.Image:
        scale = dots_per_inch / inch
        dots = math.ceil(side * scale)
        picture = Image.new("L", (dots, dots), 255)
        pen = ImageDraw.Draw(picture)
        for x, y, width, height in self.outline.squares:
            left, top = round(x * scale), round(dots - (y + height) * scale)
            right, bottom = round((x + width) * scale) - 1, round(dots - y * scale) - 1
            pen.rectangle((left, top, right, bottom), fill=0)
        return picture


@pytest.mark.parametrize("dots_per_inch", [203, 300, 600])
@pytest.mark.parametrize(
    "text",
    [
        "https://moldcare.example.test/order/2214",
        f"https://{'server-of-the-plant.' * 3}example.test/mold/{'M-' * 12}",
    ],
)
def test_code_is_read_back_at_printers_resolutions(text: str, dots_per_inch: int) -> None:
    sheet = Sheet()
    marks.draw_code(sheet, text, x=0, y=0)
    picture = sheet.printed(side=marks.code_size(text), dots_per_inch=dots_per_inch)
    [found] = zxingcpp.read_barcodes(picture)
    assert found.text == text


def test_code_has_squares_for_scanners_and_a_blank_rim() -> None:
    """ISO/IEC 18004 asks for a blank rim of four squares."""
    text = "https://moldcare.example.test/order/2214"
    sheet = Sheet()
    marks.draw_code(sheet, text, x=0, y=0)
    side = marks.code_size(text)
    assert 0.4 * mm <= marks.CODE_SQUARE
    rim = 4 * marks.CODE_SQUARE
    squares = sheet.outline.squares
    assert min(x for x, _y, _width, _height in squares) == pytest.approx(rim)
    assert min(y for _x, y, _width, _height in squares) == pytest.approx(rim)
    assert max(x + width for x, _y, width, _height in squares) == pytest.approx(side - rim)
    assert max(y + height for _x, y, _width, height in squares) == pytest.approx(side - rim)
