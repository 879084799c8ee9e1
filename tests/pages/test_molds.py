"""The molds' list and the page of one mold: what they say, and what can be done from them."""

from collections.abc import Callable
from datetime import datetime, timedelta
from decimal import Decimal
from html import unescape
from re import sub
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse

from moldcare.acts.doing import Doing
from moldcare.acts.floor import fit_component, note_condition, take_out_component
from moldcare.acts.molds import add_component
from moldcare.acts.orders import write_order
from moldcare.acts.readings import ReadingEntry, record_readings
from moldcare.acts.refresh import refresh_counts
from moldcare.core.shifts import ShiftCalendar
from moldcare.counters.models import Counter
from moldcare.molds.models import Component, Mold, Position
from moldcare.pages.molds.addresses import MoldNumber
from moldcare.pages.molds.listing import Wanted, listed_boards, wanted
from moldcare.plant.models import Person
from moldcare.plant.queries import the_calendar, the_plant
from moldcare.work.models import Order
from tests import factories
from tests.factories import ENTERED_AT

pytestmark = pytest.mark.usefixtures("clock")


def words(client: Client, path: str) -> str:
    """The text of a page, with one blank between words."""
    response = client.get(path)
    assert response.status_code == 200
    return sub(r"\s+", " ", unescape(sub(r"<[^>]+>", " ", response.getvalue().decode()))).strip()


@pytest.fixture
def calendar(db: None) -> ShiftCalendar:
    factories.plant()
    return the_calendar(the_plant())


def numbers(ask: Wanted, *, now: datetime, calendar: ShiftCalendar) -> list[str]:
    return [board.mold.number for board in listed_boards(ask, now=now, calendar=calendar)]


def in_press(number: str, *, author: Person, name: str = "lid, 38 mm") -> Mold:
    """A mold in a press of its own, derived."""
    mold = factories.mold(number=number, name=name)
    factories.set_in_press(mold, press=factories.spot(), author=author)
    refresh_counts(molds=[mold.pk])
    return mold


@pytest.mark.parametrize("number", ["17/3", "a~b", "..", "~s", "M 1", "Ä-3", "50%", "a\\b", "?x#y"])
def test_every_number_on_a_plate_has_an_address(number: str, lead: Person) -> None:
    in_press(number, author=lead)
    client = Client()
    client.force_login(lead)
    assert number in words(client, reverse("mold", kwargs={"number": number}))
    assert MoldNumber().to_python(MoldNumber().to_url(number)) == number


@pytest.mark.parametrize("asked", ["groß", "GROSS", "gross", "GROẞ", "Groß"])
def test_search_finds_names_whatever_their_case(
    asked: str, lead: Person, now: datetime, calendar: ShiftCalendar
) -> None:
    # case folding after the Unicode Standard, section 3.13: sharp s is "ss" in both cases
    in_press("M-1", author=lead, name="Großer Deckel")
    in_press("M-2", author=lead, name="Kleiner Deckel")
    assert numbers(wanted({"q": asked}), now=now, calendar=calendar) == ["M-1"]


@pytest.mark.parametrize("asked", ["Ä-3", "ä-3", "A\N{COMBINING DIAERESIS}-3"])
def test_search_finds_numbers_in_both_spellings_of_an_umlaut(
    asked: str, lead: Person, now: datetime, calendar: ShiftCalendar
) -> None:
    in_press("Ä-3", author=lead)
    in_press("A-3", author=lead)
    assert numbers(wanted({"q": asked}), now=now, calendar=calendar) == ["Ä-3"]


def test_the_list_is_in_the_order_of_when_something_is_due(
    lead: Person, now: datetime, calendar: ShiftCalendar
) -> None:
    for number, days in (("M-1", 400), ("M-2", 40), ("M-3", 350)):
        mold = factories.mold(number=number)
        factories.move(mold, to=factories.spot(kind="bench"), author=lead)
        factories.care_rule(mold=mold, count_base=None, period_n=days, period_unit="day")
        refresh_counts(molds=[mold.pk])
    bare = factories.mold(number="M-0")
    refresh_counts(molds=[bare.pk])
    assert numbers(Wanted(), now=now, calendar=calendar) == ["M-2", "M-3", "M-1", "M-0"]


