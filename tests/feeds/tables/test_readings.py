import io
import tracemalloc
from itertools import islice

import pytest
from hypothesis import given
from hypothesis import strategies as st

from moldcare.feeds.tables import Match, Verdict, matcher, open_table, read_readings
from moldcare.feeds.tables.verdicts import Proposal, RowVerdict
from tests.feeds.tables.reading import BERLIN, OURS, plan_of, rows_of, values_of, verdicts_of

HEADING = "mold;at;reading;note\n"


def test_zeros_in_front_are_kept_with_and_without_quotes() -> None:
    rows = rows_of('mold,at,reading\n0417,2026-04-13 06:00,100\n"0417",2026-04-13 14:00,200\n')
    assert [row.mold for row in rows] == [Match(key=417, label="0417")] * 2
    assert [row.value for row in rows] == [100, 200]


def test_417_is_not_0417() -> None:
    (row,) = rows_of("mold;at;reading\n417;2026-04-13 06:00;100\n")
    assert row.mold == Match(key=1417, label="417")
    only_0417 = matcher([(417, "0417")])
    content = "mold;at;reading\n417;2026-04-13 06:00;100\n"
    assert verdicts_of(content, match=only_0417) == ["not_ours"]


def test_a_name_with_an_e_stays_text_and_a_power_of_ten_is_flagged() -> None:
    ours = matcher([(1, "12E5"), (2, "1200000")])
    rows = rows_of(
        "mold;at;reading\n12E5;2026-04-13 06:00;5\n1.20E+06;2026-04-13 06:00;6\n"
        "1,20E+06;2026-04-13 06:00;7\n",
        match=ours,
    )
    assert rows[0].mold == Match(key=1, label="12E5")
    assert [row.mold for row in rows[1:]] == [None, None]
    assert all(row.problem and "an E in it" in row.problem.reason for row in rows[1:])


def test_blanks_one_cannot_see_make_no_second_mold() -> None:
    content = (
        "mold;at;reading \n0417 ;2026-04-13 06:00;5\n\u00a00417;2026-04-13 06:00;5\n"
        "0417\u200b;2026-04-13 06:00;5\n\ufeff0417\u2060;2026-04-13 06:00;5\n"
    )
    rows = rows_of(content)
    assert {row.mold for row in rows} == {Match(key=417, label="0417")}
    assert len({(row.mold_text, row.at, row.value) for row in rows}) == 1


def test_the_mark_before_the_first_heading_is_no_part_of_it() -> None:
    content = "mold;reading;at\n0417;5;2026-04-13 06:00\n"
    assert values_of(content.encode("utf-8-sig")) == [5]
    assert values_of(content.replace(";", "\t").encode("utf-16")) == [5]


def test_letters_composed_in_two_ways_are_one_name() -> None:
    find = matcher([(1, "Düse-1")])
    assert find("Du\u0308se-1") == find("Düse-1") == Match(key=1, label="Düse-1")


def test_case_matters_only_where_two_of_ours_differ_by_it() -> None:
    find = matcher([(1, "K-12"), (2, "k-12"), (3, "Straße")])
    assert find("K-12") == Match(key=1, label="K-12")
    assert find("k-12") == Match(key=2, label="k-12")
    assert find("STRASSE") == Match(key=3, label="Straße")
    assert matcher([(1, "ab"), (2, "AB")])("Ab") == (
        Match(key=1, label="ab"),
        Match(key=2, label="AB"),
    )


def test_a_name_that_may_be_several_of_ours_is_asked() -> None:
    content = "mold;at;reading\nAb;2026-04-13 06:00;5\n"
    (row,) = rows_of(content, match=matcher([(1, "ab"), (2, "AB")]))
    assert row.problem is not None
    assert row.problem.verdict == "needs_answer"
    assert row.problem.proposals == (
        Proposal(value="1", text="ab"),
        Proposal(value="2", text="AB"),
    )


