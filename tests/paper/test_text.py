"""Running text breaks as the library's own paragraphs break."""

import io

from hypothesis import example, given, settings
from hypothesis import strategies as st
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Paragraph

from moldcare.paper import typefaces
from moldcare.paper.pen import Run
from moldcare.paper.styles import BODY, SMALL, led, paragraph, paragraphs, struck
from moldcare.paper.text import LEAST_LINES, RunningText
from moldcare.paper.typefaces import Typesetter
from tests.paper.test_pen import drawn, operators, texts

words = st.text(st.sampled_from("abcdefgimwWMÄß1230.,-"), min_size=1, max_size=12)
sentences = st.lists(words, min_size=1, max_size=60).map(" ".join)
widths = st.floats(min_value=90, max_value=500)


def lines_of(text: RunningText) -> list[str]:
    return ["".join(run.text for run in line.runs) for line in text.lines]


@given(sentences, widths, st.sampled_from([BODY, SMALL]))
@settings(deadline=None)
def test_lines_end_where_those_of_a_paragraph_end(
    sentence: str, width: float, style: ParagraphStyle
) -> None:
    theirs = Paragraph(sentence, style)
    _width, height = theirs.wrap(width, 100_000)
    ours = paragraph(Typesetter(), sentence, style=style)
    assert ours.wrap(width, 100_000) == (width, height)
    assert lines_of(ours) == [" ".join(found) for _spare, found in theirs.blPara.lines]


@given(st.lists(words, max_size=30), st.lists(words, max_size=30), widths)
@settings(deadline=None)
def test_a_text_in_two_faces_holds_every_word_once_and_keeps_its_lines_inside_the_width(
    first: list[str], second: list[str], width: float
) -> None:
    text = led(Typesetter(), " ".join(first), " ".join(second))
    text.wrap(width, 100_000)
    assert " ".join(lines_of(text)).split() == [*first, *second]
    for line in text.lines:
        wide = sum(
            typefaces.width_of(run.text.strip(), face=run.face, size=run.size) for run in line.runs
        )
        assert wide <= width + 0.01


@given(st.text(st.sampled_from("abW9"), min_size=60, max_size=300), widths)
@settings(deadline=None)
def test_a_word_longer_than_a_line_is_torn_and_loses_nothing(word: str, width: float) -> None:
    text = paragraph(Typesetter(), word)
    text.wrap(width, 100_000)
    assert "".join(lines_of(text)) == word
    assert all(
        typefaces.width_of(line, face=typefaces.TEXT, size=9) <= width + 0.01
        for line in lines_of(text)
    )


@example("one two three " * 30, 120.0, 55.0)
@given(sentences | st.text(st.sampled_from("ab "), max_size=400), widths, st.floats(0, 400))
@settings(deadline=None)
def test_the_parts_of_a_text_say_what_the_whole_said(
    sentence: str, width: float, room: float
) -> None:
    text = paragraph(Typesetter(), sentence)
    text.wrap(width, 100_000)
    whole = lines_of(text)
    parts = text.split(width, room)
    if not parts:
        assert room < LEAST_LINES * BODY.leading
        return
    found: list[str] = []
    for part in parts:
        assert isinstance(part, RunningText)
        part.wrap(width, 100_000)
        found += [line.rstrip(" ") for line in lines_of(part)]
    assert found == whole
    assert len(lines_of(parts[0])) * BODY.leading <= room + 0.01


def test_a_blank_line_keeps_its_height() -> None:
    assert [each.wrap(300, 900)[1] for each in paragraphs(Typesetter(), "a\n\nb")] == [12, 12, 12]


def test_a_struck_text_has_a_line_through_every_line_as_long_as_its_words() -> None:
    [text] = struck(Typesetter(), "vents found heavy and cleaned, all cavities " * 4)
    text.wrap(200, 900)
    assert len(text.lines) > 2

    def draw(canvas: Canvas) -> None:
        text.drawOn(canvas, 30, 100)

    reader = drawn(draw)
    assert " ".join(texts(reader).split()) == " ".join(
        ("vents found heavy and cleaned, all cavities " * 4).split()
    )
    found = operators(reader)
    begins = [given for name, given in found if name == "m"]
    ends = [given for name, given in found if name == "l"]
    assert len(begins) == len(ends) == len(text.lines)
    for place, (line, begin, end) in enumerate(zip(lines_of(text), begins, ends, strict=True)):
        wide = typefaces.width_of(line, face=typefaces.TEXT, size=9)
        assert begin[0] == 30
        assert abs(end[0] - 30 - wide) < 0.02
        assert begin[1] == end[1]
        foot = 100 + text.height - BODY.leading * (place + 1)
        assert foot < begin[1] < foot + BODY.leading


def test_a_struck_text_keeps_its_strike_over_the_page() -> None:
    [text] = struck(Typesetter(), "one two three four five six seven " * 12)
    text.wrap(200, 900)
    parts = text.split(200, 40)
    assert [isinstance(part, RunningText) and part.strike is not None for part in parts] == [
        True,
        True,
    ]


def test_a_text_without_a_word_is_one_empty_line() -> None:
    text = RunningText([Run(typefaces.TEXT, "", 9, BODY.textColor)], style=BODY)
    assert text.wrap(100, 100)[1] == BODY.leading
    text.drawOn(Canvas(io.BytesIO()), 0, 0)
