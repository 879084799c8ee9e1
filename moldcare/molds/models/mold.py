"""Molds, whose they are, and how fast they run."""

import unicodedata

from django.core.validators import MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy as _

from moldcare.facts import Fact, one_of
from moldcare.files.models import File
from moldcare.logbook.models import Chain, Entry
from moldcare.molds.models.names import name_key, sort_key
from moldcare.plant.models import Person


class Owner(models.Model):
    """Whose property a mold is."""

    name = models.CharField(_("name"), max_length=120)
    is_customer = models.BooleanField(_("a customer"), default=True)
    retention_years = models.PositiveSmallIntegerField(
        _("years to keep records"), null=True, blank=True
    )
    contact = models.CharField(_("contact"), max_length=200, blank=True)
    withdrawn_at = models.DateTimeField(null=True, editable=False)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                fields=["name"],
                condition=models.Q(withdrawn_at__isnull=True),
                name="molds_owner_name_once",
                violation_error_message=_("There is an owner with this name already."),
            )
        ]

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


class MarkingPhoto(Fact):
    """A photo of a mold's plate: how it is marked, and as whose property. The newest one holds."""

    mold = models.ForeignKey(Mold, models.PROTECT, related_name="marking_photos")
    file = models.ForeignKey(File, models.PROTECT, related_name="+")
    at = models.DateTimeField()
    shows = models.CharField(max_length=200, blank=True)
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    entry = models.ForeignKey(Entry, models.PROTECT, related_name="+")
    written_at = models.DateTimeField()

    class Meta:
        ordering = ["at", "id"]

    def __str__(self) -> str:
        return f"{self.mold} marked, {self.at}"
