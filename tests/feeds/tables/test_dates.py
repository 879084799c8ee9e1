from datetime import date, datetime, time, timedelta

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from moldcare.core.errors import TableRefused
from moldcare.feeds.tables import answers_from_command
from moldcare.feeds.tables.date_order import (
    DateEvidence,
    Order,
    date_from,
    decide_dates,
)
from moldcare.feeds.tables.dates import moment_parts, seconds_of_day, written_date
from tests.feeds.tables.reading import BERLIN, plan_of, rows_of, verdicts_of


def file_with(*dates: str) -> str:
    return "mold;date;time;reading\n" + "".join(
        f"0001;{text};06:00;{value}\n" for value, text in enumerate(dates, start=1)
    )


def days_of(content: str, **options: object) -> list[date | None]:
    return [
        row.at.astimezone(BERLIN).date() if row.at else None for row in rows_of(content, **options)
    ]


def test_one_date_that_allows_one_order_decides_for_all() -> None:
    plan = plan_of(file_with("03/08/2026", "26/06/2026"))
    assert days_of(file_with("03/08/2026", "26/06/2026")) == [
        date(2026, 8, 3),
        date(2026, 6, 26),
    ]
    assert plan.columns[1].how == "day first: “26/06/2026” in row 3 allows nothing else"
    assert days_of(file_with("03/08/2026", "06/26/2026")) == [
        date(2026, 3, 8),
        date(2026, 6, 26),
    ]


@pytest.mark.parametrize("sign", ["/", "-"])
def test_dates_that_fit_both_orders_are_asked_and_wait(sign: str) -> None:
    content = file_with(f"03{sign}04{sign}2026", f"04{sign}09{sign}2026")
    (question,) = plan_of(content).open_questions
    assert question.key == "dates"
    assert [choice.value for choice in question.choices] == ["day_first", "month_first"]
    assert "2026-04-03" in question.choices[0].text
    assert "2026-03-04" in question.choices[1].text
    assert verdicts_of(content) == ["needs_answer", "needs_answer"]


def test_the_answer_about_day_and_month_is_followed() -> None:
    content = file_with("03/04/2026", "04/09/2026")
    day_first = answers_from_command(dates="day-first")
    month_first = answers_from_command(dates="month-first")
    assert days_of(content, answers=day_first) == [date(2026, 4, 3), date(2026, 9, 4)]
    assert days_of(content, answers=month_first) == [date(2026, 3, 4), date(2026, 4, 9)]


def test_dates_that_need_both_orders_are_refused_naming_both_rows() -> None:
    content = file_with("03/04/2026", "26/06/2026", "06/26/2026")
    with pytest.raises(TableRefused, match=r"“26/06/2026” in row 3 .* “06/26/2026” in row 4"):
        plan_of(content)


def test_an_answer_lets_the_rest_of_a_contradicting_file_in() -> None:
    content = file_with("26/06/2026", "06/26/2026")
    assert verdicts_of(content, answers={"dates": "day_first"}) == [None, "refused"]


def test_points_mean_day_first_which_is_shown_and_may_be_changed() -> None:
    content = file_with("03.04.2026")
    (question,) = plan_of(content).questions
    assert (question.key, question.assumed) == ("dates", "day_first")
    assert days_of(content) == [date(2026, 4, 3)]
    assert days_of(content, answers={"dates": "month_first"}) == [date(2026, 3, 4)]


def test_two_figures_for_the_year_are_20xx_and_said() -> None:
    content = file_with("3/8/26", "26/6/26")
    assert days_of(content) == [date(2026, 8, 3), date(2026, 6, 26)]
    (question,) = plan_of(content).questions
    assert (question.key, question.assumed) == ("years", "20xx")


def test_two_figures_for_the_year_beside_four_need_no_question() -> None:
    content = file_with("3/8/26", "26/6/2026")
    assert plan_of(content).questions == ()
    assert days_of(content) == [date(2026, 8, 3), date(2026, 6, 26)]


def test_two_figures_for_the_year_alone_are_still_asked_for_their_order() -> None:
    assert [question.key for question in plan_of(file_with("3/8/26")).open_questions] == ["dates"]


