"""The round of readings: what a person types, what is written, what is said beside it."""

from collections.abc import Callable
from datetime import timedelta
from html import unescape
from re import sub
from uuid import uuid4

import pytest
from django.db import connection
from django.http import HttpResponseBase
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from moldcare.acts.doing import Doing
from moldcare.acts.readings import ReadingEntry, record_readings
from moldcare.core.counting.values import State
from moldcare.counters.models import Counter, Reading, ReadingDecision, Verdict
from moldcare.plant.models import Person
from tests import factories

pytestmark = pytest.mark.usefixtures("clock")

ROUND = "/readings"
ClientOf = Callable[[str], Client]


def text_of(response: HttpResponseBase) -> str:
    """The text of a page, with one blank between words."""
    body = response.getvalue().decode()  # type: ignore[attr-defined]
    return sub(r"\s+", " ", unescape(sub(r"<[^>]+>", " ", body))).strip()


def running(number: str, *, author: Person, cycle: str = "12.0") -> Counter:
    """A mold in a press of its own, with its own counter, read once an hour ago."""
    mold = factories.mold(number=number)
    factories.cycle_time(mold, author=author, standard_s=cycle)
    factories.set_in_press(mold, press=factories.spot(), author=author)
    return factories.counter(on=mold, author=author)


@pytest.fixture
def counters(doing: Doing, lead: Person) -> tuple[Counter, Counter]:
    """Two running molds, each read eight hours ago."""
    factories.plant()
    both = running("0417", author=lead), running("0233", author=lead)
    earlier = Doing(person=lead, now=doing.now - timedelta(hours=8))
    record_readings(
        earlier,
        [ReadingEntry(counter=each, at=earlier.now, value=482_010) for each in both],
    )
    return both


def sent(client: Client, **fields: str) -> HttpResponseBase:
    return client.post(ROUND, {"hand_in": str(uuid4()), **fields})


def newest(counter: Counter) -> Reading | None:
    return Reading.objects.filter(counter=counter).order_by("-id").first()


def test_every_running_mold_has_one_field_and_its_last_value(
    counters: tuple[Counter, Counter], client_of: ClientOf
) -> None:
    response = client_of("technician").get(ROUND)
    said = text_of(response)
    assert said.count("482,010") == 2
    assert "press 1" in said.lower()
    assert response.content.decode().count("data-pad-field") == 2


def test_filled_rows_are_written_and_empty_ones_are_not_read(
    counters: tuple[Counter, Counter], client_of: ClientOf
) -> None:
    first, second = counters
    client = client_of("technician")
    response = sent(client, **{f"counter-{first.pk}": "483 110", f"counter-{second.pk}": ""})
    assert response.status_code == 302
    row = newest(first)
    assert row is not None
    assert (row.value, row.source) == (483_110, "typed")
    assert Reading.objects.filter(counter=second).count() == 1
    assert "1 reading is written down." in text_of(client.get(ROUND))


def test_a_wrong_number_is_a_sentence_beside_its_row_and_the_others_go_in(
    counters: tuple[Counter, Counter], client_of: ClientOf
) -> None:
    first, second = counters
    response = sent(
        client_of("technician"),
        **{f"counter-{first.pk}": "48x3", f"counter-{second.pk}": "483000"},
    )
    assert response.status_code == 422
    assert "cannot be read as a whole number" in text_of(response)
    assert 'value="48x3"' in response.content.decode()  # type: ignore[attr-defined]
    row = newest(second)
    assert row is not None
    assert row.value == 483_000
    assert "483,000 is written down: 990 cycles." in text_of(response)


def test_more_digits_than_the_counter_has_keep_no_other_row_back(
    counters: tuple[Counter, Counter], client_of: ClientOf
) -> None:
    first, second = counters
    response = sent(
        client_of("technician"),
        **{f"counter-{first.pk}": "48301012", f"counter-{second.pk}": "483000"},
    )
    assert response.status_code == 422
    assert "it ends at 9999999" in text_of(response)
    assert 'value="48301012"' in response.content.decode()  # type: ignore[attr-defined]
    assert Reading.objects.filter(counter=first).count() == 1
    assert Reading.objects.filter(counter=second).count() == 2


