import pytest

from moldcare.core.errors import TableRefused, UnreadableText
from moldcare.feeds.tables import open_table
from moldcare.feeds.tables.encoding import Encoding, Ground
from tests.feeds.tables.reading import rows_of

UMLAUTS = "mold;at;reading;note\n0001;2026-04-13 06:00;5;Gehäuse-Düse 4 µm\n"


def note_of(content: bytes, *, encoding: str | None = None) -> str:
    return rows_of(content, encoding=encoding)[0].note


@pytest.mark.parametrize(
    ("codec", "encoding", "ground"),
    [
        ("utf-8", Encoding.UTF_8, Ground.STRICT),
        ("utf-8-sig", Encoding.UTF_8, Ground.MARK),
        ("utf-16", Encoding.UTF_16, Ground.MARK),
        ("utf-16-le", Encoding.UTF_16, Ground.OFFERED),
        ("utf-16-be", Encoding.UTF_16, Ground.OFFERED),
        ("cp1252", Encoding.WINDOWS_1252, Ground.OFFERED),
    ],
)
def test_umlauts_come_in_right_and_the_encoding_is_said(
    codec: str, encoding: Encoding, ground: Ground
) -> None:
    content = UMLAUTS.encode(codec)
    table = open_table(content, name="x.csv")
    assert table.encoding is not None
    assert (table.encoding.encoding, table.encoding.ground) == (encoding, ground)
    assert table.encoding.is_sure is (ground is not Ground.OFFERED)
    assert note_of(content) == "Gehäuse-Düse 4 µm"


def test_utf_16_with_the_high_byte_first_has_its_own_mark() -> None:
    content = b"\xfe\xff" + UMLAUTS.encode("utf-16-be")
    assert note_of(content) == "Gehäuse-Düse 4 µm"


def test_an_encoding_on_offer_is_shown_with_a_text_that_tells_and_can_be_changed() -> None:
    (question,) = open_table(UMLAUTS.encode("cp1252"), name="x.csv").questions
    assert question.key == "encoding"
    assert "Gehäuse-Düse 4 µm" in question.text
    assert question.assumed == "windows-1252"
    assert not question.is_open
    assert {choice.value for choice in question.choices} == set(Encoding)


def test_a_chosen_encoding_is_taken_without_a_question() -> None:
    content = UMLAUTS.replace("4 µm", "fein").encode("cp850")
    assert note_of(content, encoding="ibm850") == "Gehäuse-Düse fein"
    assert open_table(content, name="x.csv", encoding="ibm850").questions == ()


def test_utf_8_with_one_broken_letter_is_refused_naming_its_row() -> None:
    content = UMLAUTS.encode() + b"0002;2026-04-13 06:00;6;D\xfcse\n"
    with pytest.raises(UnreadableText, match="Row 3 ") as refused:
        open_table(content, name="x.csv")
    assert refused.value.row == 3


def test_a_broken_letter_behind_the_first_piece_of_a_long_file_is_found_too() -> None:
    rows = "0001;2026-04-13 06:00;5;Gehäuse\n" * 60_000
    content = UMLAUTS.encode() + rows.encode() + b"0002;2026-04-13 06:00;6;D\xfcse\n"
    with pytest.raises(UnreadableText, match="Row 60003 "):
        open_table(content, name="x.csv")


def test_bytes_that_windows_1252_does_not_have_are_refused_naming_the_row() -> None:
    # Windows-1252 leaves 81, 8D, 8F, 90 and 9D without a letter (Unicode's mapping table CP1252).
    with pytest.raises(UnreadableText, match="Row 2 "):
        open_table(b"mold;note\n0001;\x81\xfc\n", name="x.csv")


def test_a_chosen_encoding_that_does_not_fit_is_refused_naming_the_row() -> None:
    with pytest.raises(UnreadableText, match=r"Row 2 .* not utf-8"):
        open_table(UMLAUTS.encode("cp1252"), name="x.csv", encoding="utf-8")


def test_half_a_letter_at_the_end_of_utf_16_is_refused() -> None:
    with pytest.raises(UnreadableText, match="utf-16"):
        open_table(UMLAUTS.encode("utf-16")[:-1], name="x.csv")


def test_an_unknown_encoding_is_refused_with_the_known_ones() -> None:
    with pytest.raises(TableRefused, match="utf-8, utf-16, windows-1252, ibm850"):
        open_table(b"mold;reading\n", name="x.csv", encoding="utf-7")


def test_a_text_that_lost_letters_earlier_is_refused_in_its_row() -> None:
    row = rows_of(UMLAUTS.replace("Düse", "D\N{REPLACEMENT CHARACTER}se"))[0]
    assert row.problem is not None
    assert "lost letters" in row.problem.reason


GERMAN = "Form;Bemerkung\n0417;Gehäuse für Düse, Maß größer\n0418;Außen kürzer, Überstand\n"
SPANISH = "Molde;Nota\n0417;Tapón según señal, máquina 4\n0418;Año próximo, conexión\n"


@pytest.mark.parametrize("text", [GERMAN, SPANISH])
@pytest.mark.parametrize(
    ("codec", "encoding"), [("cp1252", Encoding.WINDOWS_1252), ("cp850", Encoding.IBM_850)]
)
def test_letters_tell_the_two_old_encodings_apart(
    text: str, codec: str, encoding: Encoding
) -> None:
    # mapping tables: Unicode's CP1252.TXT and CP850.TXT, as Python's codecs have them
    table = open_table(text.encode(codec), name="x.csv")
    assert table.encoding is not None
    assert (table.encoding.encoding, table.encoding.ground) == (encoding, Ground.OFFERED)
    assert [line for row in table.rows() for line in row.cells] == [
        cell for line in text.splitlines() for cell in line.split(";")
    ]


@pytest.mark.parametrize("content", [b"mold;note\n0417;\xd6lhof\n", b"mold;note\n0417;4 \xfe\n"])
def test_what_letters_do_not_tell_is_asked_with_both_readings(content: bytes) -> None:
    table = open_table(content, name="x.csv")
    (question,) = table.questions
    assert (question.key, question.assumed) == ("encoding", None)
    choices = {choice.value: choice.text for choice in question.choices}
    cell = content.splitlines()[1].partition(b";")[2]
    assert choices["windows-1252"] == f"windows-1252: {cell.decode('cp1252')}"
    assert choices["ibm850"] == f"ibm850: {cell.decode('cp850')}"


def test_rows_wait_for_an_encoding_that_is_asked() -> None:
    content = "mold;at;reading;note\n0001;2026-04-13 06:00;5;Ölhof\n".encode("cp1252")
    (row,) = rows_of(content)
    assert row.problem is not None
    assert row.problem.verdict == "needs_answer"
    assert rows_of(content, encoding="windows-1252")[0].note == "Ölhof"


def test_a_letter_that_begins_a_word_large_in_one_encoding_and_small_in_another_is_asked() -> None:
    # the same byte is Ú in code page 850 and é in Windows-1252
    content = "molde;Último contador\n0417;Último\n".encode("cp850")
    table = open_table(content, name="x.csv")
    assert table.encoding is not None
    assert table.encoding.ground is Ground.OPEN
