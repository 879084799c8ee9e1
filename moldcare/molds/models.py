"""Molds and what they are made of; where they are, what they sit in, what sits in them."""

import re
import unicodedata

from django.core.validators import MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy as _

from moldcare.facts import Fact, one_of
from moldcare.logbook.models import Chain, Entry
from moldcare.plant.models import Person, Spot


def name_key(text: str) -> str:
    """Return the form under which two spellings of one number or name are the same."""
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", text.strip()).casefold())


def sort_key(text: str) -> str:
    """Return the form that sorts M-2 before M-10, the same on every database."""
    return re.sub(r"\d+", lambda match: match.group().zfill(12), name_key(text))[:200]


class Owner(models.Model):
    """Whose property a mold is."""

    name = models.CharField(_("name"), max_length=120, unique=True)
    is_customer = models.BooleanField(_("a customer"), default=True)
    retention_years = models.PositiveSmallIntegerField(
        _("years to keep records"), null=True, blank=True
    )
    contact = models.CharField(_("contact"), max_length=200, blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class ResinGroup(models.TextChoices):
    """Resins by what they do to vents, finish and steel."""

    MILD = "mild", _("unfilled PE, PP, PS")
    MEDIUM = "medium", _("ABS, PC, PA")
    GASSY = "gassy", _("POM, gassy or rich in regrind")
    CORROSIVE = "corrosive", _("flame retardant or PVC")


class Filler(models.TextChoices):
    """Fillers that wear steel."""

    NONE = "none", _("none")
    GLASS = "glass", _("glass or mineral")


class MoldClass(models.TextChoices):
    """Mold classes of SPI/PLASTICS."""

    C101 = "101", "101"
    C102 = "102", "102"
    C103 = "103", "103"
    C104 = "104", "104"
    C105 = "105", "105"


class Mold(models.Model):
    """The complete tool that forms a part, both halves."""

    number = models.CharField(_("number"), max_length=40)
    number_key = models.CharField(max_length=80, editable=False)
    sort_key = models.CharField(max_length=200, editable=False, db_index=True)
    name = models.CharField(_("name"), max_length=120)
    chain = models.OneToOneField(Chain, models.PROTECT, related_name="mold", editable=False)
    mold_class = models.CharField(_("class"), max_length=3, choices=MoldClass, blank=True)
    cavity_count = models.PositiveSmallIntegerField(
        _("cavities"), default=1, validators=[MinValueValidator(1)]
    )
    mass_a_kg = models.DecimalField(
        _("mass of the A half in kg"), max_digits=8, decimal_places=1, null=True, blank=True
    )
    mass_b_kg = models.DecimalField(
        _("mass of the B half in kg"), max_digits=8, decimal_places=1, null=True, blank=True
    )
    owner = models.ForeignKey(Owner, models.PROTECT, null=True, blank=True, related_name="molds")
    resin = models.CharField(_("resins"), max_length=120, blank=True)
    resin_group = models.CharField(
        _("resin group"), max_length=12, choices=ResinGroup, default=ResinGroup.MILD
    )
    filler = models.CharField(_("filler"), max_length=8, choices=Filler, default=Filler.NONE)
    finish = models.CharField(_("finish"), max_length=40, blank=True)
    opening_count = models.PositiveBigIntegerField(_("cycles before our records"), default=0)
    opening_at = models.DateTimeField(_("true as of"))
    opening_source = models.CharField(_("on whose word"), max_length=200, blank=True)
    drawing_revision = models.CharField(_("drawing revision"), max_length=40, blank=True)
    reading_age_shifts = models.PositiveSmallIntegerField(
        _("shifts in a press after which its reading is old"),
        null=True,
        blank=True,
        validators=[MinValueValidator(1)],
    )
    entered_at = models.DateTimeField(editable=False)
    withdrawn_at = models.DateTimeField(null=True, editable=False)

    class Meta:
        ordering = ["sort_key", "number"]
        constraints = [
            models.UniqueConstraint(
                fields=["number_key"],
                condition=models.Q(withdrawn_at__isnull=True),
                name="molds_mold_number_once",
                violation_error_message=_("There is a mold with this number already."),
            ),
            models.CheckConstraint(
                condition=models.Q(cavity_count__gte=1), name="molds_mold_has_a_cavity"
            ),
            models.CheckConstraint(
                condition=models.Q(reading_age_shifts__isnull=True)
                | models.Q(reading_age_shifts__gte=1),
                name="molds_mold_reading_age",
            ),
            one_of("resin_group", ResinGroup),
            one_of("filler", Filler),
        ]

    def __str__(self) -> str:
        return self.number

    def save(self, *args: object, **kwargs: object) -> None:
        """Keep the two keys that follow from the number."""
        self.number = unicodedata.normalize("NFC", self.number.strip())
        self.number_key = name_key(self.number)
        self.sort_key = sort_key(self.number)
        super().save(*args, **kwargs)  # type: ignore[arg-type]


class CycleTime(Fact):
    """The cycle time of a mold from an instant on; a shorter one judges held readings again."""

    mold = models.ForeignKey(Mold, models.PROTECT, related_name="cycle_times")
    standard_s = models.DecimalField(max_digits=8, decimal_places=2, null=True)
    shortest_s = models.DecimalField(max_digits=8, decimal_places=2, null=True)
    valid_from = models.DateTimeField()
    reason = models.CharField(max_length=200)
    entry = models.ForeignKey(Entry, models.PROTECT, related_name="+")
    after_reading = models.BigIntegerField()
    written_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=(models.Q(standard_s__isnull=True) | models.Q(standard_s__gt=0))
                & (models.Q(shortest_s__isnull=True) | models.Q(shortest_s__gt=0)),
                name="molds_cycletime_positive",
            )
        ]

    def __str__(self) -> str:
        return f"{self.mold}: {self.standard_s} s from {self.valid_from}"


