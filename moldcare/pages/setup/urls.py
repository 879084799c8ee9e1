"""Addresses of the setup."""

from django.urls import path

from moldcare.pages.molds.addresses import use_mold_numbers
from moldcare.pages.setup import molds, views

use_mold_numbers()

urlpatterns = [
    path("setup", views.setup, name="setup"),
    path("setup/molds/add", molds.mold_add, name="mold-add"),
    path("molds/<mold_number:number>/edit", molds.mold_edit, name="mold-edit"),
    path("molds/<mold_number:number>/withdraw", molds.mold_withdraw, name="mold-withdraw"),
    path("molds/<mold_number:number>/positions/add", molds.position_add, name="position-add"),
    path("molds/<mold_number:number>/circuits/add", molds.circuit_add, name="circuit-add"),
]
