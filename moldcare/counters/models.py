"""Counters, what was read from them, what people decided, and what follows from it."""

from django.core.validators import MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy as _

from moldcare.core.counting.values import State
from moldcare.facts import Fact, one_of
from moldcare.files.models import File
from moldcare.handin.models import HandIn
from moldcare.logbook.models import Entry
from moldcare.molds.models import Mold
from moldcare.plant.models import Person, Spot


class Counter(models.Model):
    """A device or register that counts closings."""

    label = models.CharField(_("label"), max_length=60, unique=True)
    digits = models.PositiveSmallIntegerField(
        _("digits"), null=True, blank=True, validators=[MinValueValidator(1)]
    )
    rollover = models.PositiveBigIntegerField(
        _("begins again after"),
        null=True,
        blank=True,
        help_text=_("Where it does not wrap at a power of ten: 65536 and the like."),
        validators=[MinValueValidator(1)],
    )

    class Meta:
        ordering = ["label"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(rollover__isnull=True) | models.Q(rollover__gt=0),
                name="counters_counter_rollover",
            ),
            models.CheckConstraint(
                condition=models.Q(digits__isnull=True) | models.Q(digits__gte=1, digits__lte=18),
                name="counters_counter_digits",
            ),
        ]

    def __str__(self) -> str:
        return self.label


class CounterFittingAct(models.TextChoices):
    """A counter is fitted or removed."""

    FITTED = "fitted", _("fitted")
    REMOVED = "removed", _("removed")


class CounterFitting(Fact):
    """A counter was fitted to a mold or a press, or removed from it."""

    Act = CounterFittingAct
    counter = models.ForeignKey(Counter, models.PROTECT, related_name="fittings")
    mold = models.ForeignKey(Mold, models.PROTECT, null=True, related_name="counter_fittings")
    press = models.ForeignKey(Spot, models.PROTECT, null=True, related_name="counter_fittings")
    at = models.DateTimeField()
    act = models.CharField(max_length=8, choices=Act)
    value_shown = models.PositiveBigIntegerField(null=True)
    reason = models.CharField(max_length=200, blank=True)
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    entry = models.ForeignKey(Entry, models.PROTECT, null=True, related_name="+")
    after_reading = models.BigIntegerField()
    written_at = models.DateTimeField()

    class Meta:
        ordering = ["at", "id"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(mold__isnull=True, press__isnull=False)
                | models.Q(mold__isnull=False, press__isnull=True),
                name="counters_fitting_mold_xor_press",
            ),
            models.UniqueConstraint(fields=["counter", "at", "act"], name="counters_fitting_once"),
            one_of("act", CounterFittingAct),
        ]

    def __str__(self) -> str:
        return f"{self.counter} {self.act} {self.mold or self.press}"


class ReadingSource(models.TextChoices):
    """How a reading came in."""

    TYPED = "typed", _("typed")
    FILE = "file", _("from a file")
    DEVICE = "device", _("from a device")
    PAPER = "paper", _("from paper")
    CORRECTED = "corrected", _("corrected")
    ESTIMATED = "estimated", _("estimated")


class Reading(Fact):
    """One raw value from a counter. Its number is the order of arrival."""

    Source = ReadingSource
    counter = models.ForeignKey(Counter, models.PROTECT, related_name="readings", db_index=False)
    at = models.DateTimeField()
    value = models.PositiveBigIntegerField()
    source = models.CharField(max_length=10, choices=Source)
    person = models.ForeignKey(Person, models.PROTECT, related_name="+", db_index=False)
    hand_in = models.ForeignKey(
        HandIn, models.PROTECT, null=True, related_name="readings", db_index=False
    )
    batch_id = models.BigIntegerField(null=True)
    photo = models.ForeignKey(File, models.PROTECT, null=True, related_name="+", db_index=False)
    note = models.CharField(max_length=200, blank=True)
    raw_at = models.DateTimeField(null=True)
    written_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["counter", "at", "value"], name="counters_reading_once"
            ),
            models.CheckConstraint(
                condition=models.Q(value__gte=0), name="counters_reading_not_negative"
            ),
            one_of("source", ReadingSource),
        ]
        indexes = [
            # a hand-in is written after its readings: SQLite then looks for the rows that name it
            models.Index(
                fields=["hand_in"],
                condition=models.Q(hand_in__isnull=False),
                name="counters_reading_hand_in",
            )
        ]

    def __str__(self) -> str:
        return f"{self.counter} {self.value} at {self.at}"


