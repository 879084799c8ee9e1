"""Derived: where every rule stands, and one row a mold for the lists of a plant."""

from django.db import models

from moldcare.care.models.done import Completion
from moldcare.care.models.rules import CareRule
from moldcare.molds.models import Auxiliary, Mold
from moldcare.plant.models import Spot


class Standing(models.Model):
    """Derived: where a rule stands. When and at which count each state begins, never 'now'."""

    rule = models.OneToOneField(
        CareRule, models.DO_NOTHING, primary_key=True, db_constraint=False, related_name="standing"
    )
    mold = models.ForeignKey(
        Mold, models.DO_NOTHING, null=True, db_constraint=False, related_name="standings"
    )
    auxiliary = models.ForeignKey(
        Auxiliary, models.DO_NOTHING, null=True, db_constraint=False, related_name="standings"
    )
    # the earliest instant at which any limit says so, by accepted counts or by dates
    due_soon_at = models.DateTimeField(null=True)
    due_at = models.DateTimeField(null=True)
    overdue_at = models.DateTimeField(null=True)
    past_limit_at = models.DateTimeField(null=True)
    # the total at which the limit by count says so
    due_soon_count = models.BigIntegerField(null=True)
    due_count = models.BigIntegerField(null=True)
    overdue_count = models.BigIntegerField(null=True)
    past_limit_count = models.BigIntegerField(null=True)
    # the earlier of that instant and the one by the recent rate
    forecast_soon_at = models.DateTimeField(null=True)
    forecast_due_at = models.DateTimeField(null=True)
    due_on = models.DateField(null=True)
    served_on = models.DateField(null=True)
    since_on = models.DateField(null=True)
    since_count = models.BigIntegerField(null=True)
    since_days = models.IntegerField(default=0)
    limiting = models.CharField(max_length=16, blank=True)
    limiting_name = models.CharField(max_length=60, blank=True)
    interval = models.FloatField(null=True)
    since = models.FloatField(null=True)
    remaining = models.FloatField(null=True)
    share = models.FloatField(default=0)
    basis = models.CharField(max_length=6, blank=True)
    count = models.BigIntegerField(null=True)
    is_waiting = models.BooleanField(default=False)
    deferred_from_at = models.DateTimeField(null=True)
    deferred_until_at = models.DateTimeField(null=True)
    deferred_until_count = models.BigIntegerField(null=True)
    undeferred_due_at = models.DateTimeField(null=True)
    undeferred_overdue_at = models.DateTimeField(null=True)
    undeferred_past_limit_at = models.DateTimeField(null=True)
    unsure_at = models.DateTimeField(null=True)
    unsure_why = models.CharField(max_length=16, blank=True)
    no_record_yet = models.BooleanField(default=False)
    notes = models.JSONField(default=list)
    # which completion that is, so that new readings need not look for it among all there were
    last_completion = models.ForeignKey(
        Completion,
        models.DO_NOTHING,
        null=True,
        db_constraint=False,
        db_index=False,
        related_name="standings",
    )
    last_done_at = models.DateTimeField(null=True)
    last_grade = models.CharField(max_length=8, blank=True)
    computed_at = models.DateTimeField()

    class Meta:
        indexes = [
            models.Index(fields=["due_at"], name="care_standing_due"),
            models.Index(fields=["mold", "forecast_soon_at"], name="care_standing_mold_soon"),
        ]

    def __str__(self) -> str:
        return f"standing of rule {self.rule_id}"


class Board(models.Model):
    """Derived: one row a mold, for the lists that a whole plant is read from."""

    mold = models.OneToOneField(
        Mold, models.DO_NOTHING, primary_key=True, db_constraint=False, related_name="board"
    )
    spot = models.ForeignKey(Spot, models.DO_NOTHING, null=True, db_constraint=False)
    spot_kind = models.CharField(max_length=10, blank=True)
    since_at = models.DateTimeField(null=True)
    run_ends_at = models.DateTimeField(null=True)
    # the earliest instants over the mold's rules; reached, by calendar, or by the recent rate
    due_soon_at = models.DateTimeField(null=True)
    due_at = models.DateTimeField(null=True)
    past_limit_at = models.DateTimeField(null=True)
    deferral_ends_at = models.DateTimeField(null=True)
    unsure_at = models.DateTimeField(null=True)
    held_count = models.PositiveIntegerField(default=0)

    class Meta:
        indexes = [
            models.Index(fields=["spot_kind", "due_at"], name="care_board_coming"),
            models.Index(fields=["spot_kind", "run_ends_at"], name="care_board_down"),
            models.Index(fields=["past_limit_at"], name="care_board_past"),
            models.Index(fields=["deferral_ends_at"], name="care_board_deferral"),
            models.Index(fields=["unsure_at"], name="care_board_unsure"),
            models.Index(
                fields=["held_count"],
                condition=models.Q(held_count__gt=0),
                name="care_board_held",
            ),
        ]

    def __str__(self) -> str:
        return f"board of mold {self.mold_id}"
