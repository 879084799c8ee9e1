"""Registers: names of molds, zeros, blanks, units, signs, answers."""

from datetime import date
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

import openpyxl
import pytest

from moldcare.core.errors import TableRefused
from moldcare.feeds.tables import Meaning, Verdict
from moldcare.molds.models import Filler, ResinGroup
from tests.feeds.register.make_examples import saved
from tests.feeds.register.reading import (
    OURS,
    circuits,
    example,
    facts,
    molds_of,
    molds_plan,
    verdict,
)


def test_zeros_are_part_of_a_number_in_text_with_and_without_quotes() -> None:
    rows = molds_of('mold,rack\n0417,A1\n"417",A2\n', match_mold=OURS)
    assert [(row.number, row.mold) for row in rows] == [("0417", 1), ("417", 2)]


def test_a_workbook_number_shown_with_zeros_is_asked_and_taken_as_answered() -> None:
    content = example("cell-formats.xlsx")
    for answer, number in (("shown", "0418"), ("held", "418")):
        row = molds_of(content, answers={"zeros:mold": answer})[1]
        assert (row.number, row.problem) == (number, None)


def test_numbers_in_a_workbook_with_gaps_keep_whole_numbers_whole() -> None:
    book = openpyxl.Workbook()
    for row in (["mold", "cavities"], [417, 8.0], [None, None], [9021, 4]):
        book.active.append(row)
    assert [row.number for row in molds_of(saved(book))] == ["417", "9021"]


@pytest.mark.parametrize("number", [4501234567890123, 1.2e6])
def test_a_number_that_a_spreadsheet_has_spoilt_is_flagged(number: float) -> None:
    book = openpyxl.Workbook()
    book.active.append(["mold", "rack"])
    book.active.append([number, "A1"])
    book.active["A2"].number_format = "0.00E+00" if number == 1.2e6 else "0"
    (row,) = molds_of(saved(book))
    assert verdict(row) is Verdict.REFUSED


def test_a_name_with_an_e_is_a_name() -> None:
    assert molds_of("mold;rack\n12E5;A1\n")[0].number == "12E5"