def test_with_hyphens_and_two_figures_the_year_may_come_first() -> None:
    (question,) = plan_of(file_with("26-04-03")).open_questions
    assert [choice.value for choice in question.choices] == ["day_first", "year_first"]
    assert days_of(file_with("26-04-03"), answers={"dates": "year_first"}) == [date(2026, 4, 3)]


@pytest.mark.parametrize("text", ["31/02/2026", "2026-02-30", "20260230", "30. Februar 2026"])
def test_a_day_that_is_in_no_calendar_is_refused_and_not_moved(text: str) -> None:
    row = rows_of(file_with(text))[0]
    assert row.at is None
    assert row.problem is not None
    assert row.problem.verdict == "refused"
    assert "does not exist" in row.problem.reason


@pytest.mark.parametrize("text", ["2026-13-01", "0026-04-03", "soon", "2199-04-03", "4.2026"])
def test_what_is_no_date_is_refused(text: str) -> None:
    assert verdicts_of(file_with(text, "2026-04-03")) == ["refused", None]


@pytest.mark.parametrize(
    "text",
    [
        *("2026-04-03", "2026/04/03", "2026.4.3", "20260403", "3 April 2026", "3. April 2026"),
        *("3 Apr 2026", "3-Apr-26", "April 3, 2026", "Fri, 3 Apr 2026", "Fr. 03.04.2026"),
        *("3 de abril de 2026", "viernes 3 abr 2026", "3rd April 2026", "Fr 3. Apr. 2026"),
    ],
)
def test_unmistakable_dates_need_no_question(text: str) -> None:
    assert days_of(file_with(text)) == [date(2026, 4, 3)]
    assert plan_of(file_with(text)).open_questions == ()


def test_march_is_known_in_german_with_and_without_its_umlaut() -> None:
    assert {
        written.date
        for text in ("3. März 2026", "3. Mär 2026", "3 Mrz 2026", "3. Maerz 2026")
        if (written := written_date(text))
    } == {date(2026, 3, 3)}


def test_spreadsheet_day_numbers_are_asked_with_both_meanings() -> None:
    # Day 46115 of the count from 1900 is 3 April 2026 (ECMA-376 part 1, 18.17.4.1: day 1 is
    # 1 January 1900, with the 29 February 1900 that never was).
    content = "mold;at;reading\n0001;46115.25;5\n"
    (question,) = plan_of(content).open_questions
    assert question.key == "serial_days"
    assert "2026-04-03" in question.choices[0].text
    row = rows_of(content, answers=answers_from_command(dates="1900"))[0]
    assert row.at is not None
    assert row.at.astimezone(BERLIN) == datetime(2026, 4, 3, 6, 0, tzinfo=BERLIN)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        *(("06:00", time(6)), ("6:00", time(6)), ("06.00", time(6)), ("6h00", time(6))),
        *(("06:00:30", time(6, 0, 30)), ("2:22 PM", time(14, 22)), ("2 p.m.", time(14))),
        *(("12:05 am", time(0, 5)), ("12 pm", time(12)), ("14:22 Uhr", time(14, 22))),
        *(("1422", time(14, 22)), ("06:00:30.123", time(6, 0, 30)), ("00:00", time(0))),
    ],
)
def test_times_of_day_are_read(text: str, expected: time) -> None:
    seconds = expected.hour * 3600 + expected.minute * 60 + expected.second
    assert seconds_of_day(text) == seconds


@pytest.mark.parametrize("text", ["25:00", "24:01", "6:60", "13 pm", "0 am", "6", "noon", ""])
def test_what_is_no_time_is_none(text: str) -> None:
    assert seconds_of_day(text) is None


def test_24_00_is_the_midnight_behind_the_day() -> None:
    content = "mold;date;time;reading\n0001;2026-04-13;24:00;5\n"
    at = rows_of(content)[0].at
    assert at is not None
    assert at.astimezone(BERLIN) == datetime(2026, 4, 14, tzinfo=BERLIN)


