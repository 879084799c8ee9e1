"""Rule sets on pages: listed, written with reasons, taken after a look, changes offered."""

from collections.abc import Callable
from html import unescape
from re import search, sub
from uuid import uuid4

import pytest
from django.test import Client

from moldcare.acts.doing import Doing
from moldcare.acts.refresh import refresh_counts
from moldcare.acts.rules import MOST_MOLDS, apply_rule_set, change_rule, change_set_rule
from moldcare.acts.starting_sets import load_starting_sets
from moldcare.care.models import CareRule, Family, RuleSet, SetRule, TakenSet
from moldcare.care.set_queries import sets_behind
from moldcare.logbook.models import Entry
from moldcare.molds.models import Mold
from tests import factories

ClientOf = Callable[[str], Client]


def words_of(answer: object) -> str:
    """The words of a page, blanks as one."""
    body = answer.content.decode()  # type: ignore[attr-defined]
    return sub(r"\s+", " ", unescape(sub(r"<[^>]+>", " ", body)))


def hidden(answer: object, name: str) -> str:
    """What a hidden field of a page holds."""
    body = answer.content.decode()  # type: ignore[attr-defined]
    found = search(rf'type="hidden" name="{name}" value="([^"]*)"', body)
    assert found is not None
    return found[1]


@pytest.fixture
def family(db: None) -> Family:
    factories.plant()
    return factories.family(key="vents", signs="burn marks\nshort shots")


@pytest.fixture
def wipe(family: Family) -> SetRule:
    return SetRule.objects.create(
        rule_set=RuleSet.objects.create(name="every mold"),
        family=family,
        name="Wipe",
        count_base=20_000,
        count_basis="shots",
        by_resin=True,
        by_filler=True,
        steps=[{"text": "Look at every vent"}],
        reason="starting value",
    )


@pytest.fixture
def molds(wipe: SetRule) -> list[Mold]:
    return [
        factories.mold(number="0417", name="cap", mold_class="101", finish="SPI A-2"),
        factories.mold(number="0418", name="clip", resin_group="gassy", resin="POM",
                       filler="glass", mold_class="104", owner=factories.owner(name="Kunde AG")),
    ]  # fmt: skip


def typed(family: Family, **fields: object) -> dict[str, object]:
    """What the form of a rule of a set is sent with."""
    return {
        "name": "Wipe",
        "family": family.pk,
        "count_base": "20000",
        "count_basis": "shots",
        "by_resin": "on",
        "by_filler": "on",
        "calendar_counts": "always",
        "reach": "faces",
        "where_done": "bench",
        "minutes": "15",
        "people": "1",
        "steps": "Look at every vent",
        "reason": "found heavy twice",
        "hand_in": str(uuid4()),
        **fields,
    }


def test_the_list_says_who_took_a_set_and_where_it_changed_since(
    doing: Doing, wipe: SetRule, molds: list[Mold], client_of: ClientOf
) -> None:
    apply_rule_set(doing, rule_set=wipe.rule_set, molds=[mold.pk for mold in molds])
    client = client_of("reader")
    said = words_of(client.get("/rule-sets"))
    assert "1 rule taken by 2 molds" in said
    assert "Changed since" not in said
    change_set_rule(doing, row=wipe, changes={"minutes": 20}, reason="timed")
    assert "Changed since it was taken by 2 molds" in words_of(client.get("/rule-sets"))
    page = words_of(client.get(f"/rule-sets/{wipe.rule_set.pk}"))
    assert "Changed since it was taken by 2 molds." in page
    assert "minutes: 15 → 20" in page
    # a reader looks, and is offered nothing to do
    assert "See what would change" not in page
    assert "Take it for molds" not in page


def test_the_page_of_a_set_shows_base_factor_and_result_steps_signs_and_cautions(
    wipe: SetRule, client_of: ClientOf
) -> None:
    page = words_of(client_of("lead").get(f"/rule-sets/{wipe.rule_set.pk}"))
    assert "every 20,000 shots" in page
    # factors of the trade, from memory
    assert "20,000 × 0.8 (ABS, PC, PA) = 16,000 shots" in page
    assert "20,000 × 0.6 (POM, gassy or rich in regrind) = 12,000 shots" in page
    assert "20,000 × 0.5 (flame retardant or PVC) = 10,000 shots" in page
    assert "20,000 × 0.6 (glass or mineral) = 12,000 shots" in page
    # a factor of the set's own stands beside them; hours are shortened as counts are
    SetRule.objects.filter(pk=wipe.pk).update(factor_finish="0.5", hours_limit=100)
    page = words_of(client_of("lead").get(f"/rule-sets/{wipe.rule_set.pk}"))
    assert "20,000 × 0.8 (ABS, PC, PA) × 0.5 (finish) = 8,000 shots" in page
    assert "100 × 0.6 (glass or mineral) × 0.5 (finish) = 30 running hours" in page
    assert "Overdue shows as: burn marks; short shots." in page
    assert "Look and photograph before cleaning: the first step of every order." in page
    assert "Lock-out and stored energy" in page


