"""Where molds are, in which state, and what runs them."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from moldcare.facts import Fact, one_of
from moldcare.logbook.models import Entry
from moldcare.molds.models.mold import Mold
from moldcare.plant.models import Person, Spot


class Move(Fact):
    """A mold came to a spot; it stays there until the next move."""

    mold = models.ForeignKey(Mold, models.PROTECT, related_name="moves")
    spot = models.ForeignKey(Spot, models.PROTECT, related_name="moves")
    at = models.DateTimeField()
    note = models.CharField(max_length=200, blank=True)
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    entry = models.ForeignKey(Entry, models.PROTECT, null=True, related_name="+")
    written_at = models.DateTimeField()

    class Meta:
        ordering = ["at", "id"]
        constraints = [
            # one place at a time: a mold cannot come to two spots at one instant
            models.UniqueConstraint(fields=["mold", "at"], name="molds_move_once")
        ]
        indexes = [models.Index(fields=["spot", "at"], name="molds_move_spot")]

    def __str__(self) -> str:
        return f"{self.mold} to {self.spot}"


class MoveTakenBack(Fact):
    """A move never happened: a wrong list said it. The mold is where it was before, or unknown."""

    move = models.OneToOneField(Move, models.PROTECT, related_name="taken_back")
    reason = models.CharField(max_length=200)
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    entry = models.ForeignKey(Entry, models.PROTECT, related_name="+")
    written_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]
        verbose_name_plural = "moves taken back"
        constraints = [
            models.CheckConstraint(
                condition=~models.Q(reason=""), name="molds_movetakenback_has_a_reason"
            )
        ]

    def __str__(self) -> str:
        return f"{self.move} taken back"


class ConditionNoteCondition(models.TextChoices):
    """The state a mold is in, as a sentence."""

    FIT = "fit", _("fit to run")
    NEEDS_WORK = "needs_work", _("needs work")
    INCOMPLETE = "incomplete", _("incomplete")
    OUT_OF_USE = "out_of_use", _("out of use")


class ConditionNoteNext(models.TextChoices):
    """What a mold needs next."""

    NOTHING = "", _("nothing")
    PART = "part", _("a part")
    TRIAL = "trial", _("a trial")
    DECISION = "decision", _("a decision")
    OUTSIDE = "outside", _("outside work")


class ConditionNote(Fact):
    """What state a mold was found in, and what it needs next."""

    Condition = ConditionNoteCondition
    Next = ConditionNoteNext
    mold = models.ForeignKey(Mold, models.PROTECT, related_name="condition_notes")
    at = models.DateTimeField()
    condition = models.CharField(max_length=12, choices=Condition)
    needs_next = models.CharField(max_length=10, choices=Next, blank=True)
    note = models.CharField(max_length=400, blank=True)
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    entry = models.ForeignKey(Entry, models.PROTECT, null=True, related_name="+")
    written_at = models.DateTimeField()

    class Meta:
        ordering = ["at", "id"]
        constraints = [
            one_of("condition", ConditionNoteCondition),
            one_of("needs_next", ConditionNoteNext),
        ]

    def __str__(self) -> str:
        return f"{self.mold}: {self.get_condition_display()}"


class Run(models.Model):
    """A mold's planned time in a press."""

    mold = models.ForeignKey(Mold, models.PROTECT, related_name="runs")
    press = models.ForeignKey(Spot, models.PROTECT, related_name="runs")
    planned_from = models.DateTimeField(_("planned from"))
    planned_to = models.DateTimeField(_("planned end"), null=True, blank=True)
    planned_cycles = models.PositiveIntegerField(_("planned cycles"), null=True, blank=True)
    is_called_off = models.BooleanField(default=False)

    class Meta:
        ordering = ["planned_from"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(planned_to__isnull=True)
                | models.Q(planned_to__gt=models.F("planned_from")),
                name="molds_run_order",
            )
        ]

    def __str__(self) -> str:
        return f"{self.mold} in {self.press}"


class RunEventAct(models.TextChoices):
    """A mold is set or pulled."""

    SET = "set", _("set")
    PULLED = "pulled", _("pulled")


class RunEvent(Fact):
    """A mold was set in a press, or pulled out of it."""

    Act = RunEventAct
    mold = models.ForeignKey(Mold, models.PROTECT, related_name="run_events")
    press = models.ForeignKey(Spot, models.PROTECT, related_name="run_events")
    run = models.ForeignKey(Run, models.PROTECT, null=True, related_name="events")
    at = models.DateTimeField()
    act = models.CharField(max_length=8, choices=Act)
    last_shot_kept = models.BooleanField(null=True)
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    entry = models.ForeignKey(Entry, models.PROTECT, null=True, related_name="+")
    after_reading = models.BigIntegerField()
    written_at = models.DateTimeField()

    class Meta:
        ordering = ["at", "id"]
        constraints = [
            models.UniqueConstraint(fields=["mold", "at"], name="molds_runevent_once"),
            one_of("act", RunEventAct),
        ]
        indexes = [models.Index(fields=["press", "at"], name="molds_runevent_press")]

    def __str__(self) -> str:
        return f"{self.mold} {self.act} {self.press}"
