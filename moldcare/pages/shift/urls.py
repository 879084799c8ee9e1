"""Addresses of the Shift page and the Wall."""

from django.urls import path

from moldcare.pages.shift import views

urlpatterns = [
    path("", views.shift, name="shift"),
    path("wall", views.wall, name="wall"),
]
