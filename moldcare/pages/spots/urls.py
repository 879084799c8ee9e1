"""Addresses of presses and places."""

from django.urls import path

from moldcare.pages.molds.addresses import use_mold_numbers
from moldcare.pages.spots import views

use_mold_numbers()

urlpatterns = [
    path("spots/<slug:kind>/<mold_number:spot_number>", views.spot, name="spot"),
]
