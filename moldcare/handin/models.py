"""What was handed in: the client's UUID makes every write happen once."""

from django.db import models

from moldcare.facts import Fact
from moldcare.plant.models import Person


class HandIn(Fact):
    """One write that a client sent, and the answer that it was given."""

    id = models.UUIDField(primary_key=True)
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    act = models.CharField(max_length=60)
    body_hash = models.CharField(max_length=64)
    answer = models.JSONField()
    written_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.act} {self.id}"
