"""The limits and the work of a rule: the same columns in a rule set and on a mold."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy as _

from moldcare.care.models.families import Family, Reach, WhereDone
from moldcare.facts import one_of


class RuleTermsBasis(models.TextChoices):
    """Which of the two sums a rule counts on."""

    CYCLES = "cycles", _("cycles")
    SHOTS = "shots", _("shots")


class RuleTermsPeriodUnit(models.TextChoices):
    """What a calendar period is counted in."""

    NONE = "", "-"
    DAY = "day", _("days")
    WEEK = "week", _("weeks")
    MONTH = "month", _("months")
    YEAR = "year", _("years")


class RuleTermsEvent(models.TextChoices):
    """Events at which a rule falls due."""

    NONE = "", "-"
    END_OF_RUN = "end_of_run", _("at the end of a run")
    BEFORE_SET = "before_set", _("before it is set")
    INTO_STORAGE = "into_storage", _("into storage")
    BACK_FROM_STORAGE = "back_from_storage", _("back from storage")
    MOLD_OPENED = "mold_opened", _("when the mold was opened")
    EACH_SERVICE = "each_service", _("at each service")
    SET = "set", _("at each set")


class RuleTermsCalendarCounts(models.TextChoices):
    """Whether stored time counts for the calendar part."""

    ALWAYS = "always", _("always")
    WAITS_WHILE_STORED = "waits_while_stored", _("waits while stored")
    ONLY_WHILE_STORED = "only_while_stored", _("only while stored")


class RuleTermsModel(models.Model):
    """The limits and the work of a rule: the same columns in a rule set and on a mold."""

    Basis = RuleTermsBasis
    PeriodUnit = RuleTermsPeriodUnit
    Event = RuleTermsEvent
    CalendarCounts = RuleTermsCalendarCounts
    name = models.CharField(_("name"), max_length=120)
    family = models.ForeignKey(Family, models.PROTECT, related_name="+")
    count_base = models.PositiveIntegerField(
        _("every ... counts"), null=True, blank=True, validators=[MinValueValidator(1)]
    )
    count_basis = models.CharField(
        _("counted in"), max_length=6, choices=Basis, default=Basis.SHOTS
    )
    factor_resin = models.DecimalField(
        _("resin factor"),
        max_digits=4,
        decimal_places=2,
        default=1,
        validators=[MinValueValidator(0.05), MaxValueValidator(2)],
    )
    factor_filler = models.DecimalField(
        _("filler factor"),
        max_digits=4,
        decimal_places=2,
        default=1,
        validators=[MinValueValidator(0.05), MaxValueValidator(2)],
    )
    factor_finish = models.DecimalField(
        _("finish factor"),
        max_digits=4,
        decimal_places=2,
        default=1,
        validators=[MinValueValidator(0.05), MaxValueValidator(2)],
    )
    period_n = models.PositiveSmallIntegerField(
        _("every"), null=True, blank=True, validators=[MinValueValidator(1)]
    )
    period_unit = models.CharField(_("period"), max_length=5, choices=PeriodUnit, blank=True)
    anchor_on = models.DateField(_("fixed dates from"), null=True, blank=True)
    early_window_days = models.PositiveSmallIntegerField(
        _("early window in days"), null=True, blank=True
    )
    hours_limit = models.PositiveIntegerField(
        _("every ... running hours"), null=True, blank=True, validators=[MinValueValidator(1)]
    )
    event = models.CharField(_("event"), max_length=18, choices=Event, blank=True)
    event_after_days = models.PositiveSmallIntegerField(_("after days"), null=True, blank=True)
    measured_quantity = models.CharField(_("measured quantity"), max_length=60, blank=True)
    measured_unit = models.CharField(_("unit"), max_length=20, blank=True)
    measured_limit = models.DecimalField(
        _("limit"), max_digits=14, decimal_places=6, null=True, blank=True
    )
    measured_baseline = models.DecimalField(
        _("baseline"), max_digits=14, decimal_places=6, null=True, blank=True
    )
    lead_count = models.PositiveIntegerField(_("due soon, counts before"), null=True, blank=True)
    lead_days = models.PositiveSmallIntegerField(_("due soon, days before"), null=True, blank=True)
    margin_count = models.PositiveIntegerField(_("margin in counts"), null=True, blank=True)
    margin_days = models.PositiveSmallIntegerField(_("margin in days"), null=True, blank=True)
    margin_shifts = models.PositiveSmallIntegerField(
        _("margin after an event in shifts"), null=True, blank=True
    )
    hard_count = models.PositiveIntegerField(_("hard limit in counts"), null=True, blank=True)
    hard_days = models.PositiveSmallIntegerField(_("hard limit in days"), null=True, blank=True)
    hard_hours = models.PositiveIntegerField(_("hard limit in hours"), null=True, blank=True)
    calendar_counts = models.CharField(
        _("the calendar counts"),
        max_length=20,
        choices=CalendarCounts,
        default=CalendarCounts.ALWAYS,
    )
    reach = models.CharField(_("reach"), max_length=6, choices=Reach, default=Reach.FACES)
    where_done = models.CharField(
        _("where done"), max_length=7, choices=WhereDone, default=WhereDone.BENCH
    )
    minutes = models.PositiveSmallIntegerField(_("minutes"), default=15)
    people = models.PositiveSmallIntegerField(_("people"), default=1)
    qualification = models.CharField(_("qualification"), max_length=80, blank=True)
    supplies = models.CharField(_("supplies"), max_length=400, blank=True)
    signs = models.CharField(_("signs on the part that it is overdue"), max_length=400, blank=True)
    is_safety_relevant = models.BooleanField(_("safety relevant"), default=False)
    asks_checked = models.BooleanField(_("a second person signs checked"), default=False)
    asks_accepted = models.BooleanField(_("a lead signs accepted"), default=False)
    reason = models.CharField(_("why this interval"), max_length=400)

    class Meta:
        abstract = True

    def __str__(self) -> str:
        return self.name

    @property
    def signs_known(self) -> list[str]:
        """The signs that it is overdue, one a line: its own, or those of its family."""
        lines = (self.signs or self.family.signs).splitlines()
        return [line.strip() for line in lines if line.strip()]


def terms_constraints() -> list[models.BaseConstraint]:
    """Return what the database itself holds true of a rule's limits."""
    Q = models.Q
    terms = RuleTermsModel
    return [
        models.CheckConstraint(
            condition=Q(count_base__isnull=False)
            | Q(period_n__isnull=False)
            | Q(hours_limit__isnull=False)
            | ~Q(event="")
            | Q(measured_limit__isnull=False, measured_baseline__isnull=False),
            name="%(app_label)s_%(class)s_has_a_limit",
            violation_error_message=_("Give at least one limit."),
        ),
        models.CheckConstraint(
            condition=Q(count_base__isnull=True) | Q(count_base__gte=1),
            name="%(app_label)s_%(class)s_count_positive",
        ),
        models.CheckConstraint(
            condition=Q(period_n__isnull=True, period_unit="")
            | (Q(period_n__gte=1) & ~Q(period_unit="")),
            name="%(app_label)s_%(class)s_period_whole",
            violation_error_message=_("A period needs a number and a unit."),
        ),
        models.CheckConstraint(
            condition=Q(factor_resin__gt=0) & Q(factor_filler__gt=0) & Q(factor_finish__gt=0),
            name="%(app_label)s_%(class)s_factors_positive",
        ),
        models.CheckConstraint(
            condition=~Q(reason=""),
            name="%(app_label)s_%(class)s_has_a_reason",
        ),
        one_of("count_basis", terms.Basis),
        one_of("period_unit", terms.PeriodUnit),
        one_of("event", terms.Event),
        one_of("calendar_counts", terms.CalendarCounts),
        one_of("reach", Reach),
        one_of("where_done", WhereDone),
    ]