class ReadingDecisionKind(models.TextChoices):
    """What a lead may decide about a reading."""

    ACCEPT = "accept", _("accepted as it is")
    SET_ASIDE = "set_aside", _("set aside")
    RESTART = "restart", _("the counter was reset or replaced here")
    TURNS = "turns", _("full turns of the counter")
    JUDGE_ANEW = "judge_anew", _("brought in again, and judged anew")


class ReadingDecision(Fact):
    """What a lead decided about a reading.

    `batch_id` is the import that was taken back, or brought the reading again, where the decision
    is about all that a file brought.
    """

    Kind = ReadingDecisionKind
    reading = models.ForeignKey(Reading, models.PROTECT, related_name="decisions")
    kind = models.CharField(max_length=10, choices=Kind)
    turns = models.PositiveSmallIntegerField(null=True)
    replaced_by = models.ForeignKey(Reading, models.PROTECT, null=True, related_name="replaces")
    reason = models.CharField(max_length=200)
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    entry = models.ForeignKey(Entry, models.PROTECT, null=True, related_name="+")
    batch_id = models.BigIntegerField(null=True)
    after_reading = models.BigIntegerField()
    written_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]
        indexes = [
            models.Index(
                fields=["batch_id"],
                condition=models.Q(batch_id__isnull=False),
                name="counters_decision_batch",
            )
        ]
        constraints = [
            one_of("kind", ReadingDecisionKind),
            models.CheckConstraint(
                condition=~models.Q(kind="turns") | models.Q(turns__isnull=False),
                name="counters_decision_turns",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.reading}: {self.kind}"


class DryCycles(Fact):
    """Cycles without plastic that somebody or a feed reported."""

    mold = models.ForeignKey(Mold, models.PROTECT, related_name="dry_cycles")
    from_at = models.DateTimeField()
    to_at = models.DateTimeField()
    cycles = models.PositiveIntegerField()
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    entry = models.ForeignKey(Entry, models.PROTECT, null=True, related_name="+")
    written_at = models.DateTimeField()

    class Meta:
        verbose_name_plural = "dry cycles"
        constraints = [
            models.CheckConstraint(
                condition=models.Q(to_at__gte=models.F("from_at")), name="counters_dry_order"
            )
        ]

    def __str__(self) -> str:
        return f"{self.mold}: {self.cycles} dry"


class CountPreferenceSource(models.TextChoices):
    """Which counter counts."""

    MOLD = "mold", _("the mold's own counter")
    PRESS = "press", _("the press's counter")


class CountPreference(Fact):
    """A lead decided which counter counts for a mold over a span."""

    Source = CountPreferenceSource
    mold = models.ForeignKey(Mold, models.PROTECT, related_name="count_preferences")
    from_at = models.DateTimeField()
    to_at = models.DateTimeField(null=True)
    source = models.CharField(max_length=5, choices=Source)
    reason = models.CharField(max_length=200)
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    entry = models.ForeignKey(Entry, models.PROTECT, null=True, related_name="+")
    after_reading = models.BigIntegerField()
    written_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(to_at__isnull=True) | models.Q(to_at__gt=models.F("from_at")),
                name="counters_preference_order",
            ),
            one_of("source", CountPreferenceSource),
        ]

    def __str__(self) -> str:
        return f"{self.mold}: {self.source} counts from {self.from_at}"


class Unassigned(Fact):
    """A value that came for a counter or mold that is not ours: assign it or leave it."""

    subject = models.CharField(max_length=120)
    at = models.DateTimeField(null=True)
    value = models.CharField(max_length=60)
    source = models.CharField(max_length=10, choices=Reading.Source)
    batch_id = models.BigIntegerField(null=True)
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    written_at = models.DateTimeField()

    class Meta:
        verbose_name_plural = "unassigned"

    def __str__(self) -> str:
        return f"{self.subject}: {self.value}"


