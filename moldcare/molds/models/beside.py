"""What molds depend on and what steps use up."""

import unicodedata

from django.db import models
from django.utils.translation import gettext_lazy as _

from moldcare.logbook.models import Chain
from moldcare.molds.models.mold import Mold
from moldcare.molds.models.names import name_key


class Auxiliary(models.Model):
    """What molds depend on: a temperature controller, a manifold, a bath, lifting gear, a rack."""

    number = models.CharField(_("number"), max_length=40)
    number_key = models.CharField(max_length=80, editable=False)
    name = models.CharField(_("name"), max_length=120)
    kind = models.CharField(_("kind"), max_length=60)
    chain = models.OneToOneField(Chain, models.PROTECT, related_name="auxiliary", editable=False)
    entered_at = models.DateTimeField(editable=False)
    withdrawn_at = models.DateTimeField(null=True, editable=False)

    class Meta:
        ordering = ["number"]
        verbose_name_plural = "auxiliaries"
        constraints = [
            models.UniqueConstraint(
                fields=["number_key"],
                condition=models.Q(withdrawn_at__isnull=True),
                name="molds_auxiliary_number_once",
            )
        ]

    def __str__(self) -> str:
        return self.number

    def save(self, *args: object, **kwargs: object) -> None:
        """Keep the key that follows from the number."""
        self.number = unicodedata.normalize("NFC", self.number.strip())
        self.number_key = name_key(self.number)
        super().save(*args, **kwargs)  # type: ignore[arg-type]


class Supply(models.Model):
    """Grease, cleaner, O-rings, a spare insert: what steps use up."""

    number = models.CharField(_("number"), max_length=40, unique=True)
    name = models.CharField(_("name"), max_length=120)
    unit = models.CharField(_("unit"), max_length=20, default="pieces")
    minimum = models.DecimalField(
        _("minimum on the shelf"), max_digits=10, decimal_places=2, default=0
    )
    place = models.CharField(_("place on the shelf"), max_length=60, blank=True)
    molds = models.ManyToManyField(Mold, blank=True, related_name="supplies")
    withdrawn_at = models.DateTimeField(null=True, editable=False)

    class Meta:
        ordering = ["number"]
        verbose_name_plural = "supplies"
        constraints = [
            models.CheckConstraint(
                condition=models.Q(minimum__gte=0), name="molds_supply_minimum_positive"
            )
        ]

    def __str__(self) -> str:
        return f"{self.number} {self.name}"
