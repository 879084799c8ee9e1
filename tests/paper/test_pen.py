"""What the pen writes is what the library's canvas writes: an independent reader reads both."""

import io
from collections.abc import Callable, Sequence
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from pypdf import PdfReader
from pypdf.generic import ContentStream
from reportlab.pdfgen.canvas import Canvas

from moldcare.paper import typefaces
from moldcare.paper.pen import Pen, Run, Stroke, stroke
from moldcare.paper.styles import INK, RUST, SOFT_INK

Line = tuple[float, float, float, float]


def drawn(draw: Callable[[Canvas], None]) -> PdfReader:
    """Draw on one page and open it again."""
    buffer = io.BytesIO()
    canvas = Canvas(buffer, pagesize=(400, 400), invariant=1)
    draw(canvas)
    canvas.showPage()
    canvas.save()
    return PdfReader(buffer)


def operators(reader: PdfReader) -> list[tuple[str, list[Any]]]:
    """Give a page's operators with their operands."""
    content = ContentStream(reader.pages[0].get_contents(), reader)
    return [
        (name.decode(), [float(each) if isinstance(each, int | float) else each for each in given])
        for given, name in content.operations
    ]


def texts(reader: PdfReader) -> str:
    return reader.pages[0].extract_text()


def looks(reader: PdfReader) -> list[tuple[float, float]]:
    """Give where each line begins, as the reader finds it."""
    found: list[tuple[float, float]] = []

    def visit(text: str, _page: list[float], matrix: list[float], *_font: Any) -> None:
        if text.strip():
            found.append((round(matrix[4], 1), round(matrix[5], 1)))

    reader.pages[0].extract_text(visitor_text=visit)
    return found


def of_face(face: str) -> st.SearchStrategy[str]:
    """Give texts of signs that a face has."""
    points = sorted(typefaces.signs_of(face))
    return st.text(st.sampled_from([chr(point) for point in points if point < 0x10000]))


@pytest.mark.parametrize("face", [typefaces.TEXT, typefaces.NUMBER, typefaces.EAST_ASIAN])
@given(data=st.data())
@settings(deadline=None, max_examples=60)
def test_a_text_reads_as_the_canvas_writes_it(face: str, data: st.DataObject) -> None:
    text = data.draw(of_face(face))

    def by_canvas(canvas: Canvas) -> None:
        theirs = canvas.beginText(20, 300)
        theirs.setFont(face, 9)
        theirs.textOut(text)
        canvas.drawText(theirs)

    def by_pen(canvas: Canvas) -> None:
        Pen.of(canvas).write([[Run(face, text, 9, INK)]], x=20, y=300)

    assert texts(drawn(by_pen)) == texts(drawn(by_canvas))


@example(r"\(a\) (b) \\ )(")
@given(st.text(st.sampled_from("()\\ab \u00a0"), max_size=30))
@settings(deadline=None, max_examples=60)
def test_signs_that_end_a_string_do_not_end_it(text: str) -> None:
    reader = drawn(
        lambda canvas: Pen.of(canvas).write([[Run(typefaces.TEXT, text, 9, INK)]], x=20, y=300)
    )
    shown = [given[0] for name, given in operators(reader) if name == "Tj"]
    assert [str(each) for each in shown] == [text.replace("\u00a0", " ")]


def test_more_signs_than_one_font_of_a_document_holds_are_all_there() -> None:
    points = sorted(typefaces.signs_of(typefaces.TEXT))
    # letters that stand for themselves alone: Latin, Canadian syllables
    text = "".join(chr(point) for point in points if 0x100 <= point < 0x180)
    text += "".join(chr(point) for point in points if 0x1401 <= point < 0x1670)
    assert len(text) > 256
    reader = drawn(
        lambda canvas: Pen.of(canvas).write([[Run(typefaces.TEXT, text, 2, INK)]], x=2, y=300)
    )
    assert texts(reader).replace("\n", "") == text
    after = drawn(
        lambda canvas: Pen.of(canvas).write(
            [[Run(typefaces.TEXT, text, 2, INK)], [Run(typefaces.TEXT, "and on", 2, INK)]],
            x=2,
            y=300,
            leading=10,
        )
    )
    assert texts(after).splitlines()[-1] == "and on"


def test_lines_stand_where_the_canvas_would_put_them() -> None:
    lines = [
        [Run(typefaces.TEXT, "first", 9, INK), Run(typefaces.BOLD, " bold", 9, INK)],
        [Run(typefaces.BOLD, "second", 7.4, RUST)],
        [],
        [Run(typefaces.TEXT, "fourth", 9, SOFT_INK)],
    ]

    def by_canvas(canvas: Canvas) -> None:
        for place, line in enumerate(lines):
            text = canvas.beginText(31.5, 300 - 12.25 * place)
            for run in line:
                text.setFillColor(run.ink)
                text.setFont(run.face, run.size)
                text.textOut(run.text)
            canvas.drawText(text)

    reader = drawn(lambda canvas: Pen.of(canvas).write(lines, x=31.5, y=300, leading=12.25))
    other = drawn(by_canvas)
    assert looks(reader) == looks(other)
    assert [line for line in texts(reader).splitlines() if line] == [
        "first bold",
        "second",
        "fourth",
    ]
    # the pen says an ink when it changes, the canvas each time
    colors = [given for name, given in operators(reader) if name == "rg"]
    said = [given for name, given in operators(other) if name == "rg"]
    assert [[round(part, 3) for part in color] for color in colors] == [
        [round(part, 3) for part in color]
        for at, color in enumerate(said)
        if not at or color != said[at - 1]
    ]


@pytest.mark.parametrize(
    ("manner", "prepare"),
    [
        (stroke(RUST, 2.2), lambda canvas: None),
        (stroke(RUST, 1.8, dash=(5, 3)), lambda canvas: canvas.setDash(5, 3)),
        (
            stroke(RUST, 1.8, dash=(0.01, 4), is_round=True),
            lambda canvas: (canvas.setLineCap(1), canvas.setDash(0.01, 4)),
        ),
    ],
)
def test_a_stroke_is_drawn_as_the_canvas_draws_it(
    manner: Stroke, prepare: Callable[[Canvas], None]
) -> None:
    ends: Sequence[Line] = [(10, 20, 10, 380.5), (12.25, 20, 300, 20)]
    width = 2.2 if "2.2 w" in manner else 1.8

    def by_canvas(canvas: Canvas) -> None:
        canvas.saveState()
        canvas.setStrokeColor(RUST)
        canvas.setLineWidth(width)
        prepare(canvas)
        canvas.lines(ends)
        canvas.restoreState()

    def figures(reader: PdfReader) -> dict[str, list[list[Any]]]:
        found: dict[str, list[list[Any]]] = {}
        for name, operands in operators(reader):
            if name in {"RG", "w", "J", "d", "m", "l", "S", "q", "Q"}:
                found.setdefault(name, []).append(
                    [round(each, 3) if isinstance(each, float) else each for each in operands]
                )
        return found

    assert figures(drawn(lambda canvas: Pen.of(canvas).draw(manner, *ends))) == figures(
        drawn(by_canvas)
    )


def test_a_document_has_one_pen() -> None:
    canvas = Canvas(io.BytesIO())
    assert Pen.of(canvas) is Pen.of(canvas)
    assert Pen.of(Canvas(io.BytesIO())) is not Pen.of(canvas)
