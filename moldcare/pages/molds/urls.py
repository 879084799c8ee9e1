"""Addresses of the molds' list and pages."""

from django.urls import path

from moldcare.pages.molds import views
from moldcare.pages.molds.addresses import use_mold_numbers

use_mold_numbers()

urlpatterns = [
    path("molds", views.molds, name="molds"),
    path("molds/<mold_number:number>", views.mold, name="mold"),
]
