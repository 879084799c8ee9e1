"""Every table is a fact, a record or derived, as DEVELOPERS.md lists them."""

import re

import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import models

from moldcare.facts import Fact, TableKind, is_fact
from tests.conventions.source import ROOT


def own_models() -> list[type[models.Model]]:
    """Every model of the product, the tables that many-to-many fields make included."""
    return [
        model
        for model in apps.get_models(include_auto_created=True)
        if model.__module__.startswith("moldcare.")
    ]


def listed() -> dict[str, TableKind]:
    """The tables of DEVELOPERS.md with their kinds."""
    text = (ROOT / "DEVELOPERS.md").read_text()
    section = text.split("\n## Tables\n", maxsplit=1)[1].split("\n## ", maxsplit=1)[0]
    found = {}
    for line in section.splitlines():
        row = re.match(r"\| (fact|record|derived) \|", line)
        if row:
            for label in re.findall(r"`(\w+\.\w+)`", line):
                assert label not in found, f"{label} is listed twice"
                found[label] = TableKind(row[1])
    return found


def test_developers_list_names_every_table_and_no_other() -> None:
    assert {model._meta.label for model in own_models()} == set(listed())


def test_facts_are_the_tables_that_refuse_changes() -> None:
    for model in own_models():
        assert (listed()[model._meta.label] is TableKind.FACT) == is_fact(model), model._meta.label


def test_derived_tables_say_so_and_hold_nothing_back() -> None:
    for model in own_models():
        is_derived = listed()[model._meta.label] is TableKind.DERIVED
        assert (model.__doc__ or "").startswith("Derived:") == is_derived, model._meta.label
        if is_derived:
            for field in model._meta.get_fields():
                if isinstance(field, models.ForeignKey):
                    # dropped and rebuilt freely, in any order
                    assert not field.db_constraint or field.remote_field.model is not model
                    assert field.remote_field.on_delete is models.DO_NOTHING, field


def test_nothing_that_a_fact_names_can_be_deleted_under_it() -> None:
    for model in own_models():
        if issubclass(model, Fact):
            for field in model._meta.local_fields:
                if isinstance(field, models.ForeignKey):
                    assert field.remote_field.on_delete is models.PROTECT, field


def test_no_instant_is_stored_by_the_database_s_or_the_model_s_own_clock() -> None:
    for model in own_models():
        for field in model._meta.local_fields:
            assert not getattr(field, "auto_now", False), field
            assert not getattr(field, "auto_now_add", False), field
            if isinstance(field, (models.DateField, models.TimeField)):
                assert not field.has_default(), field
                assert not field.has_db_default(), field


@pytest.mark.django_db
def test_no_migration_is_missing() -> None:
    call_command("makemigrations", check=True, dry_run=True, verbosity=0)