class Configuration(models.Model):
    """A named version of a mold that it can run as."""

    mold = models.ForeignKey(Mold, models.PROTECT, related_name="configurations")
    name = models.CharField(max_length=80)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["mold", "name"], name="molds_configuration_once")
        ]

    def __str__(self) -> str:
        return f"{self.mold} {self.name}"


class Cavity(models.Model):
    """One forming place of a mold."""

    mold = models.ForeignKey(Mold, models.PROTECT, related_name="cavities")
    ident = models.CharField(_("cavity"), max_length=20)
    part = models.CharField(_("part"), max_length=120, blank=True)

    class Meta:
        ordering = ["mold", "id"]
        verbose_name_plural = "cavities"
        constraints = [models.UniqueConstraint(fields=["mold", "ident"], name="molds_cavity_once")]

    def __str__(self) -> str:
        return f"{self.mold} cavity {self.ident}"


class Position(models.Model):
    """A place in a mold where a component sits."""

    mold = models.ForeignKey(Mold, models.PROTECT, related_name="positions")
    ident = models.CharField(_("position"), max_length=40)
    name = models.CharField(_("name"), max_length=120, blank=True)
    is_forming = models.BooleanField(_("forms the part"), default=False)
    cavity = models.ForeignKey(
        Cavity, models.PROTECT, null=True, blank=True, related_name="positions"
    )

    class Meta:
        ordering = ["mold", "id"]
        constraints = [
            models.UniqueConstraint(fields=["mold", "ident"], name="molds_position_once")
        ]

    def __str__(self) -> str:
        return f"{self.mold} {self.ident}"


class Component(models.Model):
    """A serial-numbered piece with a count of its own, which follows it from mold to mold."""

    serial = models.CharField(_("serial number"), max_length=60, unique=True)
    name = models.CharField(_("name"), max_length=120)
    opening_cycles = models.PositiveBigIntegerField(_("cycles before our records"), default=0)
    opening_shots = models.PositiveBigIntegerField(_("shots before our records"), default=0)

    class Meta:
        ordering = ["serial"]

    def __str__(self) -> str:
        return f"{self.name} {self.serial}"


class Fitting(Fact):
    """A component was fitted in a position, or, with no position, taken out to the shelf."""

    component = models.ForeignKey(Component, models.PROTECT, related_name="fittings")
    position = models.ForeignKey(Position, models.PROTECT, null=True, related_name="fittings")
    at = models.DateTimeField()
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    entry = models.ForeignKey(Entry, models.PROTECT, null=True, related_name="+")
    written_at = models.DateTimeField()

    class Meta:
        ordering = ["at", "id"]
        constraints = [
            models.UniqueConstraint(fields=["component", "at"], name="molds_fitting_once"),
            models.UniqueConstraint(fields=["position", "at"], name="molds_fitting_position_once"),
        ]

    def __str__(self) -> str:
        return f"{self.component} in {self.position or 'the shelf'}"


