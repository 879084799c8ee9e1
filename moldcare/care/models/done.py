"""What was done under a rule, taken back, or deferred."""

from django.db import models

from moldcare.care.models.families import Grade
from moldcare.care.models.rules import CareRule
from moldcare.facts import Fact
from moldcare.logbook.models import Entry
from moldcare.plant.models import Person


class Completion(Fact):
    """A rule was done, at an instant; backed by a logbook entry."""

    rule = models.ForeignKey(CareRule, models.PROTECT, related_name="completions")
    happened_at = models.DateTimeField(null=True)
    declared_on = models.DateField(null=True)
    declared_count = models.PositiveBigIntegerField(null=True)
    grade = models.CharField(max_length=8, choices=Grade, blank=True)
    is_brought_forward = models.BooleanField(default=False)
    is_not_needed = models.BooleanField(default=False)
    covering = models.ForeignKey("self", models.PROTECT, null=True, related_name="covered")
    component_id = models.BigIntegerField(null=True)
    minutes = models.PositiveIntegerField(null=True)
    order_number = models.PositiveIntegerField(null=True)
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    entry = models.ForeignKey(Entry, models.PROTECT, related_name="completions")
    written_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(happened_at__isnull=False)
                | models.Q(declared_on__isnull=False)
                | models.Q(declared_count__isnull=False),
                name="care_completion_when_or_count",
            ),
            models.CheckConstraint(
                condition=models.Q(grade="") | models.Q(grade__in=list(Grade.values)),
                name="care_completion_grade_known",
            ),
        ]
        indexes = [models.Index(fields=["rule", "happened_at"], name="care_completion_rule")]

    def __str__(self) -> str:
        return f"{self.rule} done {self.happened_at or self.declared_on or self.declared_count}"


class TakenBack(Fact):
    """A completion was taken back: it had not been done after all."""

    completion = models.OneToOneField(Completion, models.PROTECT, related_name="taken_back")
    reason = models.CharField(max_length=200)
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    entry = models.ForeignKey(Entry, models.PROTECT, related_name="+")
    written_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~models.Q(reason=""), name="care_takenback_has_a_reason"
            )
        ]

    def __str__(self) -> str:
        return f"taken back: {self.completion}"


class Deferral(Fact):
    """A named person let a rule run past due, why, and to which new limit."""

    rule = models.ForeignKey(CareRule, models.PROTECT, related_name="deferrals")
    made_at = models.DateTimeField()
    made_count = models.BigIntegerField()
    until_count = models.BigIntegerField(null=True)
    until_on = models.DateField(null=True)
    reason = models.CharField(max_length=400)
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    entry = models.ForeignKey(Entry, models.PROTECT, related_name="+")
    written_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(until_count__isnull=False) | models.Q(until_on__isnull=False),
                name="care_deferral_has_a_limit",
            ),
            models.CheckConstraint(
                condition=~models.Q(reason=""), name="care_deferral_has_a_reason"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.rule} deferred"
