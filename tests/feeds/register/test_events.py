"""Intervals in running hours and at events: read, said what they are taken for, never guessed."""

import pytest

from moldcare.care.models.terms import RuleTermsEvent as Event
from moldcare.feeds.register.events import event_in
from moldcare.feeds.register.intervals import Interval, read_interval
from moldcare.feeds.tables import Verdict
from moldcare.feeds.tables.numbers import Signs
from tests.feeds.register.reading import care_of, care_plan, facts, verdict

#: How plants write them in three languages: common practice, no source.
WRITTEN = {
    Event.END_OF_RUN: [
        *("each run", "after each run", "end of run", "At the end of a run", "every batch"),
        *("nach jedem Lauf", "Laufende", "nach jeder Produktion"),
        *("al final de la producción", "después de cada corrida", "tras cada tirada"),
    ],
    Event.BEFORE_SET: [
        *("before each run", "before set", "before every setup", "before production"),
        *("vor jedem Rüsten", "vor dem Einbau", "vor Produktion", "vor jedem Werkzeugwechsel"),
        *("antes de cada montaje", "antes del cambio de molde"),
    ],
    Event.SET: [
        *("each set", "at each set", "every mold change", "per setup"),
        *("bei jedem Rüsten", "jeder Werkzeugwechsel", "beim Einbau"),
        *("en cada cambio de molde", "cada montaje"),
    ],
    Event.INTO_STORAGE: [
        *("before storage", "into storage", "when it goes into storage"),
        *("bei Einlagerung", "vor der Einlagerung", "beim Einlagern"),
        *("al almacenar", "antes de almacenar"),
    ],
    Event.BACK_FROM_STORAGE: [
        *("back from storage", "out of storage", "after storage"),
        *("bei Auslagerung", "nach Lagerung"),
        *("después del almacenamiento",),
    ],
    Event.MOLD_OPENED: [
        *("when opened", "every time the mold was opened", "at each opening"),
        *("beim Öffnen", "nach jedem Öffnen", "al abrir", "en cada apertura del molde"),
    ],
    Event.EACH_SERVICE: [
        *("each service", "at every PM", "with each service"),
        *("bei jeder Wartung", "en cada mantenimiento"),
    ],
}
NO_EVENT = [
    *("set", "run", "storage", "in storage", "while stored", "last service", "next set"),
    *("as needed", "bei Bedarf", "each part", "each oil change", "before and after each run"),
    *("set A", "run 2", "each of the runs that we have had on the large press", "", "before"),
    *("before service", "after each service", "before opening", "all", "weekly"),
]


@pytest.mark.parametrize(
    ("event", "text"), [(event, text) for event, texts in WRITTEN.items() for text in texts]
)
def test_events_are_understood_in_three_languages(event: Event, text: str) -> None:
    assert event_in(text) == event
    assert read_interval(text, signs=None) == Interval(event=event)


@pytest.mark.parametrize("text", NO_EVENT)
def test_what_names_no_event_is_none(text: str) -> None:
    assert event_in(text) == ""


def test_every_event_that_a_rule_knows_can_be_written() -> None:
    assert {*WRITTEN} == {event for event in Event if event}
    for event in WRITTEN:
        assert event_in(f"{event.label}") in ("", event)


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        ("200 h", 200),
        ("every 500 hours", 500),
        ("alle 200 Betriebsstunden", 200),
        ("1.000 Std.", 1000),
        ("cada 200 horas", 200),
        ("200h", 200),
    ],
)
def test_hours_are_understood(text: str, hours: int) -> None:
    found = read_interval(text, signs=Signs.THOUSANDS)
    assert found == Interval(hours=hours)


def test_an_interval_may_be_of_every_kind_at_once() -> None:
    found = read_interval("50,000 shots or 6 months or 200 h or each run", signs=Signs.THOUSANDS)
    assert found == Interval(
        count=50_000,
        basis="shots",
        period_n=6,
        period_unit="month",
        hours=200,
        event=Event.END_OF_RUN,
    )


def test_a_sheet_says_what_hours_and_events_are_taken_for() -> None:
    hours, event = care_of("mold;task;interval\n1;hot runner;200 h\n1;vents;each run\n")
    assert facts(hours)["hours_limit"] == 200
    assert hours.notes == ("“200 h” is taken for 200 hours in which the mold runs.",)
    assert (event.event, event.hours_limit) == ("end_of_run", None)
    assert event.notes == ("“each run” is taken for: at the end of a run.",)


@pytest.mark.parametrize(
    "content",
    [
        "mold;task;interval hours\n1;hot runner;200\n",
        "mold;task;Intervall [h]\n1;hot runner;200\n",
        "mold;task;interval;unit\n1;hot runner;200;h\n",
        "mold;task;interval shots;interval months;interval hours\n1;hot runner;;;200\n",
        "mold;hot runner (200 h)\n1;x\n",
        "mold;hot runner\ninterval;200 h\n1;2026-03-04\n",
    ],
)
def test_hours_may_stand_in_the_heading_or_beside(content: str) -> None:
    (row,) = care_of(content)
    assert (row.hours_limit, row.count_interval, row.problem) == (200, None, None)


def test_small_numbers_without_a_unit_may_be_answered_to_be_hours() -> None:
    content = "mold;task;interval\n1;hot runner;200\n"
    (question,) = care_plan(content).open_questions
    assert question.key == "unit:interval"
    assert "hour" in {choice.value for choice in question.choices}
    (row,) = care_of(content, answers={"unit:interval": "hour"})
    assert (row.hours_limit, row.problem) == (200, None)


def test_a_task_with_another_event_in_a_second_row_is_not_taken_twice() -> None:
    rows = care_of(
        "mold;task;interval\n1;vents;each run\n1;vents;each set\n1;vents;after each run\n"
    )
    assert [verdict(row) for row in rows] == [None, Verdict.REFUSED, Verdict.DUPLICATE]


@pytest.mark.parametrize("mark", ["x", "X", "✓", "ja", "sí"])
def test_a_mark_below_a_task_takes_the_interval_of_its_heading(mark: str) -> None:
    rows = care_of(f"mold;vents (20,000 shots);grease\n1;{mark};{mark}\n2;no;\n3;;weekly\n")
    assert [(row.number, row.task, row.count_interval, verdict(row)) for row in rows] == [
        ("1", "vents", 20_000, None),
        ("1", "grease", None, Verdict.REFUSED),
        ("2", "", None, Verdict.SKIPPED),
        ("3", "grease", None, None),
    ]
    assert rows[1].problem is not None
    assert "“grease (every 20,000 shots)”" in rows[1].problem.reason
