"""Owners, supplies, auxiliaries, cautions, rates and counters on the pages of the setup."""

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from uuid import uuid4

import pytest
from django.test import Client
from django.utils import timezone

from moldcare.care.models import CareRule
from moldcare.logbook.models import Entry
from moldcare.molds.models import Auxiliary, Owner, Supply
from moldcare.pages.printing.orders import order_document
from moldcare.paper.cautions import cautions_for
from moldcare.plant.models import CautionLine, Person, Plant, Rate
from tests import factories
from tests.pages.shown import words_of

pytestmark = pytest.mark.usefixtures("clock", "db")

ClientOf = Callable[[str], Client]


def test_an_owner_has_a_mark_and_years_to_keep_its_records(client_of: ClientOf) -> None:
    client = client_of("lead")
    typed = {"name": "Aquaforma", "is_customer": "on", "retention_years": "15", "contact": "Ana"}
    assert client.post("/setup/owners/add", typed).status_code == 302
    said = words_of(client.get("/setup/owners"))
    assert "customer property" in said
    assert "15 years" in said
    answer = client.post("/setup/owners/add", {**typed, "name": "AQUAFORMA"})
    assert answer.status_code == 422
    assert 'value="AQUAFORMA"' in answer.getvalue().decode()
    row = Owner.objects.get()
    change = {"name": "Aquaforma", "retention_years": "", "contact": "Ana"}
    assert client.post(f"/setup/owners/{row.pk}", change).status_code == 302
    row.refresh_from_db()
    assert (row.is_customer, row.retention_years) == (False, None)


def test_an_owner_entered_twice_is_taken_off_the_list_unless_molds_are_theirs(
    client_of: ClientOf,
) -> None:
    factories.plant()
    owner, twice = factories.owner(name="Aquaforma"), factories.owner(name="Aqua Forma")
    factories.mold(number="0417", owner=owner)
    client = client_of("lead")
    html = client.get(f"/setup/owners/{twice.pk}").getvalue().decode()
    assert f'href="/setup/owners/{twice.pk}/withdraw"' in html

    answer = client.post(f"/setup/owners/{owner.pk}/withdraw", {"reason": "wrong"})
    assert answer.status_code == 422
    assert "Mold 0417 is theirs." in words_of(answer)
    away = f"/setup/owners/{twice.pk}/withdraw"
    assert client.post(away, {"reason": " "}).status_code == 422
    sent = {"reason": "the same as Aquaforma", "hand_in": str(uuid4())}
    for _tap in range(2):
        assert client.post(away, sent)["Location"] == "/setup/owners"
    assert Entry.objects.filter(kind="owner_withdrawn").count() == 1
    said = words_of(client.get("/setup/owners"))
    assert "Aquaforma" in said
    assert client.get(away).status_code == 404
    # the name is free again
    assert client.post("/setup/owners/add", {"name": "Aqua Forma"}).status_code == 302


def test_a_supply_has_a_minimum_a_place_and_its_molds(client_of: ClientOf) -> None:
    mold = factories.mold(number="M-0417")
    client = client_of("lead")
    typed = {
        "number": "G-1",
        "name": "grease",
        "unit": "cartridges",
        "minimum": "2,5",
        "place": "cabinet 2",
        "molds": "m-0417\n\n",
    }
    assert client.post("/setup/supplies/add", typed).status_code == 302
    row = Supply.objects.get()
    assert (row.minimum, row.place) == (Decimal("2.5"), "cabinet 2")
    assert list(row.molds.all()) == [mold]
    assert "cabinet 2" in words_of(client.get("/setup/supplies"))
    # only its molds change
    path = f"/setup/supplies/{row.pk}"
    assert client.post(path, {**typed, "molds": ""}).status_code == 302
    assert not row.molds.exists()
    again = client.post(path, {**typed, "molds": ""})
    assert "Nothing is different" in words_of(again)
    answer = client.post(path, {**typed, "molds": "M-0417\nM-9999"})
    assert answer.status_code == 422
    assert "No mold of ours is called M-9999." in words_of(answer)


def test_a_supply_is_taken_off_the_list_with_a_reason(client_of: ClientOf) -> None:
    row = Supply.objects.create(number="G-1", name="grease")
    client = client_of("lead")
    path = f"/setup/supplies/{row.pk}/withdraw"
    assert client.post(path, {"reason": ""}).status_code == 422
    assert client.post(path, {"reason": "no longer made"}).status_code == 302
    assert "Off the list" in words_of(client.get("/setup/supplies"))
    answer = client.post(path, {"reason": "again"})
    assert "was withdrawn; nothing was written" in words_of(answer)
    assert Entry.objects.filter(kind="supply_withdrawn").count() == 1