def test_every_starting_set_can_be_looked_at(doing: Doing, client_of: ClientOf) -> None:
    factories.plant()
    load_starting_sets(doing)
    client = client_of("lead")
    for row in RuleSet.objects.all():
        page = words_of(client.get(f"/rule-sets/{row.pk}"))
        for rule in row.rules.all():
            assert rule.name in page
            assert "not yet checked by the plant" in page
        count = row.rules.count()
        assert f"{count} rule{'s are' if count > 1 else ' is a'} starting value" in page
    every = words_of(client.get("/rule-sets"))
    assert "Meant for: finish A-1, A-2, A-3." in every
    assert "Meant for: class 104, 105." in every


def test_choosing_a_mold_proposes_the_sets_that_fit_it(doing: Doing, client_of: ClientOf) -> None:
    factories.plant()
    load_starting_sets(doing)
    factories.mold(number="0417", mold_class="102", resin_group="corrosive", finish="SPI B-1")
    page = words_of(client_of("lead").get("/molds/0417/rules"))
    order = [
        "It is meant for every mold.",
        "It fits: resin: flame retardant or PVC.",
        "Only you know whether it fits: molds that have slides or lifters.",
        "Not meant for this mold: finish A-1, A-2, A-3.",
    ]
    places = [page.index(said) for said in order]
    assert places == sorted(places)


def test_a_mold_sees_base_times_factors_before_it_takes_a_set(
    wipe: SetRule, molds: list[Mold], client_of: ClientOf
) -> None:
    client = client_of("lead")
    address = f"/molds/0418/rules?set={wipe.rule_set.pk}"
    look = client.get(address)
    sum_said = "20,000 × 0.6 (POM, gassy) × 0.6 (glass or mineral) = 7,200 shots"
    assert f"every 7,200 shots ({sum_said})" in words_of(look)
    assert not CareRule.objects.exists()
    sent = {"rule_set": wipe.rule_set.pk, "seen": hidden(look, "seen"), "apply": "1"}
    client.post("/molds/0418/rules", {**sent, "hand_in": str(uuid4())})
    rule = CareRule.objects.get()
    assert sum_said in words_of(client.get(f"/rules/{rule.pk}"))
    assert sum_said in words_of(client.get(f"/rules/{rule.pk}/edit"))
    assert "Overdue shows as burn marks; short shots" in words_of(client.get(f"/rules/{rule.pk}"))
    assert "From the rule set every mold" in words_of(client.get(f"/rules/{rule.pk}"))


def test_the_least_that_factors_leave_is_said(wipe: SetRule, client_of: ClientOf) -> None:
    factories.mold(number="0419", resin_group="corrosive", resin="PVC", filler="glass")
    SetRule.objects.update(factor_finish="0.8")
    look = client_of("lead").get(f"/molds/0419/rules?set={wipe.rule_set.pk}")
    # 0.5 x 0.6 x 0.8 is 0.24
    assert (
        "every 6,000 shots (20,000 × 0.5 (PVC, gives off acid) × 0.6 (glass or mineral) × 0.8 "
        "(finish), but not below 0.3 of the base = 6,000 shots)"
    ) in words_of(look)


