"""Interruptions: a run stopped by a fault of the mold."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from moldcare.facts import Fact, one_of
from moldcare.logbook.models import Entry
from moldcare.molds.models import Mold
from moldcare.plant.models import Person, Spot


class Defect(models.TextChoices):
    """Faults on the molded part."""

    NONE = "", _("none seen")
    FLASH = "flash", _("flash")
    BURN = "burn", _("burn")
    SHORT_SHOT = "short_shot", _("short shot")
    SINK = "sink", _("sink")
    WARPAGE = "warpage", _("warpage")
    DRAG_MARK = "drag_mark", _("drag mark")
    GLOSS_CHANGE = "gloss_change", _("gloss change")
    SPLAY = "splay", _("splay")
    STAIN = "stain", _("grease or water stain")
    DIMENSION = "dimension", _("dimension off")
    OTHER = "other", _("other")


class Mechanism(models.TextChoices):
    """How a fault came about."""

    UNKNOWN = "", _("not known yet")
    WEAR = "wear", _("wear")
    CORROSION = "corrosion", _("corrosion")
    CLOGGING = "clogging", _("clogging")
    OVERLOAD = "overload", _("overload")
    FATIGUE = "fatigue", _("fatigue")
    LEAKAGE = "leakage", _("leakage")
    HANDLING = "handling", _("handling")


class Interruption(Fact):
    """A run stopped: when, what was seen, what it traced back to."""

    mold = models.ForeignKey(Mold, models.PROTECT, related_name="interruptions")
    press = models.ForeignKey(Spot, models.PROTECT, null=True, related_name="interruptions")
    from_at = models.DateTimeField()
    to_at = models.DateTimeField(null=True)
    waiting_min = models.PositiveIntegerField(null=True)
    repair_min = models.PositiveIntegerField(null=True)
    defect = models.CharField(max_length=14, choices=Defect, blank=True)
    finding = models.CharField(max_length=400)
    position = models.CharField(max_length=80, blank=True)
    mechanism = models.CharField(max_length=12, choices=Mechanism, blank=True)
    cause = models.CharField(max_length=400, blank=True)
    action = models.CharField(max_length=400, blank=True)
    family_key = models.CharField(max_length=40, blank=True)
    grade = models.CharField(max_length=8, blank=True)
    scrap_pieces = models.PositiveIntegerField(default=0)
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    entry = models.ForeignKey(Entry, models.PROTECT, related_name="+")
    written_at = models.DateTimeField()

    class Meta:
        ordering = ["from_at", "id"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(to_at__isnull=True) | models.Q(to_at__gt=models.F("from_at")),
                name="production_interruption_order",
            ),
            one_of("defect", Defect),
            one_of("mechanism", Mechanism),
        ]

    def __str__(self) -> str:
        return f"{self.mold}: {self.finding}"


class InterruptionEnd(Fact):
    """An interruption that was reported while it lasted came to its end."""

    interruption = models.OneToOneField(Interruption, models.PROTECT, related_name="end")
    from_at = models.DateTimeField()
    to_at = models.DateTimeField()
    waiting_min = models.PositiveIntegerField(null=True)
    repair_min = models.PositiveIntegerField(null=True)
    mechanism = models.CharField(max_length=12, choices=Mechanism, blank=True)
    cause = models.CharField(max_length=400, blank=True)
    action = models.CharField(max_length=400, blank=True)
    scrap_pieces = models.PositiveIntegerField(default=0)
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    entry = models.ForeignKey(Entry, models.PROTECT, related_name="+")
    written_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(to_at__gt=models.F("from_at")),
                name="production_interruptionend_order",
            ),
            one_of("mechanism", Mechanism),
        ]

    def __str__(self) -> str:
        return f"{self.interruption} until {self.to_at}"