def test_an_auxiliary_is_added_and_looked_after_by_a_rule(client_of: ClientOf) -> None:
    client, family = client_of("lead"), factories.family()
    typed = {"number": "TC-4", "name": "controller at press 4", "kind": "temperature controller"}
    answer = client.post("/setup/auxiliaries/add", typed)
    row = Auxiliary.objects.get()
    assert answer["Location"] == f"/setup/auxiliaries/{row.pk}"
    assert "No care rule yet." in words_of(client.get(answer["Location"]))
    form = client.get(f"/setup/auxiliaries/{row.pk}/rules/add").context["form"]
    rule = {name: form[name].value() for name in form.fields}
    sent = {name: value for name, value in rule.items() if value not in (None, "")}
    sent |= {
        "name": "Look it over",
        "family": family.pk,
        "period_n": "26",
        "period_unit": "week",
        "reason": "as its maker says",
    }
    written = client.post(f"/setup/auxiliaries/{row.pk}/rules/add", sent)
    assert written.status_code == 302, words_of(written)
    assert CareRule.objects.get().auxiliary == row
    assert "Look it over" in words_of(client.get(f"/setup/auxiliaries/{row.pk}"))
    assert (
        client.post(f"/setup/auxiliaries/{row.pk}/withdraw", {"reason": "scrapped"}).status_code
        == 302
    )
    assert "Withdrawn" in words_of(client.get("/setup/auxiliaries"))
    assert client.get(f"/setup/auxiliaries/{row.pk}/rules/add").status_code == 404


def test_two_taps_on_an_auxiliary_change_it_once(client_of: ClientOf) -> None:
    client = client_of("lead")
    typed = {"number": "TC-4", "name": "controller", "kind": "controller"}
    client.post("/setup/auxiliaries/add", typed)
    row = Auxiliary.objects.get()
    change = {**typed, "name": "controller at press 4", "hand_in": str(uuid4())}
    for _ in range(2):
        assert client.post(f"/setup/auxiliaries/{row.pk}/edit", change).status_code == 302
    assert Entry.objects.filter(kind="auxiliary_edited").count() == 1


def test_cautions_of_the_plant_stand_beside_the_usual_ones(client_of: ClientOf) -> None:
    factories.plant()
    factories.family(key="descaling", name="descaling")
    client = client_of("lead")
    usual = [str(each.heading) for each in cautions_for(["descaling"])]
    typed = {"family_key": "descaling", "text": "Acid is kept in room 7."}
    assert client.post("/setup/cautions/add", typed).status_code == 302
    said = words_of(client.get("/setup/cautions"))
    assert "Acid is kept in room 7." in said
    assert all(heading in said for heading in usual)
    row = CautionLine.objects.get()
    assert (
        client.post(
            f"/setup/cautions/{row.pk}/withdraw", {"reason": "the room is another now"}
        ).status_code
        == 302
    )
    said = words_of(client.get("/setup/cautions"))
    assert "room 7" not in said
    assert all(heading in said for heading in usual)


def test_a_sheet_says_the_cautions_of_the_plant(client_of: ClientOf, lead: Person) -> None:
    factories.plant()
    mold = factories.counted_mold(number="0417")
    rule = factories.care_rule(mold=mold, count_base=1000)
    order = factories.order(mold, rules=[rule], author=lead)
    client = client_of("lead")
    for family, text in (("", "The pit is covered first."), (rule.family.key, "Brass only.")):
        client.post("/setup/cautions/add", {"family_key": family, "text": text})
    said = words_of(client.get(f"/orders/{order.number}/sheet"))
    assert "Lock-out and stored energy." in said
    assert "The pit is covered first." in said
    assert "Brass only." in said


def test_a_work_order_prints_the_plant_s_cautions_and_its_lock_out_procedure(
    client_of: ClientOf, lead: Person
) -> None:
    factories.plant(lockout_procedure="SP-12 Lock-out of presses")
    mold = factories.counted_mold(number="0417")
    rule = factories.care_rule(mold=mold, count_base=1000)
    order = factories.order(mold, rules=[rule], author=lead)
    client_of("lead").post("/setup/cautions/add", {"family_key": "", "text": "Pit: cover it."})
    document = order_document(order, at=timezone.now(), printed_by="", code_text="x")
    assert document.lockout_procedure == "SP-12 Lock-out of presses"
    assert document.own_cautions == ["Pit: cover it."]
    usual = cautions_for(document.families)
    assert cautions_for(document.families, own=document.own_cautions)[:-1] == usual


def test_the_lock_out_procedure_is_named(client_of: ClientOf) -> None:
    factories.plant()
    client = client_of("lead")
    assert "Name the site" in words_of(client.get("/setup/cautions"))
    typed = {"lockout_procedure": "SP-12 Lock-out of presses"}
    assert client.post("/setup/cautions/lock-out", typed).status_code == 302
    assert Plant.objects.get().lockout_procedure == "SP-12 Lock-out of presses"
    assert "SP-12 Lock-out of presses" in words_of(client.get("/setup/cautions"))


