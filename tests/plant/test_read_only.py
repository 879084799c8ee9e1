import pytest
from django.apps import apps
from django.contrib import admin
from django.test import RequestFactory

from moldcare.plant.models import Person
from tests import factories

pytestmark = pytest.mark.django_db

TABLES = [model for model in apps.get_models() if model.__module__.startswith("moldcare.")]


@pytest.mark.parametrize("table", TABLES, ids=lambda table: str(table.__name__))
def test_a_manager_looks_at_every_table_and_writes_in_none(table: type, manager: Person) -> None:
    request = RequestFactory().get("/")
    request.user = manager
    shown = admin.site.get_model_admin(table)

    assert shown.has_view_permission(request)
    assert not shown.has_add_permission(request)
    assert not shown.has_change_permission(request)
    assert not shown.has_delete_permission(request)
    assert shown.get_actions(request) == {}
    assert shown.get_changelist_instance(request).result_count == table.objects.count()


def test_no_secret_is_shown(manager: Person) -> None:
    request = RequestFactory().get("/")
    request.user = manager
    for table in TABLES:
        shown = admin.site.get_model_admin(table)
        fields = {*shown.list_display, *shown.get_fields(request)}
        assert not fields & {"password", "pin_hash", "token_hash", "private_encrypted"}


def test_a_lead_does_not_look_at_tables(lead: Person) -> None:
    request = RequestFactory().get("/")
    request.user = lead
    assert not any(
        admin.site.get_model_admin(table).has_view_permission(request) for table in TABLES
    )
    assert not admin.site.has_permission(request)
    assert factories.person(role="manager").is_staff