def test_a_day_without_a_time_waits_for_one() -> None:
    content = "mold;date;reading\n0001;2026-04-13;5\n0002;2026-04-13 14:00;6\n"
    assert [question.key for question in plan_of(content).open_questions] == ["time_of_day"]
    assert verdicts_of(content) == ["needs_answer", None]
    at = rows_of(content, answers=answers_from_command(dates="06:00"))[0].at
    assert at is not None
    assert at.astimezone(BERLIN) == datetime(2026, 4, 13, 6, tzinfo=BERLIN)


def test_a_file_without_any_date_waits_for_an_instant_for_all() -> None:
    content = "mold;reading\n0001;5\n"
    assert [question.key for question in plan_of(content).open_questions] == ["meaning:at"]
    assert verdicts_of(content) == ["needs_answer"]
    at = rows_of(content, answers=answers_from_command(dates="2026-04-13T06:00"))[0].at
    assert at is not None
    assert at.astimezone(BERLIN) == datetime(2026, 4, 13, 6, tzinfo=BERLIN)


@pytest.mark.parametrize("text", ["2026-04-13T06:00:00Z", "2026-04-13T08:00:00+02:00"])
def test_an_instant_with_its_own_offset_is_taken_as_it_is(text: str) -> None:
    at = rows_of(f"mold;at;reading\n0001;{text};5\n")[0].at
    assert at is not None
    assert at.isoformat() == "2026-04-13T06:00:00+00:00"


@pytest.mark.parametrize("key", ["time_of_day", "at_for_all"])
def test_an_answer_that_is_no_time_is_refused(key: str) -> None:
    with pytest.raises(TableRefused):
        plan_of(file_with("2026-04-13"), answers={key: "26:77"})


WRITTEN = {
    "%Y-%m-%d": None,
    "%Y/%m/%d": None,
    "%Y%m%d": None,
    "%d %B %Y": None,
    "%B %d, %Y": None,
    "%d-%b-%Y": None,
    "%a, %d %b %Y": None,
    "%d/%m/%Y": Order.DAY_FIRST,
    "%d.%m.%Y": Order.DAY_FIRST,
    "%m/%d/%Y": Order.MONTH_FIRST,
    "%m-%d-%y": Order.MONTH_FIRST,
    "%d.%m.%y": Order.DAY_FIRST,
}
DAYS = st.dates(min_value=date(2000, 1, 1), max_value=date(2079, 12, 31))


@given(days=st.lists(DAYS, min_size=1, max_size=15), form=st.sampled_from(sorted(WRITTEN)))
def test_dates_written_in_any_form_read_back_or_are_asked(days: list[date], form: str) -> None:
    # Python's strftime writes the dates.
    evidence = DateEvidence()
    texts = [on.strftime(form) for on in days]
    for row, text in enumerate(texts, start=1):
        written = written_date(text)
        assert written is not None
        evidence.add(written, text=text, row=row)
    decided = decide_dates(evidence)
    order = WRITTEN[form]
    if order is not None and decided.order is None:
        assert decided.questions[0].is_open
        decided = decide_dates(evidence, answer=order)
    elif order is not None and decided.questions and decided.questions[0].key == "dates":
        assume(form.startswith("%d."))
    read = [
        date_from(written, decision=decided, text=text)
        for text in texts
        if (written := written_date(text))
    ]
    assert read == days


@given(
    moment=st.datetimes(datetime.fromisoformat("2000-01-01"), datetime.fromisoformat("2079-01-01"))
)
def test_moments_are_parted_into_date_and_time(moment: datetime) -> None:
    moment = moment.replace(microsecond=0)
    for form in ("%d.%m.%Y %H:%M:%S", "%Y-%m-%dT%H:%M:%S", "%d %B %Y, %H:%M:%S"):
        date_text, time_text = moment_parts(moment.strftime(form))
        seconds = seconds_of_day(time_text)
        assert seconds is not None
        assert timedelta(seconds=seconds) == moment - datetime.combine(moment.date(), time())
        assert written_date(date_text) is not None


@given(text=st.text(max_size=24))
def test_no_text_is_an_accident(text: str) -> None:
    date_text, time_text = moment_parts(text)
    written_date(date_text)
    seconds = seconds_of_day(time_text)
    assert seconds is None or 0 <= seconds <= 86_400