def test_an_unknown_mold_goes_to_what_is_not_ours() -> None:
    (row,) = rows_of("mold;at;reading\n8888;2026-04-13 06:00;5\n")
    assert row.problem is not None
    assert (row.problem.verdict, row.value) == ("not_ours", 5)
    assert "8888" in row.problem.reason


def test_counters_and_presses_are_matched_by_their_own_names() -> None:
    content = (
        "counter;press;at;reading\nC-1;3;2026-04-13 06:00;5\n;3;2026-04-13 06:00;6\n"
        ";99;2026-04-13 06:00;7\nC-9;3;2026-04-13 06:00;8\n;;2026-04-13 06:00;9\n"
    )
    options = {
        "match_counter": matcher([(7, "C-1")]),
        "match_press": matcher([(30, "3")]),
    }
    rows = rows_of(content, **options)
    assert rows[0].counter == Match(key=7, label="C-1")
    assert [row.press and row.press.key for row in rows] == [30, 30, None, 30, None]
    assert verdicts_of(content, **options) == [None, None, "not_ours", "not_ours", "refused"]


def test_without_a_matcher_names_are_passed_on() -> None:
    (row,) = rows_of("mold;at;reading\n8888 ;2026-04-13 06:00;5\n", match=None)
    assert (row.mold_text, row.mold, row.problem) == ("8888", None, None)


def test_empty_values_are_skipped_and_the_rest_taken() -> None:
    content = HEADING + "0001;2026-04-13 06:00;5\n0002;2026-04-13 06:00;;stands\n0003;;;\n"
    assert verdicts_of(content) == [None, "skipped", "skipped"]
    assert rows_of(content)[1].note == "stands"


def test_rows_that_are_shorter_than_the_heading_are_read() -> None:
    content = HEADING + "0001;2026-04-13 06:00;5\n0002\n"
    assert verdicts_of(content) == [None, "skipped"]


def test_two_values_for_one_mold_and_minute_are_both_handed_on() -> None:
    content = HEADING + "0001;2026-04-13 06:00;5\n0001;2026-04-13 06:00;6\n"
    assert [(row.row, row.value, row.problem) for row in rows_of(content)] == [
        (2, 5, None),
        (3, 6, None),
    ]


def test_notes_guarded_against_spreadsheets_come_back_as_they_were() -> None:
    content = HEADING + "".join(
        f"0001;2026-04-13 06:00;5;{note}\n"
        for note in ("'=1+1", "'-see sheet", "'@Meier", "'s Morgens", "=1+1")
    )
    assert [row.note for row in rows_of(content)] == [
        *("=1+1", "-see sheet", "@Meier", "'s Morgens", "=1+1"),
    ]


def test_a_problem_of_the_file_is_the_rows_verdict() -> None:
    good, bad = rows_of(HEADING + "0001;2026-04-13 06:00;5\n8888;2026-04-13 06:00;6\n")
    assert good.verdict() is None
    verdict = bad.verdict()
    assert verdict is not None
    assert verdict.as_json() == {
        "row": 3,
        "column": "C",
        "verdict": "not_ours",
        "reason": "No mold of ours is called “8888”. Assign it or leave it.",
        "mold": "8888",
        "counter": None,
        "at": "2026-04-13T04:00:00Z",
        "value": 6,
        "proposals": [],
    }


def test_every_verdict_has_words_for_people() -> None:
    assert len({verdict.words for verdict in Verdict}) == len(Verdict)
    held = RowVerdict(
        row=2,
        column="C",
        verdict=Verdict.HELD,
        reason="",
        mold="0001",
        counter=None,
        at=None,
        value=5,
        proposals=(Proposal(value="50", text="50: one figure more"),),
    )
    assert held.as_json()["proposals"] == [{"value": "50", "text": "50: one figure more"}]


