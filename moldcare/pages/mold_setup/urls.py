"""Addresses of the pages that say what a mold is and what it is made of."""

from django.urls import path

from moldcare.pages.mold_setup import parts, pieces, views
from moldcare.pages.molds.addresses import use_mold_numbers

use_mold_numbers()

_MOLD = "molds/<mold_number:number>"

urlpatterns = [
    path("setup/molds/add", views.mold_add, name="mold-add"),
    path(f"{_MOLD}/added", views.mold_added, name="mold-added"),
    path(f"{_MOLD}/copy", views.mold_copy, name="mold-copy"),
    path(f"{_MOLD}/edit", views.mold_edit, name="mold-edit"),
    path(f"{_MOLD}/withdraw", views.mold_withdraw, name="mold-withdraw"),
    path(f"{_MOLD}/marking", pieces.mold_marking, name="mold-marking"),
    path(f"{_MOLD}/parts", parts.mold_parts, name="mold-parts"),
    path(f"{_MOLD}/cavities", parts.mold_cavities, name="mold-cavities"),
    path(f"{_MOLD}/positions/add", parts.position_add, name="position-add"),
    path(f"{_MOLD}/positions/<int:position>", parts.position_edit, name="position-edit"),
    path(
        f"{_MOLD}/positions/<int:position>/take-off",
        parts.position_take_off,
        name="position-take-off",
    ),
    path(f"{_MOLD}/circuits/add", parts.circuit_add, name="circuit-add"),
    path(f"{_MOLD}/circuits/<int:circuit>", parts.circuit_edit, name="circuit-edit"),
    path(f"{_MOLD}/circuits/<int:circuit>/items", parts.circuit_items, name="circuit-items"),
    path(
        f"{_MOLD}/circuits/<int:circuit>/take-off", parts.circuit_take_off, name="circuit-take-off"
    ),
    path(f"{_MOLD}/configurations/add", parts.configuration_add, name="configuration-add"),
    path(
        f"{_MOLD}/configurations/<int:configuration>",
        parts.configuration_edit,
        name="configuration-edit",
    ),
    path(
        f"{_MOLD}/configurations/<int:configuration>/take-off",
        parts.configuration_take_off,
        name="configuration-take-off",
    ),
    path(f"{_MOLD}/components/add", pieces.component_add, name="component-add"),
    path(f"{_MOLD}/components/<int:component>", pieces.component_edit, name="component-edit"),
]