@pytest.mark.parametrize("codec", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"])
def test_marks_before_the_first_heading_do_not_hide_it(codec: str) -> None:
    rows = molds_of("mold;rack\n0417;Tür 4\n".encode(codec))
    assert [(row.number, row.storage_place) for row in rows] == [("0417", "Tür 4")]


def test_blanks_one_cannot_see_do_not_make_another_mold() -> None:
    content = "mold ;name\n0417 ;Cap\n\u00a00417;Cap\n0417\u200b;Cap\n"
    (row,) = molds_of(content, match_mold=OURS)
    assert (row.row, row.number, row.mold) == (2, "0417", 1)
    assert row.notes == ("Rows 3, 4 are about the same mold.",)


@pytest.mark.parametrize(
    ("content", "names"),
    [
        ("mold;name;rack\n0417;Cap, round, red;A1\n0418;Lid, flat, blue;A2\n", 2),
        ("mold\n0417\n0418\n", 0),
        ("mold;name;rack\n0417;Cap;\n0418;Lid;\n0419;Tray\n", 3),
    ],
)
def test_separators_are_found_whatever_stands_in_texts(content: str, names: int) -> None:
    rows = molds_of(content)
    assert all(verdict(row) is None and row.number.isdigit() for row in rows)
    assert sum(bool(row.name) for row in rows) == names


def test_an_export_of_ours_reads_back_without_its_guards() -> None:
    # OWASP, "CSV injection": texts that begin like a formula get an apostrophe
    (row,) = molds_of("mold,name,owner\n0417,'=1+1,'@Meier\n")
    assert (row.name, row.owner) == ("=1+1", "@Meier")


@pytest.mark.parametrize(
    ("texts", "counts"),
    [
        (("12.400", "12.455", "9.980"), (12400, 12455, 9980)),
        (("12'400", "9'980", "40"), (12400, 9980, 40)),
        (("12\u202f400", "9\u00a0980", "40"), (12400, 9980, 40)),
        (("184k", "1,2 Mio", "50 tsd"), (184_000, 1_200_000, 50_000)),
        (("ca. 184250", "~40", "5 Schuss"), (184_250, 40, 5)),
    ],
)
def test_counts_are_read_as_the_whole_column_says(
    texts: tuple[str, ...], counts: tuple[int, ...]
) -> None:
    lines = [f"{place};{text}" for place, text in enumerate(texts, start=1)]
    rows = molds_of("\n".join(["mold;life count", *lines]))
    assert tuple(row.opening_count for row in rows) == counts


def test_a_column_of_both_kinds_of_number_is_asked() -> None:
    content = "mold;life count\n1;1.234\n2;1.5\n"
    plan = molds_plan(content)
    assert [question.key for question in plan.open_questions] == ["numbers:life count"]
    assert [row.opening_count for row in plan.rows()] == [None, None]
    first, second = molds_of(content, answers={"numbers:life count": "thousands"})
    assert (first.opening_count, verdict(second)) == (1234, Verdict.REFUSED)


def test_a_mass_alone_with_three_digits_behind_its_point_is_asked() -> None:
    content = "mold;mass a (kg)\n1;1.250\n"
    plan = molds_plan(content)
    assert [question.key for question in plan.open_questions] == ["numbers:masses"]
    (row,) = molds_of(content, answers={"numbers:masses": "thousands"})
    assert row.mass_a_kg == Decimal(1250)
    (row,) = molds_of(content, answers={"numbers:masses": "decimal"})
    assert (row.mass_a_kg, row.notes) == (Decimal("1.3"), ("1.250 kg is 1.3 kg.",))


def test_a_point_is_of_thousands_where_the_file_parts_decimals_by_a_comma() -> None:
    content = "mold;mass (kg);cycle time (s)\n1;1.190;12,5\n2;935;34\n"
    plan = molds_plan(content)
    (question,) = plan.questions
    assert (question.key, question.assumed) == ("numbers:masses", "thousands")
    assert next(plan.rows()).mass_kg == Decimal(1190)
    row = molds_of(content, answers={"numbers:masses": "decimal"})[0]
    assert row.mass_kg == Decimal("1.2")


def test_a_decimal_comma_is_told_by_the_other_half() -> None:
    (row, _other) = molds_of("mold;mass a kg;mass b kg\n1;1.100;612,5\n2;420;515\n")
    assert (row.mass_a_kg, row.mass_b_kg) == (Decimal(1100), Decimal("612.5"))


@pytest.mark.parametrize(
    ("content", "expected"),
    [
        ("03/08/2026 26/06/2026", [date(2026, 8, 3), date(2026, 6, 26)]),
        ("03/08/2026 04/09/2026", [None, None]),
        ("3.8.26 5.8.26", [date(2026, 8, 3), date(2026, 8, 5)]),
        ("31/02/2026 26/06/2026", [None, date(2026, 6, 26)]),
        ("2026-08-03 20260804", [date(2026, 8, 3), date(2026, 8, 4)]),
    ],
)
def test_dates_are_never_guessed(content: str, expected: list[date | None]) -> None:
    first, second = content.split()
    rows = molds_of(f"mold;life count;as of\n1;5;{first}\n2;6;{second}\n")
    assert [row.opening_at for row in rows] == expected
    assert [row.problem is None for row in rows] == [on is not None for on in expected]


def test_an_instant_with_its_offset_is_a_day_of_the_plant() -> None:
    content = "mold;as of\n1;2026-03-25T23:30:00+00:00\n"
    assert molds_of(content)[0].opening_at == date(2026, 3, 25)
    (row,) = molds_of(content, zone=ZoneInfo("Europe/Berlin"))
    assert row.opening_at == date(2026, 3, 26)


@pytest.mark.parametrize(
    ("heading", "text", "kg"),
    [
        # factors: NIST SP 811, appendix B.8 (pound avoirdupois, tonne)
        ("Mass A (kg)", "420", "420"),
        ("Mass A [lbs]", "925", "419.6"),
        ("Weight A", "925 lb", "419.6"),
        ("Gewicht A in kg", "612,5", "612.5"),
        ("Gewicht A (t)", "0,42", "420"),
        ("Peso A", "420 kg", "420"),
        ("Mass A", "420000 g", "420"),
    ],
)
def test_masses_come_in_kg(heading: str, text: str, kg: str) -> None:
    (row,) = molds_of(f"mold;{heading}\n1;{text}\n")
    assert row.mass_a_kg == Decimal(kg)


def test_a_mass_without_a_unit_is_taken_as_kg_said_and_changeable() -> None:
    content = "mold;mass a\n1;925\n"
    (question,) = molds_plan(content).questions
    assert (question.key, question.assumed) == ("unit:mass a", "kg")
    (row,) = molds_of(content, answers={"unit:mass a": "lb"})
    assert row.mass_a_kg == Decimal("419.6")


@pytest.mark.parametrize(
    ("text", "seconds"),
    [("34", "34"), ("34 s", "34"), ("0,5 min", "30"), ("1:05", "65"), ("12,5 Sek.", "12.5")],
)
def test_cycle_times_come_in_seconds(text: str, seconds: str) -> None:
    (row,) = molds_of(f"mold;Zykluszeit\n1;{text}\n")
    assert row.cycle_time_s == Decimal(seconds)


def test_a_total_and_one_half_give_the_other_and_a_wrong_sum_is_said() -> None:
    first, second, third = molds_of(
        "mold;mass a kg;mass b kg;total mass kg\n1;420;;935\n2;420;515;930\n3;420;;400\n"
    )
    assert first.mass_b_kg == Decimal(515)
    assert second.notes == ("The halves add up to 935.0 kg, the file says 930.0 kg.",)
    assert verdict(third) is Verdict.REFUSED


@pytest.mark.parametrize(
    ("text", "count"),
    [("8", 8), ("2x4", 8), ("2 × 16", 32), ("1+1", 2), ("family 2+2", 4), ("8-fach", 8)],
)
def test_cavities_are_counted(text: str, count: int) -> None:
    assert molds_of(f"mold;cavities\n1;{text}\n")[0].cavity_count == count


@pytest.mark.parametrize(
    ("resin", "group", "filler"),
    [
        ("PP", "mild", "none"),
        ("PP T20", "mild", "glass"),
        ("ABS/PC", "medium", "none"),
        ("PA66-GF30", "medium", "glass"),
        ("POM + 20% regrind", "gassy", "none"),
        ("PC-FR", "corrosive", "none"),
        ("XQ-7", "", ""),
    ],
)
def test_groups_and_fillers_follow_from_resins(resin: str, group: str, filler: str) -> None:
    # common practice, no source
    (row,) = molds_of(f"mold;resin\n1;{resin}\n")
    assert (row.resin_group, row.filler) == (group, filler)
    assert not group or group in set(ResinGroup)
    assert not filler or filler in set(Filler)


def test_a_column_of_groups_goes_before_what_the_resin_says() -> None:
    (row,) = molds_of("mold;resin;resin group;filler\n1;PP;corrosive;glass\n")
    assert (row.resin_group, row.filler, row.notes) == ("corrosive", "glass", ())


def test_circuits_are_gathered_from_cells_columns_and_rows() -> None:
    (row,) = molds_of("mold;circuit 1;circuit 2\n1;A1;A2\n1;B1, B2;\n")
    assert row.circuits == circuits("A1", "A2", "B1", "B2")


def test_a_number_of_circuits_gives_them_numbers() -> None:
    (row,) = molds_of("mold;number of circuits\n1;3\n")
    assert row.circuits == circuits("1", "2", "3")
    assert "3 circuits" in row.notes[0]


def test_rows_below_a_mold_belong_to_it_only_when_somebody_says_so() -> None:
    content = example("circuits-below.csv")
    first, second = molds_of(content, answers={"mold_above": "yes"})
    assert first.circuits == circuits("A1", "A2", "B1")
    assert second.circuits == circuits("A1")
    left = molds_of(content, answers={"mold_above": "no"})
    assert [verdict(row) for row in left] == [None, Verdict.SKIPPED, Verdict.SKIPPED, None]


def test_spellings_are_one_mold_or_two_as_answered() -> None:
    content = example("spelled-twice.csv")
    one = molds_of(content, answers={"same:0417": "same", "same:0500": "apart"})
    assert [row.number for row in one if verdict(row) is None] == [
        *("0417", "417", "M-0500", "M0500", "k-12"),
    ]
    two = molds_of(content, answers={"spellings": "apart"})
    assert [row.number for row in two if verdict(row) is None] == [
        *("0417", "mold 0417", "417", "M-0500", "M0500", "k-12"),
    ]


def test_a_spelling_that_may_be_one_of_ours_is_asked_and_led_back_to_ours() -> None:
    content = "mold;rack\nM-0418;A1\n"
    plan = molds_plan(content, match_mold=OURS)
    assert [question.key for question in plan.open_questions] == ["same:0418"]
    assert "“0418” of ours" in plan.open_questions[0].text
    (row,) = molds_of(content, match_mold=OURS, answers={"same:0418": "same"})
    assert (row.number, row.mold, row.problem) == ("0418", 3, None)
    (row,) = molds_of(content, match_mold=OURS, answers={"same:0418": "apart"})
    assert (row.number, row.mold, row.problem) == ("M-0418", None, None)


def test_many_spellings_are_asked_about_at_once() -> None:
    lines = [line for n in range(30) for line in (f"{n:04d};A", f"M-{n:04d};A")]
    plan = molds_plan("\n".join(["mold;rack", *lines]))
    (question,) = plan.open_questions
    assert question.key == "spellings"
    assert "30 molds" in question.text


def test_what_headings_meant_before_wins_over_their_words() -> None:
    content = "mold;name\n1;A1\n"
    (row,) = molds_of(content, remembered={"name": Meaning.STORAGE_PLACE})
    assert (row.storage_place, row.name) == ("A1", "")
    (column,) = [each for each in molds_plan(content).columns if each.name == "name"]
    assert column.reason


def test_a_person_says_what_a_column_means() -> None:
    content = "a;b\n1;A1\n"
    plan = molds_plan(content)
    assert [question.key for question in plan.open_questions] == ["meaning:mold"]
    rows = molds_of(content, answers={"column:a": "mold", "column:b": "storage_place"})
    assert [facts(row) for row in rows][-1]["storage_place"] == "A1"


def test_the_mold_is_found_by_what_cells_hold() -> None:
    plan = molds_plan("what;rack\n0417;A1\n0418;A2\n", match_mold=OURS)
    first = plan.columns[0]
    assert (first.meaning, first.reason) == (Meaning.MOLD, "by the molds in it")


def test_classes_finishes_and_resins_are_found_by_what_cells_hold() -> None:
    plan = molds_plan("mold;x;y;z\n1;101;A-2;PP\n2;102;VDI 27;POM\n3;SPI 103;C1;PA66-GF30\n")
    assert [str(column.meaning) for column in plan.columns] == [
        *("mold", "mold_class", "finish", "resin"),
    ]
    assert all(column.reason.startswith("by the ") for column in plan.columns[1:])


@pytest.mark.parametrize(
    "answers", [{"column:mold": "counter"}, {"column:none": "mold"}, {"heading": "99"}]
)
def test_an_answer_that_fits_nothing_is_refused(answers: dict[str, str]) -> None:
    with pytest.raises(TableRefused):
        molds_plan("mold;rack\n1;A1\n", answers=answers)


def test_totals_are_skipped_and_molds_named_like_one_are_not() -> None:
    rows = molds_of("mold;name;cavities\n1;Media;4\n2;Total;2\nTotal;;6\n;Summe;6\n")
    assert [verdict(row) for row in rows] == [None, None, Verdict.SKIPPED, Verdict.SKIPPED]
    assert "mold_above" not in [
        question.key for question in molds_plan("mold;cavities\n1;4\n;Sum\n").questions
    ]


def test_our_own_list_of_molds_reads_back() -> None:
    plan = molds_plan(
        "Mold,Name,Class,Cavities,Mass of the A half in kg,Mass of the B half in kg,Resin,"
        "Resin group,Filler,Cycle time in s,Cycles,Shots,Cycles before our records,True as of\n"
        '0417,Cap,101,8,420.0,515.5,PP,"unfilled PE, PP, PS",none,12.50,184250,184000,150000,'
        "2026-03-25\n"
        '0418,Housing,102,4,612.5,580.0,PA66-GF30,"ABS, PC, PA",glass or mineral,34.00,5,5,0,'
        "2026-03-25\n"
    )
    assert plan.open_questions == ()
    first, second = plan.rows()
    assert (first.mass_a_kg, first.mass_b_kg) == (Decimal(420), Decimal("515.5"))
    assert (first.resin_group, first.filler) == ("mild", "none")
    assert first.cycle_time_s == Decimal("12.5")
    assert (first.opening_count, first.opening_at) == (150_000, date(2026, 3, 25))
    assert (second.resin_group, second.filler, second.opening_count) == ("medium", "glass", 0)


def test_reading_a_plan_twice_gives_the_same() -> None:
    plan: Any = molds_plan(example("register-plain.csv"))
    assert list(plan.rows()) == list(plan.rows())


@pytest.mark.parametrize("heading", ["Mass kg", "Mass in kg", "Peso kg", "Masa (kg)", "Peso en kg"])
def test_a_short_heading_is_known_with_its_unit_behind_it(heading: str) -> None:
    (row,) = molds_of(f"mold;{heading}\n0417;420\n")
    assert row.mass_kg == 420