def test_about_is_offered_as_an_estimate_and_taken_with_one_tap(
    counters: tuple[Counter, Counter], client_of: ClientOf
) -> None:
    first, _second = counters
    client = client_of("technician")
    name = f"counter-{first.pk}"
    response = sent(client, **{name: "ca. 483000"})
    assert response.status_code == 422
    assert "Take 483,000 as an estimate" in text_of(response)
    assert Reading.objects.filter(counter=first).count() == 1
    assert sent(client, **{name: "ca. 483000", "about": name}).status_code == 302
    row = newest(first)
    assert row is not None
    assert (row.value, row.source) == (483_000, "estimated")


def test_a_doubtful_value_is_said_in_its_row_with_what_it_may_have_meant(
    counters: tuple[Counter, Counter], client_of: ClientOf
) -> None:
    first, _second = counters
    client = client_of("lead")
    sent(client, **{f"counter-{first.pk}": "382301"})
    said = text_of(client.get(ROUND))
    assert "382,301 goes backwards." in said
    assert "It was 482,301" in said
    technician = text_of(client_of("technician").get(ROUND))
    assert "type it once more" in technician


def test_a_lead_settles_it_with_one_tap_and_what_was_typed_elsewhere_stays(
    counters: tuple[Counter, Counter], client_of: ClientOf
) -> None:
    first, second = counters
    client = client_of("lead")
    sent(client, **{f"counter-{first.pk}": "382301"})
    held = newest(first)
    assert held is not None
    response = sent(client, **{"decide": f"{held.pk}:slip:482301", f"counter-{second.pk}": "4830"})
    assert response.status_code == 200
    assert f'id="id_counter-{second.pk}" value="4830"' in response.content.decode()  # type: ignore[attr-defined]
    corrected = newest(first)
    assert corrected is not None
    assert (corrected.value, corrected.source) == (482_301, "corrected")
    assert Verdict.objects.get(pk=held.pk).state == State.SET_ASIDE
    assert Verdict.objects.get(pk=corrected.pk).state == State.ACCEPTED


def test_a_technician_types_it_again_and_settles_nothing(
    counters: tuple[Counter, Counter], client_of: ClientOf
) -> None:
    first, _second = counters
    client = client_of("technician")
    sent(client, **{f"counter-{first.pk}": "382301"})
    held = newest(first)
    assert held is not None
    assert sent(client, decide=f"{held.pk}:slip:482301").status_code == 422
    assert not ReadingDecision.objects.exists()
    assert sent(client, **{f"counter-{first.pk}": "482301"}).status_code == 302
    again = newest(first)
    assert again is not None
    assert Verdict.objects.get(pk=again.pk).state == State.ACCEPTED


def test_two_taps_write_once(counters: tuple[Counter, Counter], client_of: ClientOf) -> None:
    first, _second = counters
    client = client_of("technician")
    fields = {"hand_in": str(uuid4()), f"counter-{first.pk}": "483000"}
    assert client.post(ROUND, fields).status_code == 302
    assert client.post(ROUND, fields).status_code == 302
    assert Reading.objects.filter(counter=first).count() == 2


def test_a_time_for_the_whole_round_may_be_typed(
    counters: tuple[Counter, Counter], client_of: ClientOf, doing: Doing
) -> None:
    first, _second = counters
    name = f"counter-{first.pk}"
    client = client_of("technician")
    assert sent(client, **{name: "482500", "at": "2026-11-25T06:40"}).status_code == 302
    row = newest(first)
    assert row is not None
    assert row.at == doing.now - timedelta(minutes=32)


@pytest.mark.parametrize(
    ("at", "sentence"),
    [
        ("2026-10-25T02:30", "this time came twice"),
        ("2026-03-29T02:30", "this time never came"),
        ("half past", "is no date with a time"),
        ("2026-11-25T23:00", "in the future"),
    ],
)
def test_a_time_that_cannot_be_is_said_and_nothing_typed_is_lost(
    at: str, sentence: str, counters: tuple[Counter, Counter], client_of: ClientOf
) -> None:
    first, _second = counters
    response = sent(client_of("technician"), **{f"counter-{first.pk}": "482500", "at": at})
    assert response.status_code == 422
    assert sentence in text_of(response)
    assert 'value="482500"' in response.content.decode()  # type: ignore[attr-defined]
    assert Reading.objects.filter(counter=first).count() == 1


