"""Addresses of rule sets."""

from django.urls import path

from moldcare.pages.rule_sets import views

urlpatterns = [
    path("rule-sets/<int:pk>", views.rule_set, name="rule-set"),
]
