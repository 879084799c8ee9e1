import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from moldcare.core.errors import TableRefused, WrongFile
from moldcare.feeds.tables import open_table
from tests.feeds.tables.reading import rows_of, values_of


@pytest.mark.parametrize(("sign", "name"), [(",", "comma"), (";", "semicolon"), ("\t", "tab")])
def test_each_separator_is_found(sign: str, name: str) -> None:
    content = "mold;at;reading\n0001;2026-04-13 06:00;5\n".replace(";", sign)
    assert open_table(content.encode(), name="x.csv").delimiter == name
    assert values_of(content) == [5]


def test_commas_in_notes_do_not_win_over_semicolons() -> None:
    content = (
        "mold;at;reading;note\n"
        "0001;2026-04-13 06:00;5;hot, dry, slow\n"
        "0002;2026-04-13 06:00;6;water, low, again, no pump\n"
        "0003;2026-04-13 06:00;7;\n"
    )
    assert values_of(content) == [5, 6, 7]
    assert rows_of(content)[0].note == "hot, dry, slow"


def test_decimal_commas_in_every_row_do_not_win_over_semicolons() -> None:
    content = "mold;at;reading\n0001;2026-04-13 06:00;5,0\n0002;2026-04-13 06:00;6,0\n"
    assert values_of(content) == [5, 6]


def test_a_file_of_one_column_has_one_column() -> None:
    table = open_table(b"mold\n0001\n0002\n", name="x.csv")
    assert [row.cells for row in table.rows()] == [["mold"], ["0001"], ["0002"]]


def test_a_heading_that_lacks_its_last_separator_does_not_upset_the_guess() -> None:
    content = "mold;at;reading\n0001;2026-04-13 06:00;5;x, y\n0002;2026-04-13 06:00;6;x, y\n"
    assert values_of(content) == [5, 6]


def test_titles_above_do_not_upset_the_guess() -> None:
    content = (
        "Readings, press shop, April\nTool room\n\nmold;at;reading\n"
        "0001;2026-04-13 06:00;5\n0002;2026-04-13 06:00;6\n"
    )
    assert values_of(content) == [5, 6]


def test_a_close_call_is_shown_and_can_be_changed() -> None:
    content = b"a,b;c\n1,2;3\n4,5;6\n"
    table = open_table(content, name="x.csv")
    assert [question.key for question in table.questions] == ["delimiter"]
    changed = open_table(content, name="x.csv", delimiter="comma")
    assert next(changed.rows()).cells == ["a", "b;c"]
    assert changed.questions == ()


def test_a_first_line_that_names_the_separator_is_followed_and_is_no_row() -> None:
    content = b"sep=;\r\nmold;at;reading\r\n0001;2026-04-13 06:00;5\r\n"
    assert [row.number for row in open_table(content, name="x.csv").rows()] == [2, 3]
    assert values_of(content) == [5]


def test_an_unknown_separator_is_refused() -> None:
    with pytest.raises(TableRefused, match="semicolon"):
        open_table(b"a;b\n", name="x.csv", delimiter="slash")


@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_every_line_ending_is_read(ending: str) -> None:
    assert values_of(f"mold;at;reading{ending}0001;2026-04-13 06:00;5{ending}") == [5]


def test_a_note_may_have_lines_of_its_own_in_quotes() -> None:
    content = 'mold;at;reading;note\n0001;2026-04-13 06:00;5;"one\ntwo; ""three"""\n'
    assert rows_of(content)[0].note == 'one\ntwo; "three"'


@pytest.mark.parametrize("rows_behind", [1, 200])
def test_a_quotation_mark_that_never_ends_is_refused_naming_its_row(rows_behind: int) -> None:
    content = 'mold;at;reading\n0001;2026-04-13 06:00;5\n0002;"2026-04-13 06:00;6\n'
    content += "0003;2026-04-13 06:00;7\n" * rows_behind
    with pytest.raises(WrongFile, match="row 3 a quotation mark") as refused:
        values_of(content)
    assert refused.value.row == 3


def test_an_abandoned_walk_leaves_the_file_open() -> None:
    content = ("mold;at;reading\n" + "0001;2026-04-13 06:00;5\n" * 100_000).encode()
    table = open_table(content, name="x.csv")
    walk = table.rows()
    next(walk)
    walk.close()
    assert sum(1 for _row in table.rows()) == 100_001


def test_a_comma_inside_a_number_without_quotes_shifts_nothing_in_silence() -> None:
    content = (
        "mold,at,reading,note\n0001,2026-04-13 06:00,880,\n0001,2026-04-13 14:00,1,204,dry\n"
        '0001,2026-04-13 22:00,"1,530",dry\n0001,2026-04-14 06:00,900,,\n'
    )
    assert values_of(content) == [880, None, 1530, 900]
    bad = rows_of(content)[1]
    assert bad.problem is not None
    assert bad.problem.verdict == "refused"
    assert "must stand in quotes" in bad.problem.reason


CELLS = st.text(alphabet="ab 0123.,;:|-'\"ü", max_size=8)


@given(
    data=st.data(),
    sign=st.sampled_from([",", ";", "\t", "|"]),
    width=st.integers(3, 6),
    height=st.integers(3, 12),
)
def test_what_a_csv_writer_writes_comes_back_or_the_separator_is_asked(
    data: st.DataObject, sign: str, width: int, height: int
) -> None:
    rows = [
        [f"h{place}" for place in range(width)],
        *(
            [f"{row:04d}", *data.draw(st.lists(CELLS, min_size=width - 1, max_size=width - 1))]
            for row in range(height)
        ),
    ]
    written = io.StringIO()
    csv.writer(written, delimiter=sign).writerows(rows)
    table = open_table(written.getvalue().encode(), name="x.csv")
    read = [row.cells for row in table.rows()]
    assert read == rows or [question.key for question in table.questions] == ["delimiter"]
