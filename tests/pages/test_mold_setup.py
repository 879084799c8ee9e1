"""A mold in twelve fields with its rules, copied in four, its parts changed, and withdrawn."""

import json
from collections.abc import Callable
from datetime import datetime
from decimal import Decimal
from io import BytesIO
from re import findall, sub
from uuid import uuid4
from zoneinfo import ZoneInfo

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.utils import timezone
from PIL import Image

from moldcare.acts.doing import Doing
from moldcare.acts.refresh import refresh_counts
from moldcare.acts.rules import apply_rule_set
from moldcare.acts.starting_sets import load_starting_sets
from moldcare.care.models import CareRule, RuleSet, SetRule
from moldcare.counters.models import Counter, CounterFitting, Life
from moldcare.logbook.models import Entry
from moldcare.molds.models import Circuit, Component, Mold, Owner, Position
from moldcare.molds.queries import marking_of, place_of
from tests import factories

pytestmark = pytest.mark.usefixtures("clock")

ClientOf = Callable[[str], Client]
MOST_FIELDS, MOST_FIELDS_OF_A_COPY = 12, 4
BESIDE = {"csrfmiddlewaretoken", "hand_in", "seen", "add", "look"}


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
    other = RuleSet.objects.create(name="mirrors", finishes=["A-1", "A-2"])
    row = RuleSet.objects.create(name="every mold")
    SetRule.objects.create(
        rule_set=other,
        family=factories.family(key="finish"),
        name="Look",
        count_base=5_000,
        reason="common",
    )
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
        "resin": "mild none",
        "rule_sets": [rule_set.pk],
        "counter_digits": "6",
        "counter_value": "500",
        "add": "1",
        **fields,
    }


def fields_on(client: Client, path: str) -> set[str]:
    html = client.get(path).getvalue().decode()  # type: ignore[attr-defined]
    return set(findall(r'name="([\w-]+)"', html.partition('<form class="form"')[2])) - BESIDE


def test_a_new_mold_takes_at_most_twelve_fields(rule_set: RuleSet, client_of: ClientOf) -> None:
    factories.spot(kind="bench")
    assert len(fields_on(client_of("lead"), "/setup/molds/add")) == MOST_FIELDS


def test_a_copy_takes_at_most_four_fields(rule_set: RuleSet, client_of: ClientOf) -> None:
    factories.spot(kind="bench")
    factories.mold(number="0417")
    assert len(fields_on(client_of("lead"), "/molds/0417/copy")) == MOST_FIELDS_OF_A_COPY


def test_the_sets_that_fit_are_ticked_before_anything_is_written(
    rule_set: RuleSet, client_of: ClientOf
) -> None:
    client, first = client_of("lead"), typed(rule_set, finish="SPI B-1")
    for name in ("add", "rule_sets"):
        del first[name]
    answer = client.post("/setup/molds/add", first)
    assert answer.status_code == 200
    assert not Mold.objects.exists()
    field = answer.context["form"]["rule_sets"]
    assert field.value() == [str(rule_set.pk)]
    assert [label for _key, label in field.field.choices] == [
        "every mold (1 rule, fits)",
        "mirrors (1 rule, not meant for such a mold)",
    ]
    mirror = client.post("/setup/molds/add", {**first, "finish": "SPI A-2"})
    assert len(mirror.context["form"]["rule_sets"].value()) == 2


def test_two_taps_add_one_mold(rule_set: RuleSet, client_of: ClientOf) -> None:
    client, sent = client_of("lead"), typed(rule_set, hand_in=str(uuid4()))
    for _tap in range(2):
        assert client.post("/setup/molds/add", sent)["Location"] == "/molds/0417/added"
    assert (Mold.objects.count(), Counter.objects.count(), CareRule.objects.count()) == (1, 1, 1)


def test_a_mold_that_is_added_offers_its_label(rule_set: RuleSet, client_of: ClientOf) -> None:
    answer = client_of("lead").post("/setup/molds/add", typed(rule_set), follow=True)
    assert "1 care rule looks after it from now on." in words_of(answer)
    assert 'href="/labels?molds=0417"' in answer.getvalue().decode()  # type: ignore[attr-defined]


