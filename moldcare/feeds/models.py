"""What came in from files: batches, the rows kept for mending, how columns were matched."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from moldcare.care.models import CareRule, Completion
from moldcare.facts import Fact, one_of
from moldcare.logbook.models import Entry
from moldcare.molds.models import Mold
from moldcare.plant.models import Person


class ImportBatchKind(models.TextChoices):
    """What a file holds."""

    READINGS = "readings", _("counter readings")
    MOLDS = "molds", _("molds")
    RULES = "rules", _("care rules")


class ImportBatch(Fact):
    """One file that was brought in, or one row that was mended."""

    Kind = ImportBatchKind
    kind = models.CharField(max_length=10, choices=Kind)
    name = models.CharField(max_length=200)
    sha256 = models.CharField(max_length=64)
    answers = models.JSONField(default=dict)
    counts = models.JSONField(default=dict)
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    written_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]
        verbose_name_plural = "import batches"
        constraints = [one_of("kind", ImportBatchKind)]

    def __str__(self) -> str:
        return self.name


class ImportRow(Fact):
    """A row of a file that was not good enough to apply: kept as it came, for mending."""

    batch = models.ForeignKey(ImportBatch, models.PROTECT, related_name="rows")
    row = models.PositiveIntegerField()
    cells = models.JSONField()
    verdict = models.CharField(max_length=12)
    reason = models.CharField(max_length=400)

    class Meta:
        ordering = ["batch", "row"]

    def __str__(self) -> str:
        return f"{self.batch} row {self.row}"


class RowMended(Fact):
    """A kept row was mended on the screen and brought in as an import of its own."""

    row = models.ForeignKey(ImportRow, models.PROTECT, related_name="mended")
    batch = models.ForeignKey(ImportBatch, models.PROTECT, related_name="mends")

    class Meta:
        ordering = ["id"]
        verbose_name_plural = "rows mended"
        constraints = [
            models.UniqueConstraint(fields=["row", "batch"], name="feeds_rowmended_once")
        ]

    def __str__(self) -> str:
        return f"{self.row} mended"


class BroughtInAct(models.TextChoices):
    """What a row of a file brought."""

    MOLD_ADDED = "mold_added", _("a mold")
    MOLD_CHANGED = "mold_changed", _("a change of a mold")
    RULE_ADDED = "rule_added", _("a care rule")
    RULE_CHANGED = "rule_changed", _("a change of a care rule")
    LAST_DONE = "last_done", _("when a rule was last done")


class BroughtIn(Fact):
    """What one row of a file brought: what a whole import is taken back by."""

    Act = BroughtInAct
    batch = models.ForeignKey(ImportBatch, models.PROTECT, related_name="brought")
    row = models.PositiveIntegerField()
    act = models.CharField(max_length=12, choices=Act)
    mold = models.ForeignKey(Mold, models.PROTECT, related_name="+")
    rule = models.ForeignKey(CareRule, models.PROTECT, null=True, related_name="+")
    completion = models.ForeignKey(Completion, models.PROTECT, null=True, related_name="+")
    before = models.JSONField(default=dict)
    after = models.JSONField(default=dict)
    entry = models.ForeignKey(Entry, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["batch", "id"]
        verbose_name_plural = "brought in"
        constraints = [one_of("act", BroughtInAct)]

    def __str__(self) -> str:
        return f"{self.batch} row {self.row}: {self.get_act_display()}"


class ImportUndone(Fact):
    """A whole import was taken back; what has later facts on it stayed and is listed."""

    batch = models.OneToOneField(ImportBatch, models.PROTECT, related_name="undone")
    reason = models.CharField(max_length=200)
    stayed = models.JSONField(default=list)
    counts = models.JSONField(default=dict)
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    written_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]
        verbose_name_plural = "imports undone"
        constraints = [
            models.CheckConstraint(
                condition=~models.Q(reason=""), name="feeds_importundone_has_a_reason"
            )
        ]

    def __str__(self) -> str:
        return f"{self.batch} undone"


class ColumnMatch(models.Model):
    """How the columns of a file with these headings were matched last time."""

    kind = models.CharField(max_length=10, choices=ImportBatch.Kind)
    headings = models.CharField(max_length=64)
    meanings = models.JSONField()

    class Meta:
        verbose_name_plural = "column matches"
        constraints = [
            models.UniqueConstraint(fields=["kind", "headings"], name="feeds_columnmatch_once")
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.headings[:12]}"


class Upload(models.Model):
    """A file that is being looked at before it is applied; thrown away afterwards."""

    kind = models.CharField(max_length=10, choices=ImportBatch.Kind)
    name = models.CharField(max_length=200)
    sha256 = models.CharField(max_length=64)
    answers = models.JSONField(default=dict)
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    added_at = models.DateTimeField()

    def __str__(self) -> str:
        return self.name


class Token(models.Model):
    """What a feed signs in with; only its hash is kept."""

    name = models.CharField(max_length=80, unique=True)
    token_hash = models.CharField(max_length=64, unique=True)
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return self.name