def test_a_rate_is_written_from_a_day_on_and_past_months_stay(client_of: ClientOf) -> None:
    factories.plant(currency="EUR")
    press = factories.spot(number="7")
    client = client_of("manager")
    rate = {"kind": "press", "amount": "62,50", "valid_from": "2026-01-01", "spot": ""}
    assert client.post("/setup/rates/add", rate).status_code == 302
    answer = client.post("/setup/rates/add", {**rate, "amount": "70", "valid_from": "2026-10-01"})
    assert answer.status_code == 422
    assert "would change months that are over" in words_of(answer)
    own = {**rate, "amount": "70", "valid_from": "2026-12-01", "spot": str(press.pk)}
    assert client.post("/setup/rates/add", own).status_code == 302
    answer = client.post("/setup/rates/add", {**own, "kind": "crew"})
    assert "Only a press hour is of a press." in words_of(answer)
    said = words_of(client.get("/setup/rates"))
    assert "62.50 EUR" in said
    assert "holds now" in said
    assert "ahead" in said
    assert Rate.objects.get(spot=press).valid_from == date(2026, 12, 1)
    for role in ("lead", "technician"):
        assert client_of(role).get("/setup/rates").status_code == 403


def test_a_rate_that_was_typed_wrong_is_put_right_from_the_list(client_of: ClientOf) -> None:
    factories.plant(currency="EUR")
    press = factories.spot(number="7")
    client = client_of("manager")
    general = {"kind": "press", "amount": "65", "valid_from": "2026-01-01", "spot": ""}
    own = {**general, "amount": "620", "valid_from": "2026-11-01", "spot": str(press.pk)}
    for rate in (general, own):
        assert client.post("/setup/rates/add", rate).status_code == 302
    row = Rate.objects.get(spot=press)
    html = client.get("/setup/rates").getvalue().decode()
    assert f"?again={row.pk}" in html
    # months that are over keep their money: nothing of the first rate can be put right
    assert f"?again={Rate.objects.get(spot=None).pk}" not in html
    again = f"/setup/rates/add?again={row.pk}"
    assert 'value="620"' in client.get(again).getvalue().decode()
    assert client.post(again, {**own, "amount": "62"}).status_code == 302
    said = words_of(client.get("/setup/rates"))
    assert "62.00 EUR" in said
    assert "620.00 EUR" not in said

    ends = {**own, "amount": "", "ends_own": "on", "valid_from": "2026-12-01"}
    for wrong, told in (
        ({**ends, "amount": "5"}, "Leave it empty"),
        ({**ends, "spot": ""}, "Say which press"),
        ({**ends, "ends_own": ""}, "Say what it costs."),
    ):
        answer = client.post("/setup/rates/add", wrong)
        assert answer.status_code == 422
        assert told in words_of(answer)
    assert client.post("/setup/rates/add", ends).status_code == 302
    assert "no rate of its own" in words_of(client.get("/setup/rates"))


def test_rates_in_another_currency_than_the_plant_s_are_said(client_of: ClientOf) -> None:
    factories.plant(currency="USD")
    factories.rate(kind="crew", valid_from=date(2026, 1, 1), currency="EUR")
    said = words_of(client_of("manager").get("/setup/rates"))
    assert "40.00 EUR" in said
    assert "Some rates are in EUR, and the plant counts in USD now." in said


def test_counters_are_listed_with_where_they_sit(client_of: ClientOf, lead: Person) -> None:
    factories.plant()
    mold = factories.mold(number="0417")
    factories.counter(on=mold, author=lead, label="41-B")
    loose = factories.CounterFactory(label="spare 9")
    said = words_of(client_of("lead").get("/setup/counters"))
    assert said.index("spare 9") < said.index("41-B")
    assert "1 counter sits nowhere: it stands first." in said
    assert "mold 0417" in said
    reader = client_of("reader").get("/setup/counters").getvalue().decode()
    assert f"/counters/{loose.pk}/fit" not in reader


def test_the_setup_counts_what_there_is_and_names_what_is_missing(client_of: ClientOf) -> None:
    factories.plant()
    mold = factories.mold()
    said = words_of(client_of("manager").get("/setup"))
    assert "1 has no care rule yet." in said
    assert "No shift is entered" in said
    assert "Your lock-out procedure is not named." in said
    factories.care_rule(mold=mold)
    factories.three_shifts()
    said = words_of(client_of("manager").get("/setup"))
    assert "has no care rule yet." not in said
    assert "No shift is entered" not in said
