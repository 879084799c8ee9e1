"""Addresses of the pages that say what a mold is and what it is made of."""

from django.urls import path

from moldcare.pages.mold_setup import views
from moldcare.pages.molds.addresses import use_mold_numbers

use_mold_numbers()

urlpatterns = [
    path("setup/molds/add", views.mold_add, name="mold-add"),
    path("molds/<mold_number:number>/edit", views.mold_edit, name="mold-edit"),
    path("molds/<mold_number:number>/withdraw", views.mold_withdraw, name="mold-withdraw"),
    path("molds/<mold_number:number>/positions/add", views.position_add, name="position-add"),
    path("molds/<mold_number:number>/circuits/add", views.circuit_add, name="circuit-add"),
]
