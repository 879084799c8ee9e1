import pytest

from moldcare.core.errors import TableRefused
from moldcare.feeds.tables import Meaning, answers_from_command
from moldcare.feeds.tables.headings import guess_meanings
from moldcare.feeds.tables.layout import Form
from tests.feeds.tables.reading import example, plan_of, rows_of, values_of, verdicts_of


def meanings_of(content: str | bytes, **options: object) -> dict[str, str]:
    return {column.name: column.meaning for column in plan_of(content, **options).columns}


@pytest.mark.parametrize(
    "headings",
    [
        "Mold;Date;Time;Reading;Press;Note;Read by",
        "Mould No.;Date;Time;Counter reading;Machine;Remarks;Operator",
        "Tool number;Day;Hour;Total shots;IMM;Comment;Initials",
        "Werkzeug-Nr.;Datum;Uhrzeit;Zählerstand;Maschine;Bemerkung;Abgelesen von",
        "WKZ;Tag;Zeit;Schusszahl;SGM;Notiz;Kürzel",
        "FORM;DATUM;UHRZEIT;STAND;PRESSE;HINWEIS;BEDIENER",
        "Molde;Fecha;Hora;Lectura;Máquina;Observaciones;Leído por",
        "N.º de molde;Día;Hora;Ciclos;Prensa;Nota;Operario",
        "mold ;\u00a0date;time\u200b;Reading (shots);press;note;by",
    ],
)
def test_headings_are_understood_in_three_languages(headings: str) -> None:
    content = headings + "\n0001;2026-04-13;06:00;5;3;ok;AKO\n"
    plan = plan_of(content)
    assert [column.meaning for column in plan.columns] == [
        *("mold", "date", "time", "value", "press", "note", "reported_by"),
    ]
    assert all(column.reason for column in plan.columns)
    assert plan.questions == ()
    (row,) = plan.rows()
    assert (row.mold_text, row.value, row.press_text) == ("0001", 5, "3")
    assert (row.note, row.reported_by) == ("ok", "AKO")


def test_a_counter_column_is_the_value_where_nothing_else_is() -> None:
    assert meanings_of("Werkzeug;Zeitpunkt;Zähler\n0001;2026-04-13 06:00;5\n")["Zähler"] == "value"
    assert (
        meanings_of("Zähler;Zeitpunkt;Zählerstand\nZ-1;2026-04-13 06:00;5\n")["Zähler"] == "counter"
    )


def test_titles_and_empty_rows_above_the_heading_are_passed_over() -> None:
    content = (
        "Counter readings\nPress shop;Date;13.04.2026\n\nDate;13.04.2026\n\n"
        "Mold;At;Reading\n\n0001;2026-04-13 06:00;5\n\n\n0002;2026-04-13 06:00;6\n"
    )
    plan = plan_of(content)
    assert (plan.heading_row, plan.rows_count) == (6, 2)
    assert [row.row for row in plan.rows()] == [8, 11]


@pytest.mark.parametrize("word", ["Total", "Summe:", "TOTALES", "Gesamt", "Grand total", "Average"])
def test_totals_below_are_skipped_and_said(word: str) -> None:
    content = f"mold;at;reading\n0001;2026-04-13 06:00;5\n{word};;5\n;{word};5\n"
    assert verdicts_of(content) == [None, "skipped", "skipped"]


def test_a_total_does_not_sway_how_the_column_is_read() -> None:
    content = "mold;at;reading\n0001;2026-04-13 06:00;12.400\nAverage;;12.399,5\n"
    assert values_of(content) == [12400, None]


def test_a_heading_repeated_on_every_page_is_skipped() -> None:
    content = "mold;at;reading\n0001;2026-04-13 06:00;5\nmold;at;reading\n0002;2026-04-13 06:00;6\n"
    assert values_of(content) == [5, None, 6]
    assert verdicts_of(content) == [None, "skipped", None]


def test_one_column_a_mold_is_understood() -> None:
    plan = plan_of(example("weekly-one-column-a-mold.csv"), answers={"time_of_day": "06:00"})
    assert plan.form is Form.WIDE
    rows = [row for row in plan.rows() if row.problem is None]
    assert len(rows) == 11
    assert [(row.row, row.column, row.mold_text, row.value) for row in rows[:2]] == [
        (5, "B", "0001", 298120),
        (5, "C", "0002", 80040),
    ]


def test_a_gap_in_a_wide_table_is_skipped_in_its_column() -> None:
    content = "date;0001;0002\n2026-04-13 06:00;5;\n"
    rows = rows_of(content)
    assert [(row.column, row.value) for row in rows] == [("B", 5), ("C", None)]
    assert rows[1].problem is not None
    assert rows[1].problem.verdict == "skipped"


def test_a_wide_table_with_a_mold_that_is_not_ours_lists_it() -> None:
    content = "date;0001;8888\n2026-04-13 06:00;5;6\n"
    assert verdicts_of(content) == [None, "not_ours"]


