"""The plant, its shifts and spots, and its people."""

from django.contrib.auth.models import AbstractBaseUser, BaseUserManager
from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models
from django.utils.translation import gettext_lazy as _

from moldcare.facts import Fact, one_of


class PlantPaper(models.TextChoices):
    """Paper sizes."""

    A4 = "A4", "A4"
    LETTER = "Letter", "US Letter"


class PlantUnits(models.TextChoices):
    """Systems of units on screens and paper."""

    METRIC = "metric", _("metric")
    US = "us", _("US")


class Plant(models.Model):
    """The plant: one row, number 1. A group runs one database a plant."""

    Paper = PlantPaper
    Units = PlantUnits
    name = models.CharField(_("name"), max_length=120)
    zone = models.CharField(_("time zone"), max_length=60, default="Europe/Berlin")
    currency = models.CharField(_("currency"), max_length=3, default="EUR")
    language = models.CharField(_("language on paper"), max_length=5, default="en")
    units = models.CharField(_("units"), max_length=10, choices=Units, default=Units.METRIC)
    paper = models.CharField(_("paper"), max_length=10, choices=Paper, default=Paper.A4)
    week_starts_on = models.PositiveSmallIntegerField(
        _("week starts on"), default=0, choices=[(0, _("Monday")), (6, _("Sunday"))]
    )
    clock_error_s = models.PositiveIntegerField(_("allowed clock error in seconds"), default=300)
    reading_age_shifts = models.PositiveSmallIntegerField(
        _("shifts in a press after which a reading is old"),
        default=3,
        validators=[MinValueValidator(1)],
    )
    idle_minutes = models.PositiveSmallIntegerField(
        _("minutes after which a shared tablet signs off by itself"),
        default=10,
        validators=[MinValueValidator(1), MaxValueValidator(240)],
    )
    lockout_procedure = models.CharField(
        _("lock-out procedure of the site"), max_length=120, blank=True
    )
    is_demo = models.BooleanField(default=False)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(id=1), name="plant_plant_is_one"),
            models.CheckConstraint(
                condition=models.Q(reading_age_shifts__gte=1), name="plant_plant_reading_age"
            ),
            models.CheckConstraint(
                condition=models.Q(idle_minutes__gte=1, idle_minutes__lte=240),
                name="plant_plant_idle_minutes",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class ShiftPattern(Fact):
    """A week's shifts, true from a date until the next pattern's.

    Of several rows with one date the newest counts; where it `is_taken_back`, none of them does.
    """

    valid_from = models.DateField()
    is_taken_back = models.BooleanField(default=False)
    written_at = models.DateTimeField()

    class Meta:
        ordering = ["valid_from", "id"]

    def __str__(self) -> str:
        return f"shifts from {self.valid_from}"


class ShiftSlot(Fact):
    """One shift of a pattern: a weekday, a name, local wall times; it belongs to its first day."""

    pattern = models.ForeignKey(ShiftPattern, models.PROTECT, related_name="slots")
    weekday = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=40)
    starts = models.TimeField()
    ends = models.TimeField()

    class Meta:
        ordering = ["pattern", "weekday", "starts"]
        constraints = [
            models.UniqueConstraint(
                fields=["pattern", "weekday", "starts"], name="plant_shiftslot_once"
            ),
            models.CheckConstraint(
                condition=models.Q(weekday__lte=6), name="plant_shiftslot_weekday"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name} {self.starts}-{self.ends}"


class ShiftException(Fact):
    """A day, or one shift of it, worked or not against the pattern; the newest row counts.

    With `starts` and `ends` the shift of that day has times of its own, whatever the pattern says
    of it. A row that `takes_back` another says only that the other one does not hold any more.
    """

    on = models.DateField()
    shift_name = models.CharField(max_length=40, blank=True)
    is_worked = models.BooleanField()
    starts = models.TimeField(null=True)
    ends = models.TimeField(null=True)
    reason = models.CharField(max_length=200)
    takes_back = models.OneToOneField(
        "self", models.PROTECT, null=True, related_name="taken_back_by"
    )
    written_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(starts__isnull=True, ends__isnull=True)
                | (
                    models.Q(starts__isnull=False, ends__isnull=False, is_worked=True)
                    & ~models.Q(shift_name="")
                ),
                name="plant_shiftexception_times",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.on} {self.shift_name}: {'worked' if self.is_worked else 'not worked'}"


class SpotKind(models.TextChoices):
    """Kinds of places."""

    PRESS = "press", _("press")
    BENCH = "bench", _("bench")
    RACK = "rack", _("rack")
    AWAY = "away", _("away at")


class Spot(models.Model):
    """A place that a mold can be in."""

    Kind = SpotKind
    kind = models.CharField(_("kind"), max_length=10, choices=Kind)
    number = models.CharField(_("number"), max_length=40)
    name = models.CharField(_("name"), max_length=120, blank=True)
    clamp_kn = models.PositiveIntegerField(_("clamp force in kN"), null=True, blank=True)
    is_in_use = models.BooleanField(_("in use"), default=True)

    class Meta:
        ordering = ["kind", "number"]
        constraints = [
            models.UniqueConstraint(fields=["kind", "number"], name="plant_spot_once"),
            one_of("kind", SpotKind),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.number}"


class PersonManager(BaseUserManager["Person"]):
    """Makes people who can sign in."""

    def create_person(self, username: str, *, password: str | None, **fields: object) -> "Person":
        """Make a person with a password, or with none that works."""
        person = self.model(username=self.model.normalize_username(username), **fields)
        person.set_password(password)
        person.full_clean(exclude=["password"])
        person.save()
        return person


