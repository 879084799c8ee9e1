"""Chains of entries, and the seals that close a month."""

from datetime import timedelta

from django.db import models
from django.utils.translation import gettext_lazy as _

from moldcare.facts import Fact, one_of
from moldcare.plant.models import Person

# See also Plant.clock_error_s: the database's own limit is the widest that a plant may choose.
WIDEST_CLOCK_ERROR = timedelta(hours=1)


class ChainKind(models.TextChoices):
    """What a chain is about."""

    MOLD = "mold", _("mold")
    AUXILIARY = "auxiliary", _("auxiliary")
    PLANT = "plant", _("plant")


class Chain(models.Model):
    """An unbroken, numbered series of entries: one a mold, one an auxiliary, one for the plant."""

    Kind = ChainKind
    kind = models.CharField(max_length=10, choices=Kind)
    label = models.CharField(max_length=60)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["kind"], condition=models.Q(kind="plant"), name="logbook_chain_one_plant"
            ),
            models.UniqueConstraint(fields=["kind", "label"], name="logbook_chain_once"),
            one_of("kind", ChainKind),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.label}"


class EntryMeaning(models.TextChoices):
    """What a signature means."""

    NONE = "", _("not signed")
    DONE = "done", _("done")
    CHECKED = "checked", _("checked")
    ACCEPTED = "accepted", _("accepted")


class Entry(Fact):
    """One logbook line."""

    Meaning = EntryMeaning
    chain = models.ForeignKey(Chain, models.PROTECT, related_name="entries")
    number = models.PositiveIntegerField()
    form = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=40)
    happened_at = models.DateTimeField()
    written_at = models.DateTimeField()
    author = models.ForeignKey(Person, models.PROTECT, related_name="entries")
    author_name = models.CharField(max_length=120)
    meaning = models.CharField(max_length=10, choices=Meaning, blank=True)
    sentence = models.TextField()
    facts = models.TextField()
    corrects = models.ForeignKey("self", models.PROTECT, null=True, related_name="corrections")
    previous_hash = models.CharField(max_length=64)
    hash = models.CharField(max_length=64, unique=True)
    canonical = models.TextField()

    class Meta:
        ordering = ["chain", "number"]
        constraints = [
            models.UniqueConstraint(fields=["chain", "number"], name="logbook_entry_number"),
            models.UniqueConstraint(
                fields=["chain", "previous_hash"], name="logbook_entry_no_fork"
            ),
            models.CheckConstraint(
                condition=models.Q(happened_at__lte=models.F("written_at") + WIDEST_CLOCK_ERROR),
                name="logbook_entry_not_before_it_happened",
            ),
            models.CheckConstraint(condition=models.Q(number__gte=1), name="logbook_entry_from_1"),
            one_of("meaning", EntryMeaning),
        ]
        indexes = [
            models.Index(fields=["written_at"], name="logbook_entry_written"),
            models.Index(fields=["author", "written_at"], name="logbook_entry_author"),
        ]

    def __str__(self) -> str:
        return f"{self.chain} no. {self.number}"


class Seal(Fact):
    """Closes a month over all chains: the hash of every chain's head as of the month's end."""

    month = models.DateField(unique=True)
    heads = models.TextField()
    hash = models.CharField(max_length=64)
    sealed_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    written_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"seal of {self.month:%Y-%m}"
