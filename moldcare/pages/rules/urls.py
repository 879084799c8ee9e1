"""Addresses of care rules."""

from django.urls import path

from moldcare.pages.molds.addresses import use_mold_numbers
from moldcare.pages.rules import views

use_mold_numbers()

urlpatterns = [
    path("rules/<int:pk>", views.rule, name="rule"),
    path("rules/<int:pk>/edit", views.rule_edit, name="rule-edit"),
    path("rules/<int:pk>/defer", views.rule_defer, name="rule-defer"),
    path("rules/<int:pk>/last-done", views.rule_last_done, name="rule-last-done"),
    path("rules/<int:pk>/withdraw", views.rule_withdraw, name="rule-withdraw"),
    path("molds/<mold_number:number>/rules/add", views.rule_add, name="rule-add"),
]
