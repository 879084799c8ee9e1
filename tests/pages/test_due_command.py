"""`manage.py due`: one line or one object a rule, for people and for scripts."""

import json
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from moldcare.acts.doing import Doing
from moldcare.acts.molds import add_auxiliary
from moldcare.acts.refresh import refresh_care
from moldcare.molds.models import Auxiliary, Mold, Position
from moldcare.plant.models import Person
from tests import factories

KEYS = {
    "mold", "target", "rule", "family", "state", "due_at", "due_count", "count", "since_count",
    "interval", "share", "reason",
}  # fmt: skip


@pytest.fixture
def plant(lead: Person) -> Mold:
    """A mold with a rule of its own and one of a position, and a bath beside it."""
    factories.plant()
    mold = factories.mold(number="0417")
    factories.care_rule(mold=mold, name="Wipe the vents", count_base=None, period_n=7,
                        period_unit="day")  # fmt: skip
    core = Position.objects.create(mold=mold, ident="core 2", name="core")
    factories.care_rule(mold=mold, name="Polish the core", count_base=None, period_n=7,
                        period_unit="day", target="position", position=core)  # fmt: skip
    doing = Doing(person=lead, now=factories.ENTERED_AT)
    add_auxiliary(doing, number="UB-1", name="ultrasonic bath", kind="bath")
    bath = Auxiliary.objects.get()
    factories.care_rule(auxiliary=bath, name="Look it over", count_base=None, period_n=7,
                        period_unit="day", target="auxiliary")  # fmt: skip
    refresh_care(molds=[mold.pk], auxiliaries=[bath.pk])
    return mold


def said(*options: str) -> str:
    out = StringIO()
    call_command("due", *options, stdout=out)
    return out.getvalue()


def test_each_line_names_what_the_rule_looks_after(plant: Mold) -> None:
    lines = "\n".join(" ".join(line.split()) for line in said().splitlines())
    for whose in ("0417 Wipe the vents: ", "0417 position core 2 Polish the core: ",
                  "auxiliary UB-1 Look it over: "):  # fmt: skip
        assert f" {whose}" in lines


def test_objects_have_the_agreed_keys_whatever_is_unknown(plant: Mold) -> None:
    found = json.loads(said("--format", "json", "--all"))
    assert [set(one) for one in found] == [KEYS] * 3
    (bath,) = [one for one in found if one["mold"] is None]
    assert (bath["target"], bath["state"], bath["count"]) == ("auxiliary UB-1", "overdue", None)


def test_an_empty_database_has_nothing_due(db: None) -> None:
    assert said() == "0 rules.\n"
    assert json.loads(said("--format", "json")) == []


@pytest.mark.parametrize("at", ["yesterday", "2026-11-25", "2026-11-25T06:00", "2026-13-01T00:00Z"])
def test_what_is_no_instant_is_said(db: None, at: str) -> None:
    with pytest.raises(CommandError, match=r"instant|offset"):
        said("--at", at)
