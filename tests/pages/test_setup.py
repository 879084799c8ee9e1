"""The setup: a mold in twelve fields with rules and counter, changed and withdrawn later."""

from collections.abc import Callable
from datetime import datetime
from decimal import Decimal
from re import findall, sub
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.utils import timezone

from moldcare.care.models import CareRule, RuleSet, SetRule
from moldcare.counters.models import Counter, CounterFitting, Life
from moldcare.logbook.models import Entry
from moldcare.molds.models import Circuit, Mold, Owner, Position
from moldcare.molds.queries import place_of
from tests import factories

pytestmark = pytest.mark.usefixtures("clock")

ClientOf = Callable[[str], Client]
MOST_FIELDS = 12


def words_of(answer: object) -> str:
    html = answer.getvalue().decode()  # type: ignore[attr-defined]
    return sub(r"\s+", " ", sub(r"<[^>]+>", " ", html))


def shown_values(client: Client, path: str) -> dict[str, object]:
    """What a form shows, as a browser would send it unchanged."""
    form = client.get(path).context["form"]
    with timezone.override(ZoneInfo("Europe/Berlin")):
        values = {name: form[name].value() for name in form.fields}
    return {name: "" if value is None else value for name, value in values.items()}


@pytest.fixture
def rule_set(db: None) -> RuleSet:
    factories.plant()
    row = RuleSet.objects.create(name="every mold")
    SetRule.objects.create(
        rule_set=row, family=factories.family(), name="Wipe", count_base=10_000, reason="common"
    )
    return row


def typed(rule_set: RuleSet, **fields: object) -> dict[str, object]:
    return {
        "number": "0417",
        "name": "Dripper cap",
        "cavity_count": "8",
        "standard_cycle_s": "9,4",
        "opening_count": "1 700 000",
        "owner": "Aquaforma",
        "resin_group": "mild",
        "filler": "none",
        "rule_set": rule_set.pk,
        "counter": "41-B",
        "counter_value": "500",
        **fields,
    }


def test_a_new_mold_takes_at_most_twelve_fields(rule_set: RuleSet, client_of: ClientOf) -> None:
    factories.spot(kind="bench")
    html = client_of("lead").get("/setup/molds/add").getvalue().decode()
    names = set(findall(r'name="([\w-]+)"', html.partition('<form class="form"')[2]))
    assert len(names - {"csrfmiddlewaretoken", "hand_in"}) == MOST_FIELDS


def test_a_mold_is_added_with_rules_counter_and_owner(
    rule_set: RuleSet, client_of: ClientOf
) -> None:
    bench = factories.spot(kind="bench", number="2")
    answer = client_of("lead").post("/setup/molds/add", typed(rule_set, place=bench.pk))
    assert answer["Location"] == "/molds/0417"
    mold = Mold.objects.get()
    assert mold.owner == Owner.objects.get(name="Aquaforma")
    assert mold.cavities.count() == 8
    assert mold.cycle_times.get().standard_s == Decimal("9.40")
    place = place_of(mold)
    assert place is not None
    assert place.spot == bench
    assert [rule.name for rule in mold.care_rules.all()] == ["Wipe"]
    assert CounterFitting.objects.get().value_shown == 500
    assert Life.objects.get(pk=mold.pk).cycles == 1_700_000


def test_a_refused_mold_leaves_nothing_behind(rule_set: RuleSet, client_of: ClientOf) -> None:
    client = client_of("lead")
    factories.mold(number="0417")
    answer = client.post("/setup/molds/add", typed(rule_set))
    assert answer.status_code == 422
    assert "There is a mold with this number already." in words_of(answer)
    taken = factories.counter(on=factories.mold(), author=factories.person(), label="41-B")
    answer = client.post("/setup/molds/add", typed(rule_set, number="0418"))
    assert answer.status_code == 422
    assert not Mold.objects.filter(number="0418").exists()
    assert not Owner.objects.exists()
    assert not CareRule.objects.exists()
    assert list(Counter.objects.all()) == [taken]


def test_two_spellings_of_an_owner_are_one(rule_set: RuleSet, client_of: ClientOf) -> None:
    client = client_of("lead")
    client.post("/setup/molds/add", typed(rule_set, owner="Größe AG"))
    client.post(
        "/setup/molds/add",
        typed(rule_set, number="0418", owner="GRÖSSE AG", counter="", counter_value=""),
    )
    assert Owner.objects.count() == 1
    assert Mold.objects.filter(owner__name="Größe AG").count() == 2


