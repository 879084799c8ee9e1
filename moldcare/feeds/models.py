"""What came in from files: batches, the rows kept for mending, how columns were matched."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from moldcare.facts import Fact, one_of
from moldcare.plant.models import Person


class ImportBatchKind(models.TextChoices):
    """What a file holds."""

    READINGS = "readings", _("counter readings")


class ImportBatch(Fact):
    """One file that was brought in."""

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