def test_molds_are_filtered_looked_at_and_only_then_take_the_set(
    wipe: SetRule, molds: list[Mold], client_of: ClientOf
) -> None:
    client, address = client_of("lead"), f"/rule-sets/{wipe.rule_set.pk}/apply"
    for query, numbers in (
        ("", {"0417", "0418"}),
        ("mold_class=104", {"0418"}),
        ("resin_group=gassy", {"0418"}),
        ("finish=A", {"0417"}),
        (f"owner={molds[1].owner_id}", {"0418"}),
        ("q=cap", {"0417"}),
        ("took=not", {"0417", "0418"}),
        ("took=behind", set()),
        ("mold_class=%00&owner=junk", {"0417", "0418"}),
    ):
        page = words_of(client.get(f"{address}?{query}"))
        assert {number for number in ("0417", "0418") if number in page} == numbers, query
    look = client.post(address, {"look": "ticked", "mold": [molds[1].pk]})
    assert look.status_code == 200
    assert "On 1 mold something would be written. Nothing is written yet." in words_of(look)
    assert not CareRule.objects.exists()
    sent = {
        "mold": [molds[1].pk],
        "seen": hidden(look, "seen"),
        "hand_in": hidden(look, "hand_in"),
        "apply": "1",
    }
    first = client.post(address, sent, follow=True)
    assert "Taken for 1 mold: 1 rules written" in words_of(first)
    assert client.post(address, sent).status_code == 302
    assert [rule.mold for rule in CareRule.objects.all()] == [molds[1]]
    assert Entry.objects.filter(kind="rule_written").count() == 1


def test_all_that_are_shown_can_be_looked_at_with_one_button(
    wipe: SetRule, molds: list[Mold], client_of: ClientOf
) -> None:
    address = f"/rule-sets/{wipe.rule_set.pk}/apply"
    look = client_of("lead").post(address, {"look": "all", "mold_class": "101"})
    said = words_of(look)
    assert "0417" in said
    assert "0418" not in said


def test_a_mold_that_is_unticked_in_the_look_is_left_as_it_is(
    wipe: SetRule, molds: list[Mold], client_of: ClientOf
) -> None:
    client, address = client_of("lead"), f"/rule-sets/{wipe.rule_set.pk}/apply"
    look = client.post(address, {"look": "all"})
    sent = {"seen": hidden(look, "seen"), "hand_in": hidden(look, "hand_in"), "apply": "1"}
    without = {**sent, "mold": [molds[0].pk], "without": [wipe.pk]}
    refused = client.post(address, without)
    assert refused.status_code == 422
    assert "This is not what you looked at." in words_of(refused)
    assert client.post(address, {**sent, "mold": [molds[0].pk]}).status_code == 302
    assert [rule.mold for rule in CareRule.objects.all()] == [molds[0]]


def test_nothing_ticked_and_too_many_are_said(
    wipe: SetRule, molds: list[Mold], client_of: ClientOf
) -> None:
    client, address = client_of("lead"), f"/rule-sets/{wipe.rule_set.pk}/apply"
    none = client.post(address, {"look": "ticked"})
    assert none.status_code == 422
    assert "Tick the molds that it is for." in words_of(none)
    many = client.post(address, {"look": "ticked", "mold": list(range(1, MOST_MOLDS + 2))})
    assert many.status_code == 422
    assert "Narrow the list" in words_of(many)


def test_what_changed_after_the_look_is_shown_anew_and_not_written(
    doing: Doing, wipe: SetRule, molds: list[Mold], client_of: ClientOf
) -> None:
    client, address = client_of("lead"), f"/rule-sets/{wipe.rule_set.pk}/apply"
    look = client.post(address, {"look": "all"})
    change_set_rule(doing, row=wipe, changes={"count_base": 15_000}, reason="heavy")
    sent = {
        "mold": [mold.pk for mold in molds],
        "seen": hidden(look, "seen"),
        "hand_in": hidden(look, "hand_in"),
        "apply": "1",
    }
    refused = client.post(address, sent)
    assert refused.status_code == 422
    assert "This is not what you looked at. Nothing was written" in words_of(refused)
    assert not CareRule.objects.exists()
    again = {**sent, "seen": hidden(refused, "seen")}
    assert client.post(address, again).status_code == 302
    assert {rule.count_base for rule in CareRule.objects.all()} == {15_000}