class Block(Fact):
    """A cavity was blocked, or freed again."""

    cavity = models.ForeignKey(Cavity, models.PROTECT, related_name="blocks")
    at = models.DateTimeField()
    is_blocked = models.BooleanField()
    reason = models.CharField(max_length=200, blank=True)
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    entry = models.ForeignKey(Entry, models.PROTECT, null=True, related_name="+")
    written_at = models.DateTimeField()

    class Meta:
        ordering = ["at", "id"]
        constraints = [
            models.UniqueConstraint(fields=["cavity", "at"], name="molds_block_once"),
            models.CheckConstraint(
                condition=models.Q(is_blocked=False) | ~models.Q(reason=""),
                name="molds_block_has_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.cavity} {'blocked' if self.is_blocked else 'freed'}"


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


class CircuitHalf(models.TextChoices):
    """The half that a circuit runs in."""

    A = "A", _("A half")
    B = "B", _("B half")


class Circuit(models.Model):
    """One water path from IN to OUT, with its hoses and couplings."""

    Half = CircuitHalf
    mold = models.ForeignKey(Mold, models.PROTECT, related_name="circuits")
    ident = models.CharField(_("circuit"), max_length=20)
    half = models.CharField(_("half"), max_length=1, choices=Half)
    bore_mm = models.DecimalField(
        _("bore in mm"), max_digits=6, decimal_places=2, null=True, blank=True
    )
    length_mm = models.DecimalField(
        _("length in mm"), max_digits=8, decimal_places=1, null=True, blank=True
    )
    bends = models.PositiveSmallIntegerField(_("bends"), default=0)
    bubblers = models.PositiveSmallIntegerField(_("bubblers"), default=0)
    straight_baffles = models.PositiveSmallIntegerField(_("straight baffles"), default=0)
    spiral_baffles = models.PositiveSmallIntegerField(_("spiral baffles"), default=0)
    looped_with = models.CharField(_("looped with"), max_length=60, blank=True)
    medium = models.CharField(_("medium"), max_length=60, default="water")
    design_flow_l_min = models.DecimalField(
        _("design flow in l/min"), max_digits=7, decimal_places=2, null=True, blank=True
    )
    rise_limit_k = models.DecimalField(
        _("limit of the temperature rise in K"),
        max_digits=5,
        decimal_places=2,
        null=True,
        blank=True,
    )

    class Meta:
        ordering = ["mold", "id"]
        constraints = [
            models.UniqueConstraint(fields=["mold", "ident"], name="molds_circuit_once"),
            one_of("half", CircuitHalf),
        ]

    def __str__(self) -> str:
        return f"{self.mold} circuit {self.ident}"


class Auxiliary(models.Model):
    """What molds depend on: a temperature controller, a manifold, a bath, lifting gear, a rack."""

    number = models.CharField(_("number"), max_length=40)
    number_key = models.CharField(max_length=80, editable=False)
    name = models.CharField(_("name"), max_length=120)
    kind = models.CharField(_("kind"), max_length=60)
    chain = models.OneToOneField(Chain, models.PROTECT, related_name="auxiliary", editable=False)
    entered_at = models.DateTimeField(editable=False)
    withdrawn_at = models.DateTimeField(null=True, editable=False)

    class Meta:
        ordering = ["number"]
        verbose_name_plural = "auxiliaries"
        constraints = [
            models.UniqueConstraint(
                fields=["number_key"],
                condition=models.Q(withdrawn_at__isnull=True),
                name="molds_auxiliary_number_once",
            )
        ]

    def __str__(self) -> str:
        return self.number

    def save(self, *args: object, **kwargs: object) -> None:
        """Keep the key that follows from the number."""
        self.number = unicodedata.normalize("NFC", self.number.strip())
        self.number_key = name_key(self.number)
        super().save(*args, **kwargs)  # type: ignore[arg-type]


class Supply(models.Model):
    """Grease, cleaner, O-rings, a spare insert: what steps use up."""

    number = models.CharField(_("number"), max_length=40, unique=True)
    name = models.CharField(_("name"), max_length=120)
    unit = models.CharField(_("unit"), max_length=20, default="pieces")
    minimum = models.DecimalField(
        _("minimum on the shelf"), max_digits=10, decimal_places=2, default=0
    )
    molds = models.ManyToManyField(Mold, blank=True, related_name="supplies")

    class Meta:
        ordering = ["number"]
        verbose_name_plural = "supplies"

    def __str__(self) -> str:
        return f"{self.number} {self.name}"


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