class PersonRole(models.TextChoices):
    """Who may do what."""

    READER = "reader", _("reader")
    TECHNICIAN = "technician", _("technician")
    LEAD = "lead", _("lead")
    MANAGER = "manager", _("manager")
    FEED = "feed", _("feed")


class Person(AbstractBaseUser):
    """Somebody who signs in, or signs at a shared tablet with badge number and PIN."""

    Role = PersonRole
    username = models.CharField(
        _("sign-in name"),
        max_length=60,
        unique=True,
        validators=[RegexValidator(r"^[\w.@+-]+$", _("Use letters, digits and . @ + - _ only."))],
    )
    name = models.CharField(_("name"), max_length=120)
    badge = models.CharField(_("badge number"), max_length=40, unique=True, null=True, blank=True)
    pin_hash = models.CharField(max_length=200, blank=True)
    role = models.CharField(_("role"), max_length=12, choices=Role, default=Role.READER)
    language = models.CharField(_("language"), max_length=5, blank=True)
    units = models.CharField(_("units"), max_length=10, choices=PlantUnits, blank=True)
    is_active = models.BooleanField(_("may sign in"), default=True)
    is_wall = models.BooleanField(_("is a wall screen"), default=False)

    objects = PersonManager()
    USERNAME_FIELD = "username"
    REQUIRED_FIELDS = ["name"]

    class Meta:
        ordering = ["name"]
        constraints = [
            one_of("role", PersonRole),
            models.CheckConstraint(
                condition=models.Q(units__in=["", *PlantUnits.values]),
                name="plant_person_units_known",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def is_staff(self) -> bool:
        """Return whether the person may look at the tables: managers may."""
        return self.role == self.Role.MANAGER

    @property
    def can_come_in(self) -> bool:
        """Return whether there is a secret to sign in with: a password, or a PIN for a badge."""
        return bool(self.badge and self.pin_hash) or self.has_usable_password()

    def has_perm(self, perm: str, obj: object = None) -> bool:
        """Return whether a manager may view; nobody changes a table outside the acts."""
        return self.is_staff and self.is_active and ".view_" in perm

    def has_module_perms(self, app_label: str) -> bool:
        """Return whether a manager may view: every table, then."""
        return self.is_staff and self.is_active


class Qualification(Fact):
    """Proof that a person may do a task, with its end date."""

    person = models.ForeignKey(Person, models.PROTECT, related_name="qualifications")
    subject = models.CharField(max_length=80)
    evidence = models.CharField(max_length=200)
    valid_from = models.DateField()
    valid_to = models.DateField(null=True, blank=True)
    is_withdrawn = models.BooleanField(default=False)
    written_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(valid_to__isnull=True)
                | models.Q(valid_to__gte=models.F("valid_from")),
                name="plant_qualification_order",
            )
        ]

    def __str__(self) -> str:
        return f"{self.person}: {self.subject}"


class Training(Fact):
    """Hours of training that a person had."""

    person = models.ForeignKey(Person, models.PROTECT, related_name="trainings")
    on = models.DateField()
    hours = models.DecimalField(max_digits=6, decimal_places=2)
    subject = models.CharField(max_length=120)
    written_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(hours__gt=0), name="plant_training_hours_positive"
            )
        ]

    def __str__(self) -> str:
        return f"{self.person}: {self.subject} on {self.on}"


class CautionLine(models.Model):
    """A caution of the plant's own, printed after the usual ones; these are never taken away.

    `family_key` names a care family by its key; empty, the line stands on every sheet and order.
    """

    family_key = models.CharField(_("for work on"), max_length=40, blank=True)
    text = models.CharField(_("caution"), max_length=300)
    added_at = models.DateTimeField(editable=False)
    withdrawn_at = models.DateTimeField(null=True, editable=False)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["family_key", "text"],
                condition=models.Q(withdrawn_at__isnull=True),
                name="plant_cautionline_once",
            ),
            models.CheckConstraint(condition=~models.Q(text=""), name="plant_cautionline_text"),
            models.CheckConstraint(
                condition=models.Q(withdrawn_at__isnull=True)
                | models.Q(withdrawn_at__gte=models.F("added_at")),
                name="plant_cautionline_order",
            ),
        ]

    def __str__(self) -> str:
        return self.text


class RateKind(models.TextChoices):
    """What a rate pays for."""

    PRESS = "press", _("press hour")
    CREW = "crew", _("crew hour")
    REPAIR = "repair", _("toolroom hour")


class Rate(Fact):
    """What an hour costs, true from a date on; old months keep the rate they had.

    Of several rows about one spot and date the newest counts. One without an amount says that a
    spot has no rate of its own from there on.
    """

    Kind = RateKind
    kind = models.CharField(max_length=10, choices=Kind)
    spot = models.ForeignKey(Spot, models.PROTECT, null=True, blank=True, related_name="rates")
    valid_from = models.DateField()
    amount = models.DecimalField(max_digits=12, decimal_places=2, null=True)
    currency = models.CharField(max_length=3)
    written_at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["kind", "spot", "valid_from"], name="plant_rate_newest")]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(amount__gte=0) | models.Q(amount__isnull=True),
                name="plant_rate_positive",
            ),
            models.CheckConstraint(
                condition=models.Q(amount__isnull=False) | models.Q(spot__isnull=False),
                name="plant_rate_general_has_amount",
            ),
            models.CheckConstraint(condition=~models.Q(currency=""), name="plant_rate_currency"),
            one_of("kind", RateKind),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.amount} {self.currency} from {self.valid_from}"