class Verdict(models.Model):
    """Derived: what became of a reading. One row a reading; see core.counting for the numbers."""

    reading = models.OneToOneField(
        Reading, models.DO_NOTHING, primary_key=True, db_constraint=False, related_name="verdict"
    )
    counter = models.ForeignKey(
        Counter, models.DO_NOTHING, db_constraint=False, db_index=False, related_name="+"
    )
    state = models.PositiveSmallIntegerField()
    note = models.PositiveSmallIntegerField(default=0)
    reason = models.CharField(max_length=20, blank=True)
    cycles = models.BigIntegerField(default=0)
    counter_total = models.BigIntegerField(null=True)
    detail = models.JSONField(null=True)

    class Meta:
        indexes = [
            models.Index(
                fields=["counter"],
                condition=models.Q(state=State.HELD),
                name="counters_verdict_held",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.reading_id}: {State(self.state).name.lower()}"


class CounterTotal(models.Model):
    """Derived: where a counter's running total stands, so that a new reading needs no history."""

    counter = models.OneToOneField(
        Counter, models.DO_NOTHING, primary_key=True, db_constraint=False, related_name="total"
    )
    newest_at = models.DateTimeField(null=True)
    newest_value = models.BigIntegerField(null=True)
    newest_total = models.BigIntegerField(null=True)
    last_reading = models.BigIntegerField(default=0)
    is_resumable = models.BooleanField(default=False)
    fitted_to_at = models.DateTimeField(null=True)
    open_held = models.JSONField(default=list)
    notices = models.JSONField(default=list)

    def __str__(self) -> str:
        return f"{self.counter_id}: {self.newest_total}"


class LifeSegment(models.Model):
    """Derived: from one instant to another a mold's count follows one counter's total."""

    mold = models.ForeignKey(
        Mold, models.DO_NOTHING, db_constraint=False, related_name="life_segments"
    )
    from_at = models.DateTimeField()
    to_at = models.DateTimeField(null=True)
    counter = models.ForeignKey(
        Counter, models.DO_NOTHING, null=True, db_constraint=False, related_name="+"
    )
    from_counter_total = models.BigIntegerField()
    to_counter_total = models.BigIntegerField(null=True)
    cycles_before = models.BigIntegerField()
    is_press = models.BooleanField(default=False)
    is_estimated = models.BooleanField(default=False)
    is_unsure = models.BooleanField(default=False)

    class Meta:
        ordering = ["mold", "from_at"]
        constraints = [
            models.UniqueConstraint(fields=["mold", "from_at"], name="counters_lifesegment_once")
        ]

    def __str__(self) -> str:
        return f"{self.mold_id} from {self.from_at}"


class Life(models.Model):
    """Derived: where a mold's counts stand as of its newest accepted reading."""

    mold = models.OneToOneField(
        Mold, models.DO_NOTHING, primary_key=True, db_constraint=False, related_name="life"
    )
    cycles = models.BigIntegerField()
    shots = models.BigIntegerField()
    newest_at = models.DateTimeField(null=True)
    newest_held_at = models.DateTimeField(null=True)
    held_count = models.PositiveIntegerField(default=0)
    has_dry_cycles = models.BooleanField(default=False)
    is_estimated = models.BooleanField(default=False)
    is_unsure = models.BooleanField(default=False)
    rate_per_hour = models.FloatField(null=True)
    unsure_at = models.DateTimeField(null=True)
    unsure_why = models.CharField(max_length=16, blank=True)
    notices = models.JSONField(default=list)
    # the newest knots of the count, and what was asked of older ones before: so that a new
    # reading moves every standing without reading the history again
    tail = models.JSONField(default=dict)
    memo = models.JSONField(default=dict)

    class Meta:
        indexes = [
            models.Index(
                fields=["newest_held_at"],
                condition=models.Q(held_count__gt=0),
                name="counters_life_held",
            )
        ]

    def __str__(self) -> str:
        return f"{self.mold_id}: {self.cycles}"
