"""Care rules, what was done under them, and where every rule stands."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy as _

from moldcare.facts import Fact, one_of
from moldcare.logbook.models import Entry
from moldcare.molds.models import Auxiliary, Circuit, Mold, Position
from moldcare.plant.models import Person, Spot

LEAST_FACTOR = "0.30"


class Grade(models.TextChoices):
    """As found, before the work: how near to failing."""

    CLEAN = "clean", _("clean")
    LIGHT = "light", _("light")
    HEAVY = "heavy", _("heavy")
    FAILED = "failed", _("failed")


class Reach(models.TextChoices):
    """How far the mold must be opened."""

    CLOSED = "closed", _("closed")
    FACES = "faces", _("faces open")
    PLATES = "plates", _("plates apart")
    PARTS = "parts", _("parts out")


class WhereDone(models.TextChoices):
    """Where a task is done."""

    PRESS = "press", _("in press")
    BENCH = "bench", _("on bench")
    OUTSIDE = "outside", _("outside")


class Family(models.Model):
    """A group of like tasks: vents, lubrication and so on."""

    key = models.SlugField(_("key"), max_length=40, unique=True)
    name = models.CharField(_("name"), max_length=80)
    signs = models.TextField(_("signs on the part that it is overdue"), blank=True)
    grade_clean = models.CharField(_("clean, in its own words"), max_length=120, blank=True)
    grade_light = models.CharField(_("light, in its own words"), max_length=120, blank=True)
    grade_heavy = models.CharField(_("heavy, in its own words"), max_length=120, blank=True)
    grade_failed = models.CharField(_("failed, in its own words"), max_length=120, blank=True)
    is_inspection = models.BooleanField(default=False)
    place = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["place", "name"]
        verbose_name_plural = "families"

    def __str__(self) -> str:
        return self.name


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
    is_safety_relevant = models.BooleanField(_("safety relevant"), default=False)
    asks_checked = models.BooleanField(_("a second person signs checked"), default=False)
    asks_accepted = models.BooleanField(_("a lead signs accepted"), default=False)
    reason = models.CharField(_("why this interval"), max_length=400)

    class Meta:
        abstract = True

    def __str__(self) -> str:
        return self.name


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


class RuleSet(models.Model):
    """Rules that molds of a kind begin with."""

    name = models.CharField(_("name"), max_length=120, unique=True)
    note = models.CharField(_("for which molds"), max_length=400, blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class SetRule(RuleTermsModel):
    """One rule of a set: a starting value, to be checked by the plant."""

    rule_set = models.ForeignKey(RuleSet, models.PROTECT, related_name="rules")
    steps = models.JSONField(default=list, blank=True)
    covers = models.JSONField(default=list, blank=True)

    class Meta:
        ordering = ["rule_set", "id"]
        constraints = [
            *terms_constraints(),
            models.UniqueConstraint(fields=["rule_set", "name"], name="care_setrule_once"),
        ]


class CareRuleTarget(models.TextChoices):
    """What a care rule looks after."""

    MOLD = "mold", _("the mold")
    POSITION = "position", _("a position, or the component in it")
    CIRCUIT = "circuit", _("one circuit")
    ALL_CIRCUITS = "all_circuits", _("all circuits")
    AUXILIARY = "auxiliary", _("an auxiliary")


class CareRule(RuleTermsModel):
    """One care rule of one mold or auxiliary."""

    Target = CareRuleTarget
    mold = models.ForeignKey(Mold, models.PROTECT, null=True, blank=True, related_name="care_rules")
    auxiliary = models.ForeignKey(
        Auxiliary, models.PROTECT, null=True, blank=True, related_name="care_rules"
    )
    target = models.CharField(_("target"), max_length=12, choices=Target, default=Target.MOLD)
    position = models.ForeignKey(
        Position, models.PROTECT, null=True, blank=True, related_name="care_rules"
    )
    circuit = models.ForeignKey(
        Circuit, models.PROTECT, null=True, blank=True, related_name="care_rules"
    )
    from_set_rule = models.ForeignKey(
        SetRule, models.PROTECT, null=True, blank=True, related_name="copies"
    )
    is_adjusted = models.BooleanField(default=False)
    changes_component = models.BooleanField(
        _("fitting a new component completes it"), default=False
    )
    entered_at = models.DateTimeField(editable=False)
    withdrawn_at = models.DateTimeField(null=True, editable=False)

    class Meta:
        ordering = ["mold", "id"]
        constraints = [
            *terms_constraints(),
            models.CheckConstraint(
                condition=models.Q(
                    target__in=["mold", "all_circuits"],
                    mold__isnull=False,
                    auxiliary__isnull=True,
                    position__isnull=True,
                    circuit__isnull=True,
                )
                | models.Q(
                    target="position",
                    mold__isnull=False,
                    auxiliary__isnull=True,
                    position__isnull=False,
                    circuit__isnull=True,
                )
                | models.Q(
                    target="circuit",
                    mold__isnull=False,
                    auxiliary__isnull=True,
                    position__isnull=True,
                    circuit__isnull=False,
                )
                | models.Q(
                    target="auxiliary",
                    mold__isnull=True,
                    auxiliary__isnull=False,
                    position__isnull=True,
                    circuit__isnull=True,
                ),
                name="care_carerule_one_target",
                violation_error_message=_("A rule has exactly one target."),
            ),
            models.UniqueConstraint(
                fields=["mold", "target", "position", "circuit", "name"],
                condition=models.Q(withdrawn_at__isnull=True),
                name="care_carerule_name_once",
            ),
        ]


class RuleVersion(Fact):
    """What a rule said from an instant on, and why it was changed."""

    rule = models.ForeignKey(CareRule, models.PROTECT, related_name="versions")
    terms = models.JSONField()
    reason = models.CharField(max_length=400)
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    entry = models.ForeignKey(Entry, models.PROTECT, related_name="+")
    written_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=~models.Q(reason=""), name="care_ruleversion_has_a_reason"
            )
        ]

    def __str__(self) -> str:
        return f"{self.rule} from {self.written_at}"


class StepKind(models.TextChoices):
    """What a step asks for."""

    TICK = "tick", _("a tick")
    VALUE = "value", _("a value")
    CHOICE = "choice", _("a choice")
    PHOTO = "photo", _("a photo")
    POSITION = "position", _("a position")


class Step(models.Model):
    """One step of a rule, in order."""

    Kind = StepKind
    rule = models.ForeignKey(CareRule, models.CASCADE, related_name="steps")
    place = models.PositiveSmallIntegerField()
    text = models.CharField(_("step"), max_length=400)
    kind = models.CharField(_("asks for"), max_length=8, choices=Kind, default=Kind.TICK)
    unit = models.CharField(_("unit"), max_length=20, blank=True)
    low = models.DecimalField(_("at least"), max_digits=14, decimal_places=6, null=True, blank=True)
    high = models.DecimalField(_("at most"), max_digits=14, decimal_places=6, null=True, blank=True)
    choices = models.JSONField(default=list, blank=True)

    class Meta:
        ordering = ["rule", "place"]
        constraints = [
            models.UniqueConstraint(fields=["rule", "place"], name="care_step_place"),
            models.CheckConstraint(
                condition=models.Q(low__isnull=True)
                | models.Q(high__isnull=True)
                | models.Q(high__gte=models.F("low")),
                name="care_step_limits",
            ),
            one_of("kind", StepKind),
        ]

    def __str__(self) -> str:
        return f"{self.rule} {self.place}"


class Cover(models.Model):
    """A finished rule restarts another of the same mold."""

    covering = models.ForeignKey(CareRule, models.CASCADE, related_name="covers")
    covered = models.ForeignKey(CareRule, models.CASCADE, related_name="covered_by")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["covering", "covered"], name="care_cover_once"),
            models.CheckConstraint(
                condition=~models.Q(covering=models.F("covered")), name="care_cover_not_itself"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.covering} covers {self.covered}"


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
            models.Index(fields=["spot_kind", "due_soon_at"], name="care_board_coming"),
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
