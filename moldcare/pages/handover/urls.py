"""Addresses of handovers."""

from django.urls import path

from moldcare.pages.handover import views

urlpatterns = [
    path("handover", views.handover, name="handover"),
    path("handover/<int:pk>", views.handover_one, name="handover-one"),
    path("handover/<int:pk>/correct", views.handover_correct, name="handover-correct"),
    path("handover/<int:pk>/handover.pdf", views.handover_print, name="handover-print"),
]