def test_a_change_is_offered_shown_old_to_new_and_taken_with_a_reason(
    doing: Doing, wipe: SetRule, molds: list[Mold], client_of: ClientOf
) -> None:
    apply_rule_set(doing, rule_set=wipe.rule_set, molds=[mold.pk for mold in molds])
    plain, adjusted = (CareRule.objects.get(mold=mold) for mold in molds)
    change_rule(doing, rule=adjusted, changes={"count_base": 9_000}, reason="ours")
    change_set_rule(doing, row=wipe, changes={"count_base": 15_000}, reason="found heavy twice")
    client = client_of("lead")
    for rule, said in (
        (plain, "Nothing changes here until somebody takes it over."),
        (adjusted, "This rule was adjusted on the mold: it stays as it is."),
    ):
        page = words_of(client.get(f"/rules/{rule.pk}"))
        assert "Rule set “every mold” changed since this mold took it." in page
        assert "found heavy twice" in page
        assert said in page
    address = f"/rule-sets/{wipe.rule_set.pk}/apply"
    chosen = client.get(f"{address}?took=behind").content.decode()
    assert chosen.count(" checked>") == 2
    look = client.post(address, {"look": "ticked", "mold": [mold.pk for mold in molds]})
    body = look.content.decode()
    assert "<del>every 20,000 shots</del> → <ins>every 15,000 shots</ins>" in body
    assert "Adjusted on this mold, so it stays. Here: every 3,240 shots" in words_of(look)
    again = {"look": "ticked", "mold": [molds[0].pk], "reason": "half typed"}
    assert "half typed" in client.post(address, again).content.decode()
    assert "0418" not in words_of(client.post(address, again))
    sent = {
        "mold": [mold.pk for mold in molds],
        "seen": hidden(look, "seen"),
        "hand_in": hidden(look, "hand_in"),
        "apply": "1",
    }
    refused = client.post(address, sent)
    assert refused.status_code == 422
    assert "Give the reason: the logbook keeps it." in words_of(refused)
    client.post(address, {**sent, "reason": "agreed on Monday"})
    plain.refresh_from_db()
    adjusted.refresh_from_db()
    assert (plain.count_base, adjusted.count_base) == (15_000, 9_000)
    assert "changed since this mold took it" not in words_of(client.get(f"/rules/{plain.pk}"))
    assert [sets_behind(mold) for mold in molds] == [[], []]


@pytest.mark.parametrize(("role", "is_offered"), [("lead", True), ("reader", False)])
def test_the_page_of_a_mold_says_that_its_set_changed(
    doing: Doing,
    wipe: SetRule,
    molds: list[Mold],
    client_of: ClientOf,
    role: str,
    is_offered: bool,
) -> None:
    refresh_counts(molds=[mold.pk for mold in molds])
    apply_rule_set(doing, rule_set=wipe.rule_set, molds=[molds[0].pk])
    client = client_of(role)
    assert "changed." not in words_of(client.get("/molds/0417"))
    change_set_rule(doing, row=wipe, changes={"count_base": 15_000}, reason="heavy")
    page = client.get("/molds/0417")
    assert "Rule set “every mold” changed." in words_of(page)
    assert ('href="/molds/0417/rules"' in page.content.decode()) == is_offered
    assert "changed." not in words_of(client.get("/molds/0418"))


def test_a_change_is_left_aside_with_a_reason(
    doing: Doing, wipe: SetRule, molds: list[Mold], client_of: ClientOf
) -> None:
    apply_rule_set(doing, rule_set=wipe.rule_set, molds=[molds[0].pk])
    change_set_rule(doing, row=wipe, changes={"count_base": 15_000}, reason="heavy")
    client, address = client_of("lead"), f"/rule-sets/{wipe.rule_set.pk}/apply"
    sent = {"mold": [molds[0].pk], "leave": "1", "hand_in": str(uuid4())}
    assert client.post(address, {**sent, "reason": ""}).status_code == 422
    said = words_of(client.post(address, {**sent, "reason": "it runs clean"}, follow=True))
    assert "Left aside on 1 mold; it is not offered there again." in said
    assert CareRule.objects.get().count_base == 20_000
    assert sets_behind(molds[0]) == []