def test_a_mold_is_added_with_rules_counter_and_owner(
    rule_set: RuleSet, client_of: ClientOf
) -> None:
    bench = factories.spot(kind="bench", number="2")
    answer = client_of("lead").post("/setup/molds/add", typed(rule_set, place=bench.pk))
    assert answer["Location"] == "/molds/0417/added"
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
    far = typed(rule_set, number="0418", counter_value="1234567")
    answer = client.post("/setup/molds/add", far)
    assert answer.status_code == 422
    assert "more digits than the counter has" in words_of(answer)
    assert not Mold.objects.filter(number="0418").exists()
    assert not Owner.objects.exists()
    assert not CareRule.objects.exists()
    assert not Counter.objects.exists()


def test_two_spellings_of_an_owner_are_one(rule_set: RuleSet, client_of: ClientOf) -> None:
    client = client_of("lead")
    client.post("/setup/molds/add", typed(rule_set, owner="Größe AG"))
    client.post(
        "/setup/molds/add",
        typed(rule_set, number="0418", owner="GRÖSSE AG", counter_digits="", counter_value=""),
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


def test_two_taps_change_and_withdraw_a_mold_once(rule_set: RuleSet, client_of: ClientOf) -> None:
    client = client_of("lead")
    client.post("/setup/molds/add", typed(rule_set))
    sent = shown_values(client, "/molds/0417/edit") | {
        "number": "0417-A",
        "owner": "Nordplast",
        "hand_in": str(uuid4()),
    }
    for _tap in range(2):
        assert client.post("/molds/0417/edit", sent)["Location"] == "/molds/0417-A"
    assert Entry.objects.filter(kind="mold_edited").count() == 1
    gone = {"reason": "scrapped", "hand_in": str(uuid4())}
    for _tap in range(2):
        assert client.post("/molds/0417-A/withdraw", gone)["Location"] == "/molds"
    assert Entry.objects.filter(kind="mold_withdrawn").count() == 1


def test_a_mold_that_runs_another_resin_is_asked_about_its_intervals(
    doing: Doing, client_of: ClientOf
) -> None:
    """Its rules stay as they are until somebody takes over what its sets ask now, with a reason."""
    load_starting_sets(doing)
    mold = factories.mold(number="0417", resin_group="mild", mold_class="102", finish="SPI B-1")
    every = RuleSet.objects.get(name="every mold")
    apply_rule_set(doing, rule_set=every, molds=[mold.pk])
    client = client_of("lead")
    sent = shown_values(client, "/molds/0417/edit")

    # a name changes no interval
    answer = client.post("/molds/0417/edit", {**sent, "name": "lid"})
    assert answer["Location"] == "/molds/0417"
    sent = shown_values(client, "/molds/0417/edit")
    answer = client.post("/molds/0417/edit", {**sent, "resin_group": "gassy"}, follow=True)
    assert answer.redirect_chain == [("/molds/0417/rules", 302)]  # type: ignore[attr-defined]
    said = words_of(answer)
    assert "Its rules stay as they are." in said
    assert "The set asks otherwise now for: Wipe the vents" in said
    wipe = CareRule.objects.get(mold=mold, name="Wipe the vents")
    assert wipe.factor_resin == 1

    take = {"rule_set": every.pk, "apply": "1", "hand_in": str(uuid4())}
    assert client.post("/molds/0417/rules", {**take, "reason": ""}).status_code == 422
    client.post("/molds/0417/rules", {**take, "reason": "runs POM now"})
    wipe.refresh_from_db()
    assert wipe.factor_resin == Decimal("0.6")
    entry = Entry.objects.filter(chain=mold.chain, kind="rule_changed")[0]
    assert "Reason: runs POM now." in entry.sentence
    assert "asks otherwise" not in words_of(client.get("/molds/0417/rules"))


def test_a_set_for_some_molds_stands_in_the_place_of_the_one_it_is_a_part_of(
    doing: Doing, client_of: ClientOf
) -> None:
    # a mold that makes few shots needs the few rules that matter, not those and all the others
    factories.plant()
    load_starting_sets(doing)
    short_lived = RuleSet.objects.get(name__startswith="classes 104")
    client = client_of("lead")
    first = typed(short_lived, mold_class="105", counter_digits="", counter_value="")
    for name in ("add", "rule_sets"):
        del first[name]
    field = client.post("/setup/molds/add", first).context["form"]["rule_sets"]
    assert field.value() == [str(short_lived.pk)]
    labels = dict(field.field.choices).values()
    assert (
        "every mold (14 rules, “classes 104 and 105, the few that matter” stands in its place)"
        in labels
    )
    factories.mold(number="0417", mold_class="105")
    factories.mold(number="0418", mold_class="102")
    page = client.get("/molds/0417/rules")
    choices = {each.rule_set.name: each.is_proposed for each in page.context["choices"]}
    assert choices["every mold"] is False
    assert choices[short_lived.name] is True
    every = RuleSet.objects.get(name="every mold")
    address = f"/rule-sets/{every.pk}/apply"
    shown = [each.mold.number for each in client.get(address).context["choices"].rows]
    assert shown == ["0418"]
    said = words_of(client.get(address, {"took": "all"}))
    assert "“classes 104 and 105, the few that matter” stands in its place" in said


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
    water = {"ident": "B1", "half": "B", "bore_mm": "9,5", "bends": "4", "medium": "water"}
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


def test_a_copy_leads_to_its_label_and_names_where_it_came_from(
    rule_set: RuleSet, client_of: ClientOf
) -> None:
    client, rack = client_of("lead"), factories.spot(kind="rack")
    client.post("/setup/molds/add", typed(rule_set))
    sent = {"number": "0418", "name": "twin", "place": rack.pk, "opening_count": "0"}
    assert client.post("/molds/0417/copy", sent)["Location"] == "/molds/0418/added"
    mold = Mold.objects.get(number="0418")
    assert [rule.name for rule in mold.care_rules.all()] == ["Wipe"]
    assert "mold 0417" in Entry.objects.get(kind="mold_copied").sentence
    assert client.post("/molds/0417/copy", {**sent, "number": "0417"}).status_code == 422


def test_parts_are_shown_with_the_water_map_and_changed(
    rule_set: RuleSet, client_of: ClientOf
) -> None:
    client, mold = client_of("lead"), factories.mold(number="0417")
    refresh_counts(molds=[mold.pk])
    position = Position.objects.create(mold=mold, ident="C1")
    first = Circuit.objects.create(mold=mold, ident="A1", half="A", looped_with="B1")
    Circuit.objects.create(mold=mold, ident="B1", half="B")
    path = f"/molds/0417/circuits/{first.pk}/items"
    rows = {
        "place1": "2",
        "kind1": "bubbler",
        "number1": "7",
        "at1": "C1",
        "place2": "1",
        "kind2": "spiral_baffle",
        "number2": "8",
    }
    assert client.post(path, rows).status_code == 302
    assert [item.number for item in first.items.all()] == ["8", "7"]
    assert first.items.get(number="7").position == position
    begun = client.post(path, {"kind1": "bubbler", "number2": "3"})
    assert begun.status_code == 422
    assert "Give its number" in words_of(begun)
    assert "Say what sits there" in words_of(begun)
    for shown in ("/molds/0417/parts", "/molds/0417"):
        answer = client.get(shown)
        html = answer.getvalue().decode()  # type: ignore[attr-defined]
        assert html.count('class="water__item"') == 2
        assert html.count('class="water__loop"') == 1
        assert "spiral baffle 8, bubbler 7 (C1)" in words_of(answer)
    sent = shown_values(client, f"/molds/0417/circuits/{first.pk}")
    changed = client.post(f"/molds/0417/circuits/{first.pk}", {**sent, "looped_with": "C9"})
    assert changed["Location"] == "/molds/0417/parts"
    assert "which is no circuit of this mold" in words_of(client.get("/molds/0417"))
    facts = json.loads(Entry.objects.get(kind="circuit_edited").facts)
    assert facts["before"]["looped_with"] == "B1"


def test_a_list_begins_with_what_was_counted(client_of: ClientOf) -> None:
    factories.plant()
    client, mold = client_of("lead"), factories.mold(number="0417")
    refresh_counts(molds=[mold.pk])
    row = Circuit.objects.create(mold=mold, ident="A1", half="A", bubblers=2, spiral_baffles=1)
    assert "3 inside, not listed" in words_of(client.get("/molds/0417"))
    path = f"/molds/0417/circuits/{row.pk}/items"
    seen = client.get(path).context["seen"]
    assert client.post(path, {**shown_values(client, path), "seen": seen}).status_code == 302
    assert [(item.kind, item.number) for item in row.items.all()] == [
        ("bubbler", "1"),
        ("bubbler", "2"),
        ("spiral_baffle", "1"),
    ]
    row.refresh_from_db()
    assert (row.bubblers, row.spiral_baffles) == (2, 1)


def test_a_part_is_taken_off_once_and_not_where_something_rests_on_it(
    rule_set: RuleSet, client_of: ClientOf
) -> None:
    client, mold = client_of("lead"), factories.mold(number="0417")
    free = Position.objects.create(mold=mold, ident="C1")
    ruled = Position.objects.create(mold=mold, ident="C2")
    factories.care_rule(mold=mold, name="Measure", target="position", position=ruled)
    kept = client.post(f"/molds/0417/positions/{ruled.pk}/take-off", {"reason": "gone"})
    assert kept.status_code == 422
    assert "Care rule “Measure” looks after C2" in words_of(kept)
    sent = {"reason": "entered twice", "hand_in": str(uuid4())}
    for _tap in range(2):
        answer = client.post(f"/molds/0417/positions/{free.pk}/take-off", sent)
        assert answer["Location"] == "/molds/0417/parts"
    assert list(mold.positions.all()) == [ruled]


def test_cavities_configurations_and_pieces_have_forms(
    rule_set: RuleSet, client_of: ClientOf
) -> None:
    client, mold = client_of("lead"), factories.mold(number="0417", cavity_count=2)
    refresh_counts(molds=[mold.pk])
    sent = shown_values(client, "/molds/0417/cavities")
    cavity = mold.cavities.order_by("id").first()
    assert cavity is not None
    sent |= {"cavity_count": "3", f"part{cavity.pk}": "lid"}
    assert client.post("/molds/0417/cavities", sent).status_code == 302
    assert mold.cavities.order_by("id").values_list("ident", "part")[0] == ("1", "lid")
    assert mold.cavities.count() == 3
    client.post("/molds/0417/configurations/add", {"name": "left hand"})
    assert "left hand" in words_of(client.get("/molds/0417"))
    piece = {"serial": "P-9", "name": "pin", "opening_cycles": "100", "opening_shots": "0"}
    assert client.post("/molds/0417/components/add", piece).status_code == 302
    row = Component.objects.get(serial="P-9")
    assert "pin P-9" in words_of(client.get("/molds/0417/parts"))
    path = f"/molds/0417/components/{row.pk}"
    assert client.post(path, {**piece, "opening_cycles": "200"}).status_code == 302
    row.refresh_from_db()
    assert row.opening_cycles == 200


def test_a_piece_is_found_on_a_full_shelf(client_of: ClientOf) -> None:
    factories.plant()
    factories.mold(number="0417")
    Component.objects.bulk_create(
        Component(serial=f"K-{n:03}", name="core" if n % 50 else "Einsatz Größe 2")
        for n in range(1, 201)
    )
    client = client_of("lead")
    page = client.get("/molds/0417/parts")
    assert "and 188 more" in words_of(page)
    for asked, found in (("k-137", {"K-137"}), ("GRÖSSE", {"K-050", "K-100", "K-150", "K-200"})):
        body = client.get("/molds/0417/parts", {"piece": asked}).getvalue().decode()
        assert set(findall(r">[^<>]*\b(K-\d+)</a>", body)) == found
    nothing = client.get("/molds/0417/parts", {"piece": '<"%_\0'})
    assert "no piece" in words_of(nothing)


def test_the_photo_of_the_plate_is_on_the_molds_page(
    rule_set: RuleSet, client_of: ClientOf
) -> None:
    client, mold = client_of("technician"), factories.mold(number="0417")
    refresh_counts(molds=[mold.pk])
    assert "no photo of the plate" in words_of(client.get("/molds/0417"))
    assert client.post("/molds/0417/marking", {"shows": "its number"}).status_code == 422
    out = BytesIO()
    Image.new("RGB", (60, 40), "gray").save(out, "PNG")
    photo = SimpleUploadedFile("plate.png", out.getvalue(), "image/png")
    answer = client.post("/molds/0417/marking", {"photo": photo, "shows": "its number"})
    assert answer.status_code == 302
    found = marking_of(mold)
    assert found is not None
    html = client.get("/molds/0417").getvalue().decode()  # type: ignore[attr-defined]
    assert found.file.sha256 in html
