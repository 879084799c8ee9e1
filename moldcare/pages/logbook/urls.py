"""Addresses of the logbook."""

from django.urls import path

from moldcare.pages.logbook import views

urlpatterns = [
    path("logbook", views.logbook, name="logbook"),
    path("logbook/print", views.logbook_print, name="logbook-print"),
    path("logbook/<int:pk>", views.logbook_entry, name="logbook-entry"),
    path("logbook/<int:pk>/correct", views.logbook_correct, name="logbook-correct"),
    path("logbook/<int:pk>/take-back", views.logbook_take_back, name="logbook-take-back"),
    path("logbook/chains/<int:chain>", views.logbook_whole, name="logbook-whole"),
]
