"""What came in from files: batches, the rows kept for mending, how columns were matched."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from moldcare.care.models import CareRule, Completion
from moldcare.facts import Fact, one_of
from moldcare.logbook.models import Entry
from moldcare.molds.models import Mold, Owner
from moldcare.plant.models import Person, Spot


class ImportBatchKind(models.TextChoices):
    """What a file holds."""

    READINGS = "readings", _("counter readings")
    MOLDS = "molds", _("molds")
    RULES = "rules", _("care rules")


class ImportBatch(Fact):
    """One file that was brought in, or one row that was mended.

    The readings that it brought came after `after_reading` and up to `last_reading`.
    """

    Kind = ImportBatchKind
    kind = models.CharField(max_length=10, choices=Kind)
    name = models.CharField(max_length=200)
    sha256 = models.CharField(max_length=64)
    answers = models.JSONField(default=dict)
    counts = models.JSONField(default=dict)
    after_reading = models.BigIntegerField(null=True)
    last_reading = models.BigIntegerField(null=True)
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
    OWNER_ADDED = "owner_added", _("an owner")
    RACK_ADDED = "rack_added", _("a rack")


class BroughtIn(Fact):
    """What one row of a file brought: what a whole import is taken back by.

    An owner or a rack stands with the first row that names it.
    """

    Act = BroughtInAct
    batch = models.ForeignKey(ImportBatch, models.PROTECT, related_name="brought")
    row = models.PositiveIntegerField()
    act = models.CharField(max_length=12, choices=Act)
    mold = models.ForeignKey(Mold, models.PROTECT, null=True, related_name="+")
    owner = models.ForeignKey(Owner, models.PROTECT, null=True, related_name="+")
    spot = models.ForeignKey(Spot, models.PROTECT, null=True, related_name="+")
    rule = models.ForeignKey(CareRule, models.PROTECT, null=True, related_name="+")
    completion = models.ForeignKey(Completion, models.PROTECT, null=True, related_name="+")
    before = models.JSONField(default=dict)
    after = models.JSONField(default=dict)
    entry = models.ForeignKey(Entry, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["batch", "id"]
        verbose_name_plural = "brought in"
        constraints = [
            one_of("act", BroughtInAct),
            models.CheckConstraint(
                condition=models.Q(mold__isnull=False, owner__isnull=True, spot__isnull=True)
                | models.Q(mold__isnull=True, owner__isnull=False, spot__isnull=True)
                | models.Q(mold__isnull=True, owner__isnull=True, spot__isnull=False),
                name="feeds_broughtin_one_thing",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.batch} row {self.row}: {self.get_act_display()}"


class ImportUndone(Fact):
    """A whole import was taken back; what has later facts on it stayed and is listed.

    `entries` are those that say so: they are no later facts of anything.
    """

    batch = models.OneToOneField(ImportBatch, models.PROTECT, related_name="undone")
    reason = models.CharField(max_length=200)
    stayed = models.JSONField(default=list)
    entries = models.JSONField(default=list)
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


class UploadLook(models.Model):
    """Derived: what a file came to when it was looked at; its rows are `UploadRow`.

    `refused` is why it cannot be read at all; `asked` what the file leaves open and how its columns
    are read; `verdicts_hash` is over all verdicts, so that it shows when one is another by now.
    """

    upload = models.OneToOneField(
        Upload, models.DO_NOTHING, primary_key=True, db_constraint=False, related_name="look"
    )
    refused = models.TextField(blank=True)
    asked = models.JSONField(default=dict)
    counts = models.JSONField(default=dict)
    verdicts_hash = models.CharField(max_length=64, blank=True)
    looked_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.upload_id} looked at"


class UploadRowNeeds(models.TextChoices):
    """What a row needs before it is brought in."""

    HAND = "hand", _("to mend")
    CHOICE = "choice", _("different from what is here")
    NOTHING = "nothing", _("good")


class UploadRow(models.Model):
    """Derived: the verdict on one row of a file that is being looked at, as it was then."""

    Needs = UploadRowNeeds
    upload = models.ForeignKey(
        Upload, models.DO_NOTHING, db_constraint=False, db_index=False, related_name="rows"
    )
    place = models.PositiveIntegerField()
    needs = models.CharField(max_length=8, choices=UploadRowNeeds)
    verdict = models.JSONField()

    class Meta:
        ordering = ["upload", "place"]
        constraints = [
            one_of("needs", UploadRowNeeds),
            models.UniqueConstraint(fields=["upload", "place"], name="feeds_uploadrow_once"),
        ]
        indexes = [models.Index(fields=["upload", "needs", "place"], name="feeds_uploadrow_needs")]

    def __str__(self) -> str:
        return f"{self.upload_id} row {self.place}"


class Token(models.Model):
    """What a feed signs in with; only its hash is kept."""

    name = models.CharField(max_length=80, unique=True)
    token_hash = models.CharField(max_length=64, unique=True)
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return self.name