def test_the_list_can_be_narrowed_to_a_place_and_a_state(
    lead: Person, now: datetime, calendar: ShiftCalendar
) -> None:
    pressed = in_press("M-1", author=lead)
    factories.care_rule(mold=pressed, count_base=None, period_n=30, period_unit="day")
    benched = factories.mold(number="M-2")
    factories.move(benched, to=factories.spot(kind="bench"), author=lead)
    factories.care_rule(mold=benched, count_base=None, period_n=3, period_unit="year")
    nowhere = factories.mold(number="M-3")
    refresh_counts(molds=[pressed.pk, benched.pk, nowhere.pk])

    def found(**asked: str) -> list[str]:
        return numbers(wanted(asked), now=now, calendar=calendar)

    assert found(place="press") == ["M-1"]
    assert found(place="bench") == ["M-2"]
    assert found(place="nowhere") == ["M-3"]
    assert found(state="overdue") == ["M-1"]
    assert found(place="bench", state="overdue") == []
    # what is not known is no question
    assert len(found(place="moon", state="green")) == 3


def test_a_mold_that_was_withdrawn_has_no_page(client_of: Callable[[str], Client]) -> None:
    mold = factories.mold(number="M-9", withdrawn_at=ENTERED_AT)
    refresh_counts(molds=[mold.pk])
    assert client_of("lead").get("/molds/M-9").status_code == 404
    assert client_of("lead").get("/molds").status_code == 200
    assert "M-9" not in words(client_of("lead"), "/molds")


@pytest.fixture
def counted(lead: Person, now: datetime) -> Mold:
    """A mold in press 7 with a counter read twice and a rule that is due."""
    factories.plant()
    mold = factories.mold(number="0417", name="Dripper cap", opening_count=1_000_000)
    factories.cycle_time(mold, author=lead, standard_s="9.4")
    press = factories.spot(number="7")
    factories.set_in_press(mold, press=press, author=lead, at=now - timedelta(days=3))
    counter = factories.counter(on=mold, author=lead, label="41-B")
    doing = Doing(person=lead, now=now)
    factories.care_rule(mold=mold, count_base=9_000, name="Clean the vents")
    factories.care_rule(mold=mold, count_base=900_000, name="Grease the slides")
    for hours, value in ((48, 0), (2, 10_000)):
        record_readings(
            doing, [ReadingEntry(counter=counter, at=now - timedelta(hours=hours), value=value)]
        )
    refresh_counts(counters=[counter.pk], molds=[mold.pk])
    return mold


def test_the_page_says_where_the_mold_is_and_what_it_has_done(
    counted: Mold, client_of: Callable[[str], Client]
) -> None:
    text = words(client_of("reader"), "/molds/0417")
    assert "In press 7 since Sun 07:12." in text
    assert "Cycles since new 1,010,000" in text
    assert "Shots since new 1,010,000 dry cycles not separated" in text
    assert "Newest reading 05:12" in text
    assert "Clean the vents: overdue" in text
    assert "1 can wait" in text
    assert "41-B , on the mold. It showed 10,000 at the newest accepted reading, 05:12." in text


def test_a_reader_is_offered_nothing_that_writes(
    counted: Mold, client_of: Callable[[str], Client]
) -> None:
    html = client_of("reader").get("/molds/0417").getvalue().decode()
    for sign in ("Start sheet", "Pull from", 'name="task"', "Make the order", "Change this mold"):
        assert sign not in html