def test_a_rule_of_a_set_is_added_changed_and_taken_out_with_reasons(
    doing: Doing, wipe: SetRule, molds: list[Mold], family: Family, client_of: ClientOf
) -> None:
    apply_rule_set(doing, rule_set=wipe.rule_set, molds=[molds[0].pk])
    client = client_of("lead")
    add = f"/rule-sets/{wipe.rule_set.pk}/rules/add"
    new = typed(family, name="Measure", covers=["Wipe"], signs="flash\nshort shots")
    assert client.post(add, {**new, "reason": ""}).status_code == 422
    said = words_of(client.post(add, new, follow=True))
    assert "The rule is in the set. It is offered to 1 mold that took the set" in said
    row = SetRule.objects.get(name="Measure")
    assert (row.covers, row.signs_known, row.by_resin) == (["Wipe"], ["flash", "short shots"], True)
    edit = f"/set-rules/{wipe.pk}/edit"
    seen = hidden(client.get(edit), "seen")
    changed = typed(family, count_base="15 000", seen=seen, steps="Look\nDepth [µm]")
    assert client.post(edit, {**changed, "reason": " "}).status_code == 422
    client.post(edit, changed)
    wipe.refresh_from_db()
    assert (wipe.count_base, wipe.steps[1]["unit"]) == (15_000, "µm")
    # somebody who opened the form before is told
    stale = client.post(edit, typed(family, count_base="9000", seen=seen))
    assert stale.status_code == 422
    assert "Somebody changed this after you opened it." in words_of(stale)
    out = f"/set-rules/{row.pk}/withdraw"
    assert client.post(out, {"reason": ""}).status_code == 422
    client.post(out, {"reason": "too much", "hand_in": str(uuid4())})
    assert client.get(f"/set-rules/{row.pk}/edit").status_code == 404
    said = words_of(client.get(f"/rule-sets/{wipe.rule_set.pk}"))
    assert "“Measure” is taken out of the set." in said
    look = client.post(f"/rule-sets/{wipe.rule_set.pk}/apply", {"look": "all"})
    assert "Measure" not in words_of(look)
    assert CareRule.objects.get().count_base == 20_000


def test_the_form_of_a_set_rule_works_the_interval_out_and_keeps_what_was_typed(
    wipe: SetRule, family: Family, client_of: ClientOf
) -> None:
    sent = typed(family, factor_finish="0,5", reckon="1", name="Wipe twice")
    answer = client_of("lead").post(f"/set-rules/{wipe.pk}/edit", sent)
    assert "20,000 × 0.5 (finish) = 10,000 shots" in words_of(answer)
    assert 'value="Wipe twice"' in answer.content.decode()
    wipe.refresh_from_db()
    assert wipe.name == "Wipe"


def test_a_set_is_added_copied_and_changed(wipe: SetRule, client_of: ClientOf) -> None:
    client = client_of("lead")
    sent = {
        "name": "lenses",
        "note": "clear parts",
        "mold_classes": ["101"],
        "finishes": "a1, A-2",
        "reason": "we make lenses",
        "hand_in": str(uuid4()),
    }
    wrong = client.post("/rule-sets/add", {**sent, "finishes": "mirror", "reason": ""})
    assert wrong.status_code == 422
    assert "“mirror” is no grade." in words_of(wrong)
    assert 'value="lenses"' in wrong.content.decode()
    added = client.post("/rule-sets/add", sent, follow=True)
    assert "Meant for: class 101; finish A-1, A-2." in words_of(added)
    assert "No rule in it" in words_of(added)
    copy = f"/rule-sets/{wipe.rule_set.pk}/copy"
    assert client.post(copy, {"name": "every mold", "reason": "r"}).status_code == 422
    client.post(copy, {"name": "ours", "reason": "to start from", "hand_in": str(uuid4())})
    own = RuleSet.objects.get(name="ours")
    assert [rule.name for rule in own.rules.all()] == ["Wipe"]
    edit = f"/rule-sets/{own.pk}/edit"
    seen = hidden(client.get(edit), "seen")
    client.post(edit, {"name": "ours", "resin_groups": ["gassy"], "reason": "POM", "seen": seen})
    own.refresh_from_db()
    assert own.resin_groups == ["gassy"]


@pytest.mark.parametrize("role", ["reader", "technician"])
def test_only_a_lead_takes_and_writes_sets(
    role: str, wipe: SetRule, molds: list[Mold], client_of: ClientOf
) -> None:
    client, pk = client_of(role), wipe.rule_set.pk
    for address in (
        "/rule-sets/add",
        f"/rule-sets/{pk}/edit",
        f"/rule-sets/{pk}/copy",
        f"/rule-sets/{pk}/apply",
        f"/rule-sets/{pk}/rules/add",
        f"/set-rules/{wipe.pk}/edit",
        f"/set-rules/{wipe.pk}/withdraw",
        "/molds/0417/rules",
    ):
        assert client.get(address).status_code == 403
        assert client.post(address, {"mold": [molds[0].pk], "apply": "1"}).status_code == 403
    assert not TakenSet.objects.exists()


