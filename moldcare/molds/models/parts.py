"""What a mold is made of, and what sits in it."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from moldcare.core.water_map import InlineKind
from moldcare.facts import Fact, one_of
from moldcare.logbook.models import Entry
from moldcare.molds.models.mold import Mold
from moldcare.plant.models import Person


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
    # places enough for what is typed in inches: 0.0001 in and 0.01 in are whole numbers of them
    bore_mm = models.DecimalField(
        _("bore in mm"), max_digits=9, decimal_places=5, null=True, blank=True
    )
    length_mm = models.DecimalField(
        _("length in mm"), max_digits=10, decimal_places=3, null=True, blank=True
    )
    bends = models.PositiveSmallIntegerField(_("bends"), default=0)
    bubblers = models.PositiveSmallIntegerField(_("bubblers"), default=0)
    straight_baffles = models.PositiveSmallIntegerField(_("straight baffles"), default=0)
    spiral_baffles = models.PositiveSmallIntegerField(_("spiral baffles"), default=0)
    couplings = models.CharField(_("couplings"), max_length=60, blank=True)
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


class CircuitItemKind(models.TextChoices):
    """What sits in a circuit along its path."""

    BUBBLER = InlineKind.BUBBLER.value, _("bubbler")
    STRAIGHT_BAFFLE = InlineKind.STRAIGHT_BAFFLE.value, _("straight baffle")
    SPIRAL_BAFFLE = InlineKind.SPIRAL_BAFFLE.value, _("spiral baffle")


class CircuitItem(models.Model):
    """A bubbler or baffle of a circuit; `place` counts from IN to OUT, from 1.

    `at` says where it sits when that is no position of the mold.
    """

    Kind = CircuitItemKind
    circuit = models.ForeignKey(Circuit, models.CASCADE, related_name="items")
    place = models.PositiveSmallIntegerField(_("place along the path"))
    kind = models.CharField(_("kind"), max_length=16, choices=Kind)
    number = models.CharField(_("number"), max_length=20)
    position = models.ForeignKey(
        Position, models.PROTECT, null=True, blank=True, related_name="circuit_items"
    )
    at = models.CharField(_("where it sits"), max_length=60, blank=True)

    class Meta:
        ordering = ["circuit", "place"]
        constraints = [
            models.UniqueConstraint(fields=["circuit", "place"], name="molds_circuititem_place"),
            models.UniqueConstraint(
                fields=["circuit", "kind", "number"], name="molds_circuititem_number_once"
            ),
            models.CheckConstraint(
                condition=models.Q(place__gte=1), name="molds_circuititem_place_from_1"
            ),
            models.CheckConstraint(
                condition=models.Q(position__isnull=True) | models.Q(at=""),
                name="molds_circuititem_sits_in_one_place",
            ),
            one_of("kind", CircuitItemKind),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.number}"