def test_a_mold_is_changed_and_the_entry_keeps_what_it_was(
    rule_set: RuleSet, client_of: ClientOf
) -> None:
    client = client_of("lead")
    client.post("/setup/molds/add", typed(rule_set))
    sent = shown_values(client, "/molds/0417/edit")
    unchanged = client.post("/molds/0417/edit", sent)
    assert unchanged.status_code == 422
    assert unchanged.context["form"].errors == {
        "__all__": ["Nothing is different from what is there; nothing was written."]
    }
    answer = client.post("/molds/0417/edit", {**sent, "mass_a_kg": "1250,5", "number": "0417-A"})
    assert answer["Location"] == "/molds/0417-A"
    mold = Mold.objects.get()
    assert mold.mass_a_kg == Decimal("1250.5")
    assert "number: 0417 → 0417-A" in Entry.objects.get(kind="mold_edited").sentence


def test_the_count_before_our_records_is_corrected_with_a_reason(
    rule_set: RuleSet, client_of: ClientOf
) -> None:
    client = client_of("lead")
    client.post("/setup/molds/add", typed(rule_set))
    sent = shown_values(client, "/molds/0417/edit")
    sent["opening_count"] = "1.750.000"
    assert client.post("/molds/0417/edit", sent).status_code == 422
    assert client.post("/molds/0417/edit", {**sent, "reason": "card file"}).status_code == 302
    assert Life.objects.get().cycles == 1_750_000


def test_positions_and_circuits_are_added(
    rule_set: RuleSet, client_of: ClientOf, now: datetime
) -> None:
    client = client_of("lead")
    mold = factories.mold(number="0417")
    cavity = mold.cavities.get(ident="2")
    sent = {"ident": "A3", "is_forming": "on", "cavity": cavity.pk}
    assert client.post("/molds/0417/positions/add", sent).status_code == 302
    assert Position.objects.get().cavity == cavity
    water = {"ident": "B1", "half": "B", "bore_mm": "9,5"}
    assert client.post("/molds/0417/circuits/add", water).status_code == 302
    assert Circuit.objects.get().bore_mm == Decimal("9.5")
    assert client.post("/molds/0417/circuits/add", water).status_code == 422


def test_a_change_made_meanwhile_is_not_taken_back_unseen(
    rule_set: RuleSet, client_of: ClientOf
) -> None:
    client = client_of("lead")
    client.post("/setup/molds/add", typed(rule_set))
    seen = client.get("/molds/0417/edit").context["seen"]
    sent = {**shown_values(client, "/molds/0417/edit"), "seen": seen}
    assert client.post("/molds/0417/edit", {**sent, "resin": "PA 66"}).status_code == 302
    late = client.post("/molds/0417/edit", {**sent, "finish": "SPI A-2"})
    assert late.status_code == 422
    assert "Somebody changed this after you opened it." in words_of(late)
    assert Mold.objects.get().resin == "PA 66"


def test_a_mold_is_withdrawn_with_a_reason(rule_set: RuleSet, client_of: ClientOf) -> None:
    mold = factories.mold(number="0417")
    client = client_of("lead")
    assert client.post("/molds/0417/withdraw", {"reason": ""}).status_code == 422
    assert client.post("/molds/0417/withdraw", {"reason": "scrapped"}).status_code == 302
    mold.refresh_from_db()
    assert mold.withdrawn_at is not None


def test_the_setup_names_only_what_can_be_done_here(client_of: ClientOf) -> None:
    factories.plant()
    shown = words_of(client_of("lead").get("/setup"))
    for heading in ("Molds", "Rule sets", "Counters"):
        assert heading in shown
    reader = words_of(client_of("reader").get("/setup"))
    for act in ("Add a mold", "Load the starting sets", "Add a counter"):
        assert act in shown
        assert act not in reader


def test_starting_sets_are_loaded_once(client_of: ClientOf) -> None:
    factories.plant()
    client = client_of("lead")
    first = words_of(client.post("/setup", {}, follow=True))
    assert "rules in" in first
    count = SetRule.objects.count()
    assert count > 0
    again = words_of(client.post("/setup", {}, follow=True))
    assert "All starting sets were there already; nothing was changed." in again
    assert SetRule.objects.count() == count
    row = RuleSet.objects.first()
    assert row is not None
    assert row.rules.first().name in words_of(client.get(f"/rule-sets/{row.pk}"))