def test_a_set_is_withdrawn_and_looked_at_afterwards(
    doing: Doing, wipe: SetRule, molds: list[Mold], client_of: ClientOf
) -> None:
    apply_rule_set(doing, rule_set=wipe.rule_set, molds=[molds[0].pk])
    change_set_rule(doing, row=wipe, changes={"minutes": 20}, reason="timed")
    client, address = client_of("lead"), f"/rule-sets/{wipe.rule_set.pk}"
    sent = {"reason": "we have our own", "hand_in": str(uuid4())}
    assert client.post(f"{address}/withdraw", {**sent, "reason": " "}).status_code == 422
    said = words_of(client.post(f"{address}/withdraw", sent, follow=True))
    assert "“every mold” is withdrawn." in said
    # the second of two taps finds it done
    assert client.post(f"{address}/withdraw", sent).status_code == 302
    page = client.get(address)
    assert "It is proposed to no mold any more." in words_of(page)
    assert "we have our own" in words_of(page)
    assert "/edit" not in page.content.decode()
    for gone in ("edit", "apply", "withdraw", "rules/add"):
        answer = client.get(f"{address}/{gone}")
        assert (answer.status_code, "is withdrawn" in words_of(answer)) == (404, True), gone
    assert client.get(f"/set-rules/{wipe.pk}/edit").status_code == 404
    assert client.get(f"{address}/copy").status_code == 200
    assert "every mold" not in words_of(client.get("/molds/0418/rules"))
    assert "changed." not in words_of(client.get("/molds/0417"))


def test_taking_a_rule_out_of_a_set_or_off_a_mold_twice_is_no_error(
    doing: Doing, wipe: SetRule, molds: list[Mold], client_of: ClientOf
) -> None:
    apply_rule_set(doing, rule_set=wipe.rule_set, molds=[molds[0].pk])
    client = client_of("lead")
    for address in (f"/rules/{CareRule.objects.get().pk}", f"/set-rules/{wipe.pk}"):
        sent = {"reason": "not here", "hand_in": str(uuid4())}
        for _tap in range(2):
            assert client.post(f"{address}/withdraw", sent).status_code == 302
        assert client.get(f"{address}/withdraw").status_code == 404
    assert Entry.objects.filter(kind__endswith="rule_withdrawn").count() == 2


def test_what_was_unticked_stays_and_is_ticked_again_on_the_molds_own_page(
    doing: Doing, wipe: SetRule, molds: list[Mold], client_of: ClientOf
) -> None:
    apply_rule_set(doing, rule_set=wipe.rule_set, molds=[molds[0].pk])
    change_set_rule(doing, row=wipe, changes={"count_base": 15_000}, reason="heavy")
    client, address = client_of("lead"), f"/rule-sets/{wipe.rule_set.pk}/apply"
    sent = {"mold": [molds[0].pk], "without": [wipe.pk]}
    look = client.post(address, {**sent, "look": "ticked"})
    assert "What changed is left aside; it stays as it is. Here: every 20,000 shots" in words_of(
        look
    )
    seen = hidden(look, "seen")
    client.post(address, {**sent, "apply": "1", "seen": seen, "hand_in": str(uuid4())})
    assert CareRule.objects.get().count_base == 20_000
    assert sets_behind(molds[0]) == []
    # its page has it unticked; without that it is taken
    own = client.get(f"/molds/0417/rules?set={wipe.rule_set.pk}")
    assert search(rf'name="without" value="{wipe.pk}"[^>]* checked', own.content.decode())
    take = {"rule_set": wipe.rule_set.pk, "apply": "1", "hand_in": str(uuid4())}
    client.post("/molds/0417/rules", {**take, "reason": "after all"})
    assert CareRule.objects.get().count_base == 15_000


def test_nothing_is_left_aside_that_was_not_looked_at(
    doing: Doing, wipe: SetRule, molds: list[Mold], client_of: ClientOf
) -> None:
    apply_rule_set(doing, rule_set=wipe.rule_set, molds=[molds[0].pk])
    change_set_rule(doing, row=wipe, changes={"count_base": 15_000}, reason="heavy")
    client, address = client_of("lead"), f"/rule-sets/{wipe.rule_set.pk}/apply"
    look = client.post(address, {"mold": [molds[0].pk], "look": "ticked"})
    change_set_rule(doing, row=wipe, changes={"count_base": 9_000}, reason="heavier")
    sent = {"mold": [molds[0].pk], "leave": "1", "reason": "it runs clean"}
    answer = client.post(address, {**sent, "seen": hidden(look, "seen"), "hand_in": str(uuid4())})
    assert answer.status_code == 422
    assert "This is not what you looked at." in words_of(answer)
    assert sets_behind(molds[0]) == [wipe.rule_set]
