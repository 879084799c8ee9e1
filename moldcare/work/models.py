"""Work orders, what was written down on their sheets, and what one shift passes to the next."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from moldcare.care.models import CareRule, Grade
from moldcare.facts import Fact
from moldcare.files.models import File
from moldcare.logbook.models import Entry
from moldcare.molds.models import Auxiliary, Mold, Position, Supply
from moldcare.plant.models import Person


class OrderState(models.TextChoices):
    """The states of an order; they follow from what happened to it."""

    WRITTEN = "being_written", _("being written")
    HANDED_OUT = "handed_out", _("handed out")
    BEGUN = "begun", _("begun")
    HELD_UP = "held_up", _("held up")
    SIGNED = "signed", _("signed")
    STRUCK_OUT = "struck_out", _("struck out")


class Order(models.Model):
    """A work order for one mold or auxiliary and one stay."""

    State = OrderState
    number = models.PositiveIntegerField(unique=True)
    mold = models.ForeignKey(Mold, models.PROTECT, null=True, blank=True, related_name="orders")
    auxiliary = models.ForeignKey(
        Auxiliary, models.PROTECT, null=True, blank=True, related_name="orders"
    )
    planned_at = models.DateTimeField(_("planned for"), null=True, blank=True)
    people = models.ManyToManyField(Person, blank=True, related_name="orders")
    note = models.CharField(_("note"), max_length=400, blank=True)
    written_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    written_at = models.DateTimeField()
    handed_out_at = models.DateTimeField(null=True)
    begun_at = models.DateTimeField(null=True)
    held_up_by = models.CharField(_("held up by"), max_length=200, blank=True)
    minutes = models.PositiveIntegerField(null=True)
    signed_at = models.DateTimeField(null=True)
    entry = models.ForeignKey(Entry, models.PROTECT, null=True, related_name="orders")
    struck_out_at = models.DateTimeField(null=True)
    struck_out_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["-number"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(mold__isnull=True, auxiliary__isnull=False)
                | models.Q(mold__isnull=False, auxiliary__isnull=True),
                name="work_order_mold_xor_auxiliary",
            ),
            models.UniqueConstraint(
                fields=["mold"],
                condition=models.Q(signed_at__isnull=True, struck_out_at__isnull=True),
                name="work_order_one_unsigned_a_mold",
                violation_error_message=_("This mold has an order that is not signed yet."),
            ),
            models.UniqueConstraint(
                fields=["auxiliary"],
                condition=models.Q(signed_at__isnull=True, struck_out_at__isnull=True),
                name="work_order_one_unsigned_an_auxiliary",
            ),
            models.CheckConstraint(
                condition=models.Q(signed_at__isnull=True) | models.Q(struck_out_at__isnull=True),
                name="work_order_signed_or_struck_out",
            ),
            models.CheckConstraint(
                condition=models.Q(signed_at__isnull=True, entry__isnull=True)
                | models.Q(signed_at__isnull=False, entry__isnull=False),
                name="work_order_signed_has_entry",
            ),
            models.CheckConstraint(
                condition=models.Q(struck_out_at__isnull=True) | ~models.Q(struck_out_reason=""),
                name="work_order_struck_out_has_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"order {self.number}"

    @property
    def state(self) -> OrderState:
        """Return the state that follows from what happened to the order."""
        if self.signed_at:
            return OrderState.SIGNED
        if self.struck_out_at:
            return OrderState.STRUCK_OUT
        if self.held_up_by:
            return OrderState.HELD_UP
        if self.begun_at:
            return OrderState.BEGUN
        if self.handed_out_at:
            return OrderState.HANDED_OUT
        return OrderState.WRITTEN


class OrderTaskOutcome(models.TextChoices):
    """What became of a task."""

    OPEN = "", _("open")
    DONE = "done", _("done")
    LEFT = "left", _("left")
    NOT_NEEDED = "not_needed", _("found not needed")


class OrderTask(models.Model):
    """One line of an order."""

    Outcome = OrderTaskOutcome
    order = models.ForeignKey(Order, models.CASCADE, related_name="tasks")
    rule = models.ForeignKey(CareRule, models.PROTECT, related_name="order_tasks")
    place = models.PositiveSmallIntegerField(default=0)
    covered_by = models.ForeignKey(
        "self", models.CASCADE, null=True, blank=True, related_name="covers"
    )
    is_ticked = models.BooleanField(default=True)
    outcome = models.CharField(max_length=10, choices=Outcome, blank=True)
    reason = models.CharField(max_length=200, blank=True)
    grade = models.CharField(max_length=8, choices=Grade, blank=True)
    is_brought_forward = models.BooleanField(default=False)
    why = models.CharField(max_length=400, blank=True)

    class Meta:
        ordering = ["order", "place", "id"]
        constraints = [
            models.UniqueConstraint(fields=["order", "rule"], name="work_ordertask_once"),
            models.CheckConstraint(
                condition=~models.Q(outcome="left") | ~models.Q(reason=""),
                name="work_ordertask_left_has_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.order}: {self.rule}"


class StepValue(Fact):
    """What a technician wrote down at a step; the newest row of a step counts."""

    order = models.ForeignKey(Order, models.PROTECT, related_name="values")
    task = models.ForeignKey(OrderTask, models.PROTECT, null=True, related_name="values")
    step = models.PositiveSmallIntegerField()
    text = models.CharField(max_length=400)
    kind = models.CharField(max_length=8)
    value = models.CharField(max_length=400, blank=True)
    number = models.DecimalField(max_digits=18, decimal_places=6, null=True)
    unit = models.CharField(max_length=20, blank=True)
    is_within = models.BooleanField(null=True)
    reason = models.CharField(max_length=200, blank=True)
    is_undone = models.BooleanField(default=False)
    photo = models.ForeignKey(File, models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    written_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.order} step {self.step}: {self.value}"


class PassedOn(Fact):
    """Half-done work was passed to whoever goes on with it, with what there is to know."""

    order = models.ForeignKey(Order, models.PROTECT, related_name="passed_on")
    note = models.CharField(max_length=400)
    at = models.DateTimeField()
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    written_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(condition=~models.Q(note=""), name="work_passedon_says_what")
        ]

    def __str__(self) -> str:
        return f"{self.order}: {self.note}"


class PartOut(Fact):
    """A part lies outside of the mold while it is worked on, and where."""

    order = models.ForeignKey(Order, models.PROTECT, related_name="parts_out")
    position = models.ForeignKey(Position, models.PROTECT, null=True, related_name="+")
    what = models.CharField(_("what is out"), max_length=200)
    lies = models.CharField(_("where it lies"), max_length=200)
    at = models.DateTimeField()
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    written_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=~models.Q(what="") & ~models.Q(lies=""), name="work_partout_says_where"
            )
        ]

    def __str__(self) -> str:
        return f"{self.what}: {self.lies}"


class PartIn(Fact):
    """A part that was out of the mold is in it again."""

    part_out = models.OneToOneField(PartOut, models.PROTECT, related_name="taken_in")
    at = models.DateTimeField()
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    written_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.part_out.what} in again"


class SupplyUsed(Fact):
    """What a signed order used up; the entry says the same."""

    order = models.ForeignKey(Order, models.PROTECT, related_name="supplies_used")
    entry = models.ForeignKey(Entry, models.PROTECT, related_name="+")
    supply = models.ForeignKey(Supply, models.PROTECT, null=True, related_name="used")
    name = models.CharField(_("supply"), max_length=120)
    amount = models.DecimalField(
        _("amount"), max_digits=10, decimal_places=2, null=True, blank=True
    )
    unit = models.CharField(_("unit"), max_length=20, blank=True)
    written_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(condition=~models.Q(name=""), name="work_supplyused_named"),
            models.CheckConstraint(
                condition=models.Q(amount__isnull=True) | models.Q(amount__gt=0),
                name="work_supplyused_positive",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.order}: {self.name}"


class Handover(Fact):
    """What one shift passes to the next, as it stood, signed by whoever gives it.

    `facts` holds what was read from the plant at that moment, in sections of lines. One that
    `corrects` another stands in its place, and is taken anew.
    """

    at = models.DateTimeField()
    shift_name = models.CharField(max_length=40)
    note = models.TextField(blank=True)
    facts = models.JSONField(default=dict)
    given_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    corrects = models.OneToOneField("self", models.PROTECT, null=True, related_name="corrected_by")
    entry = models.ForeignKey(Entry, models.PROTECT, related_name="+")
    written_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"handover {self.shift_name} {self.at}"


class HandoverTaken(Fact):
    """The next shift has read a handover and signed that it takes it."""

    handover = models.OneToOneField(Handover, models.PROTECT, related_name="taken")
    at = models.DateTimeField()
    note = models.TextField(blank=True)
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    entry = models.ForeignKey(Entry, models.PROTECT, related_name="+")
    written_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.handover}, taken by {self.person}"
