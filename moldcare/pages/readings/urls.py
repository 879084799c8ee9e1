"""Addresses of the round of readings and of held readings."""

from django.urls import path

from moldcare.pages.readings import views

urlpatterns = [
    path("readings", views.readings, name="readings"),
    path("readings/held", views.held_list, name="held-readings"),
    path("readings/held/<int:pk>", views.held_reading, name="held-reading"),
]