NAMES = ["0001", "0002", " 0003", "0004\u00a0", "8888", "", "Total", "1.20E+06"]
MOMENTS = [
    *("2026-04-13 06:00", "13.04.2026 06:00", "03/04/2026 06:00", "2026-04-13", "", "soon"),
    *("2026-10-25 02:30", "2026-03-29 02:30", "2026-04-13T06:00", "2026-04-13 25:00"),
    *("2026-04-13T06:00Z", " 2026-04-13 06:00 ", "26.06.2026 14.22"),
]
VALUES = ["5", "12.400", "9,980", "ca. 5", "1.5", "", "-5", "1.217.40", " 7 ", "x", "12'400"]
NOTES = ["", "dry", "'=1+1", " Düse ", "lost \N{REPLACEMENT CHARACTER}"]
LINES = st.tuples(*map(st.sampled_from, (NAMES, MOMENTS, VALUES, NOTES)))


@given(lines=st.lists(LINES, min_size=1, max_size=12))
def test_the_short_way_gives_what_the_long_way_gives(
    lines: list[tuple[str, str, str, str]],
) -> None:
    # Each line stands twice, so that the second time everything it needs was met before.
    content = HEADING + "".join(f"{';'.join(line)}\n" for line in [*lines, *lines])
    plan = plan_of(content)
    short = list(plan.rows())
    # A column that no row fills, but that the short way does not know, forces the long way.
    longer = "estimated;" + HEADING + "".join(f";{';'.join(line)}\n" for line in [*lines, *lines])
    long = list(plan_of(longer).rows())
    assert [row._replace(column="") for row in short] == [row._replace(column="") for row in long]


class Repeated(io.RawIOBase):
    """A file of 300,000 like rows below a heading, of which nobody holds more than one."""

    line = b"0001;2026-04-13 06:00;312440;\n"
    head = HEADING.encode()
    size = len(head) + 300_000 * len(line)

    def __init__(self) -> None:
        self.place = 0

    def readable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return True

    def seek(self, offset: int, whence: int = 0) -> int:
        self.place = offset if whence == 0 else self.size + offset
        return self.place

    def tell(self) -> int:
        return self.place

    def readinto(self, buffer: bytearray) -> int:  # type: ignore[override]
        count = min(len(buffer), self.size - self.place)
        if self.place < len(self.head):
            count = min(count, len(self.head) - self.place)
            piece = self.head[self.place :]
        else:
            start = (self.place - len(self.head)) % len(self.line)
            piece = self.line * (count // len(self.line) + 2)
            piece = piece[start:]
        buffer[:count] = piece[:count]
        self.place += count
        return count


def test_a_long_file_is_read_in_little_memory() -> None:
    table = open_table(io.BufferedReader(Repeated()), name="x.csv")
    plan = read_readings(table, zone=BERLIN, match_mold=OURS)
    tracemalloc.start()
    walked = sum(1 for _row in islice(plan.rows(), 30_000))
    _now, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert walked == 30_000
    assert plan.rows_count == 300_000
    assert most < 1_000_000


@pytest.mark.parametrize("column", ["mold", "at", "reading"])
def test_a_text_far_too_long_for_its_column_is_refused_in_its_row(column: str) -> None:
    cells = {"mold": "0001", "at": "2026-04-13 06:00", "reading": "5"} | {column: "a " * 50_000}
    content = f"mold;at;reading\n{';'.join(cells.values())}\n0001;2026-04-13 06:00;5\n"
    bad, good = rows_of(content)
    assert good.problem is None
    assert bad.problem is not None
    assert bad.problem.verdict == "refused"
    assert "too long" in bad.problem.reason


def test_what_a_person_assigned_is_matched_from_then_on() -> None:
    find = matcher([(1, "0001"), (2, "0002")], assigned={"Deckel alt": 2, "gone": 99})
    assert find(" Deckel alt\u00a0") == Match(key=2, label="0002")
    assert find("deckel alt") is None
    assert find("gone") is None
