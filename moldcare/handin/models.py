"""What was handed in: the client's UUID makes every write happen once. And the tablets."""

from django.db import models

from moldcare.facts import Fact
from moldcare.plant.models import Person


class HandIn(Fact):
    """One write that a client sent, and the answer that it was given.

    What waited on a tablet keeps what the tablet said of itself: `worked_at` by its own clock as
    it stood, and the offset that was measured and added to it.
    """

    id = models.UUIDField(primary_key=True)
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    act = models.CharField(max_length=60)
    body_hash = models.CharField(max_length=64)
    answer = models.JSONField()
    worked_at = models.DateTimeField(null=True)
    offset_ms = models.BigIntegerField(null=True)
    device = models.CharField(max_length=64, blank=True)
    content_hash = models.CharField(max_length=64, blank=True)
    written_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(worked_at__isnull=True, offset_ms__isnull=True)
                | models.Q(worked_at__isnull=False, offset_ms__isnull=False),
                name="handin_handin_clock_whole",
            )
        ]

    def __str__(self) -> str:
        return f"{self.act} {self.id}"


class Tablet(models.Model):
    """A device that people hand in from, as it was at its last contact.

    `store` names what the browser keeps entries in. A new one, while entries were known to wait in
    the last, means that the browser threw them away: they are counted in `lost` until a lead has
    seen to it.
    """

    device = models.CharField(max_length=64, unique=True)
    last_person = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    last_contact_at = models.DateTimeField()
    waiting = models.PositiveIntegerField(default=0)
    oldest_at = models.DateTimeField(null=True)
    offset_ms = models.BigIntegerField(default=0)
    is_kept = models.BooleanField(null=True)
    store = models.CharField(max_length=36, blank=True)
    lost = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(condition=~models.Q(device=""), name="handin_tablet_device")
        ]

    def __str__(self) -> str:
        return f"Tablet {self.pk}"


class SealingKey(models.Model):
    """A key pair: tablets seal PINs to its public part; the private part is stored encrypted."""

    public = models.TextField()
    private_encrypted = models.TextField()
    made_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"Sealing key {self.pk}"


class StuckEntry(Fact):
    """What could not be handed in from a tablet, given to a lead with all that it holds.

    `fields` are names and values as they were typed, without secrets; `photos` the SHA-256 of the
    pictures that came along.
    """

    id = models.UUIDField(primary_key=True)
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    author_said = models.CharField(max_length=120)
    device = models.CharField(max_length=64, blank=True)
    address = models.CharField(max_length=300)
    said = models.CharField(max_length=200)
    why = models.CharField(max_length=1000)
    fields = models.JSONField()
    photos = models.JSONField()
    worked_at = models.DateTimeField()
    written_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.said} ({self.author_said})"


class StuckSettled(Fact):
    """A lead saw to what was stuck: written down otherwise, or not needed, with a word why."""

    stuck = models.OneToOneField(StuckEntry, models.PROTECT, related_name="settled")
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    note = models.CharField(max_length=400)
    written_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~models.Q(note=""), name="handin_stucksettled_note")
        ]

    def __str__(self) -> str:
        return f"{self.stuck}: {self.note}"