def test_a_doubtful_reading_is_said_with_the_way_to_settle_it(
    counted: Mold, client_of: Callable[[str], Client], lead: Person, now: datetime
) -> None:
    counter = Counter.objects.get(label="41-B")
    at = now - timedelta(hours=1)
    record_readings(Doing(person=lead, now=now), [ReadingEntry(counter=counter, at=at, value=12)])
    text = words(client_of("technician"), "/molds/0417")
    assert "1 reading is held. It is not counted until somebody says what it means." in text
    assert "unsure since 06:12: a newer reading is held" in text


def test_parts_that_are_out_are_said_beside_the_name(
    counted: Mold, client_of: Callable[[str], Client], doing: Doing, now: datetime
) -> None:
    position = Position.objects.create(mold=counted, ident="A3")
    added = add_component(doing, serial="S-1", name="core")
    component = Component.objects.get(pk=added.row_id)
    fit_component(doing, component=component, position=position, at=now - timedelta(hours=3))
    client = client_of("reader")
    assert "part out" not in words(client, "/molds/0417")
    take_out_component(doing, component=component, at=now - timedelta(hours=2))
    assert "Dripper cap part out: A3" in words(client, "/molds/0417")
    assert "part out: A3" in words(client, "/molds")


def test_the_condition_is_a_sentence(
    counted: Mold, client_of: Callable[[str], Client], doing: Doing, now: datetime
) -> None:
    client = client_of("reader")
    assert "Condition Not noted yet" in words(client, "/molds/0417")
    note_condition(
        doing, mold=counted, at=now, condition="needs_work", needs_next="part", note="vent ring"
    )
    assert "Condition Needs work, needs a part next vent ring" in words(client, "/molds/0417")


def test_a_double_tap_on_start_sheet_makes_one_order(
    counted: Mold, client_of: Callable[[str], Client]
) -> None:
    client = client_of("lead")
    rule = counted.care_rules.get(name="Clean the vents")
    sent = {"hand_in": str(uuid4()), "task": [rule.pk], "then": "sheet"}
    first = client.post("/molds/0417", sent)
    second = client.post("/molds/0417", sent)
    assert first.status_code == second.status_code == 302
    order = Order.objects.get()
    assert first["Location"] == second["Location"] == f"/orders/{order.number}/sheet"
    assert [task.rule for task in order.tasks.all()] == [rule]


def test_rules_of_another_mold_do_not_get_into_the_order(
    counted: Mold, client_of: Callable[[str], Client]
) -> None:
    other = factories.care_rule(mold=factories.mold())
    answer = client_of("lead").post("/molds/0417", {"task": [other.pk, "x", "9" * 30]})
    assert answer["Location"] == "/molds/0417"
    assert not Order.objects.exists()


def test_a_cycle_time_is_shown_without_zeros_that_say_nothing(
    counted: Mold, client_of: Callable[[str], Client]
) -> None:
    assert counted.cycle_times.get().standard_s == Decimal("9.40")
    assert "Cycle time 9.4 s" in words(client_of("reader"), "/molds/0417")


def test_a_mold_without_an_open_order_leads_to_a_new_one(
    client_of: Callable[[str], Client], lead: Person, doing: Doing
) -> None:
    factories.plant()
    mold = in_press("M-2041", author=lead)
    rule = factories.care_rule(mold=mold)
    way = reverse("order-add", kwargs={"number": mold.number})
    page = reverse("mold", kwargs={"number": mold.number})
    assert f'href="{way}"' in client_of("technician").get(page).content.decode()
    write_order(doing, mold=mold, rules=[rule])
    assert f'href="{way}"' not in client_of("technician").get(page).content.decode()
    assert f'href="{way}"' not in client_of("reader").get(page).content.decode()


def test_a_mold_whose_counts_wait_to_be_derived_has_a_page(
    client_of: Callable[[str], Client],
) -> None:
    factories.plant()
    factories.mold(number="0418", name="Dripper base")
    text = words(client_of("reader"), "/molds/0418")
    assert "Cycles since new –" in text
