"""Addresses of rule sets."""

from django.urls import path

from moldcare.pages.molds.addresses import use_mold_numbers
from moldcare.pages.rule_sets import applying, rules, taking, views

use_mold_numbers()

urlpatterns = [
    path("rule-sets", views.rule_sets, name="rule-sets"),
    path("rule-sets/add", views.rule_set_add, name="rule-set-add"),
    path("rule-sets/<int:pk>", views.rule_set, name="rule-set"),
    path("rule-sets/<int:pk>/edit", views.rule_set_edit, name="rule-set-edit"),
    path("rule-sets/<int:pk>/copy", views.rule_set_copy, name="rule-set-copy"),
    path("rule-sets/<int:pk>/withdraw", views.rule_set_withdraw, name="rule-set-withdraw"),
    path("rule-sets/<int:pk>/apply", applying.rule_set_apply, name="rule-set-apply"),
    path("rule-sets/<int:pk>/rules/add", rules.rule_set_rule_add, name="rule-set-rule-add"),
    path("set-rules/<int:pk>/edit", rules.set_rule_edit, name="set-rule-edit"),
    path("set-rules/<int:pk>/withdraw", rules.set_rule_withdraw, name="set-rule-withdraw"),
    path("molds/<mold_number:number>/rules", taking.mold_rules, name="mold-rules"),
]
