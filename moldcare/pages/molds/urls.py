"""Addresses of the molds' list and pages."""

from django.urls import path, register_converter

from moldcare.pages.molds import views
from moldcare.pages.molds.addresses import MoldNumber

register_converter(MoldNumber, "mold_number")

urlpatterns = [
    path("molds", views.molds, name="molds"),
    path("molds/<mold_number:number>", views.mold, name="mold"),
]