def test_a_wide_table_without_any_heading_for_its_dates_is_asked_about_them() -> None:
    content = "week;0001;0002\n2026-04-13 06:00;5;6\n2026-04-20 06:00;7;8\n"
    assert [question.key for question in plan_of(content).open_questions] == ["meaning:at"]
    assert values_of(content, answers={"meaning:at": "week"}) == [5, 6, 7, 8]


def test_answers_about_columns_override_every_guess() -> None:
    content = "a;b;c;reading\n0001;2026-04-13 06:00;5;9\n"
    answers = answers_from_command(columns=["a=mold", "B=at", "c=value", "reading=rest"])
    (row,) = rows_of(content, answers=answers)
    assert (row.mold_text, row.value, row.problem) == ("0001", 5, None)


def test_unknown_headings_are_asked_and_every_row_waits() -> None:
    content = "mold;at;foo\n0001;2026-04-13 06:00;5\n"
    (question,) = plan_of(content).open_questions
    assert question.key == "meaning:value"
    assert [choice.value for choice in question.choices] == ["foo"]
    assert verdicts_of(content) == ["needs_answer"]
    assert values_of(content, answers={"meaning:value": "foo"}) == [5]


def test_two_columns_that_may_be_the_reading_are_asked() -> None:
    content = "mold;at;reading;shots\n0001;2026-04-13 06:00;5;900\n"
    (question,) = plan_of(content).open_questions
    assert question.key == "meaning:value"
    assert [choice.value for choice in question.choices] == ["reading", "shots"]
    assert values_of(content, answers={"meaning:value": "shots"}) == [900]


def test_two_columns_that_may_be_the_mold_are_shown_with_the_plainer_taken() -> None:
    content = "tool;mold;at;reading\nx;0001;2026-04-13 06:00;5\n"
    (question,) = plan_of(content).questions
    assert (question.key, question.assumed) == ("meaning:mold", "mold")
    assert rows_of(content)[0].mold_text == "0001"


def test_what_headings_meant_before_is_remembered() -> None:
    content = "mold;at;foo\n0001;2026-04-13 06:00;5\n"
    assert values_of(content, remembered={"foo": Meaning.VALUE}) == [5]


def test_columns_without_or_with_the_same_heading_have_names_of_their_own() -> None:
    content = "mold;at;reading;;note;note\n0001;2026-04-13 06:00;5;x;y;z\n"
    names = list(meanings_of(content))
    assert names == ["mold", "at", "reading", "column D", "note", "note (F)"]
    assert values_of(content, answers={"column:column d": "note"}) == [5]


def test_a_file_without_a_heading_is_asked_about() -> None:
    content = "0001;2026-04-13 06:00;5\n0002;2026-04-13 06:00;6\n"
    plan = plan_of(content)
    assert plan.heading_row == 0
    assert [question.key for question in plan.open_questions] == ["meaning:value", "meaning:mold"]
    answers = answers_from_command(columns=["A=mold", "C=value"])
    assert values_of(content, answers=answers) == [5, 6]


def test_a_person_may_say_where_the_heading_is() -> None:
    content = "mold;at;reading\nx;y;z\n0001;2026-04-13 06:00;5\n"
    answers = {"heading": "2", "column:x": "mold", "column:y": "at", "column:z": "value"}
    assert values_of(content, answers=answers) == [5]
    with pytest.raises(TableRefused, match="Row 99"):
        plan_of(content, answers={"heading": "99"})


@pytest.mark.parametrize(
    ("answers", "sentence"),
    [
        ({"column:nothing": "mold"}, "no column “nothing”"),
        ({"column:mold": "colour"}, "no meaning"),
    ],
)
def test_an_answer_that_names_nothing_is_refused(answers: dict[str, str], sentence: str) -> None:
    with pytest.raises(TableRefused, match=sentence):
        plan_of("mold;at;reading\n0001;2026-04-13 06:00;5\n", answers=answers)


@pytest.mark.parametrize(
    ("dates", "columns"),
    [("sometimes", []), (None, ["Stand"]), (None, ["=value"]), (None, ["Stand="])],
)
def test_words_of_the_command_that_mean_nothing_are_refused(
    dates: str | None, columns: list[str]
) -> None:
    with pytest.raises(TableRefused):
        answers_from_command(dates=dates, columns=columns)


def test_words_of_the_command_become_answers() -> None:
    assert answers_from_command(
        dates="month-first,06:00,winter",
        columns=["Stand = value:decimal", "Form=mold:held"],
        more={"heading": "3"},
    ) == {
        "dates": "month_first",
        "time_of_day": "06:00",
        "clock_twice": "second",
        "column:stand": "value",
        "numbers:stand": "decimal",
        "column:form": "mold",
        "zeros:form": "held",
        "heading": "3",
    }


def test_no_meaning_is_given_to_two_columns() -> None:
    taken, _rivals = guess_meanings(["mold", "tool", "reading", "shots", "date", "fecha"])
    meanings = [meaning for meaning, _reason in taken.values()]
    assert len(meanings) == len(set(meanings))