def test_an_empty_round_writes_nothing(
    counters: tuple[Counter, Counter], client_of: ClientOf
) -> None:
    client = client_of("technician")
    assert sent(client, **{f"counter-{counters[0].pk}": " "}).status_code == 302
    assert "Type at least one value first" in text_of(client.get(ROUND))


def test_two_tablets_at_once_are_one_count(
    counters: tuple[Counter, Counter], lead: Person, doing: Doing
) -> None:
    first, _second = counters
    for seconds in (0, 7):
        record_readings(
            Doing(person=lead, now=doing.now + timedelta(seconds=seconds), hand_in=uuid4()),
            [ReadingEntry(counter=first, at=doing.now + timedelta(seconds=seconds), value=483_000)],
        )
    verdicts = Verdict.objects.filter(reading__counter=first).order_by("reading_id")
    assert [row.state for row in verdicts] == [State.ACCEPTED] * 3
    assert [row.cycles for row in verdicts][1:] == [990, 0]


def test_a_press_counter_serves_the_mold_without_one(lead: Person, client_of: ClientOf) -> None:
    factories.plant()
    press = factories.spot(number="7")
    mold = factories.mold(number="0108")
    factories.set_in_press(mold, press=press, author=lead)
    counter = factories.counter(on=press, author=lead, label="P-7")
    client = client_of("technician")
    assert "P-7, of the press" in text_of(client.get(ROUND))
    assert sent(client, **{f"counter-{counter.pk}": "120"}).status_code == 302
    assert newest(counter) is not None


def test_counters_on_benches_are_behind_a_fold_and_racks_are_left_out(
    lead: Person, client_of: ClientOf
) -> None:
    factories.plant()
    for number, kind in (("B-1", "bench"), ("R-1", "rack"), ("A-1", "away")):
        mold = factories.mold(number=number)
        factories.move(mold, to=factories.spot(kind=kind), author=lead)
        factories.counter(on=mold, author=lead, label=f"Z-{number}")
    said = text_of(client_of("technician").get(ROUND))
    assert "2 counters elsewhere" in said
    assert "Z-B-1" in said
    assert "Z-A-1" in said
    assert "Z-R-1" not in said


def test_a_mold_that_nothing_counts_is_said(lead: Person, client_of: ClientOf) -> None:
    factories.plant()
    factories.set_in_press(factories.mold(number="0500"), press=factories.spot(), author=lead)
    assert "Nothing counts it" in text_of(client_of("technician").get(ROUND))


def test_a_reader_sees_the_round_and_types_nothing(
    counters: tuple[Counter, Counter], client_of: ClientOf
) -> None:
    client = client_of("reader")
    response = client.get(ROUND)
    assert "data-pad-field" not in response.content.decode()
    assert sent(client, **{f"counter-{counters[0].pk}": "483000"}).status_code == 403


def test_the_round_asks_no_more_with_more_held_readings(
    counters: tuple[Counter, Counter], client_of: ClientOf, lead: Person, doing: Doing
) -> None:
    client = client_of("lead")
    sent(client, **{f"counter-{counters[0].pk}": "382301"})
    with CaptureQueriesContext(connection) as few:
        client.get(ROUND)
    more = [running(f"N-{n}", author=lead) for n in range(4)]
    for counter in more:
        earlier = Doing(person=lead, now=doing.now - timedelta(hours=1))
        record_readings(earlier, [ReadingEntry(counter=counter, at=earlier.now, value=5_000)])
    sent(client, **{f"counter-{counter.pk}": "1200" for counter in more})
    assert Verdict.objects.filter(state=State.HELD).count() == 5
    with CaptureQueriesContext(connection) as many:
        client.get(ROUND)
    assert len(many) <= len(few)


def test_page_names(client_of: ClientOf) -> None:
    assert reverse("readings") == ROUND
    assert reverse("held-readings") == "/readings/held"
    assert reverse("held-reading", kwargs={"pk": 4}) == "/readings/held/4"
