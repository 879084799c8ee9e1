"""Families of tasks, and the words that every rule uses."""

from django.db import models
from django.utils.translation import gettext_lazy as _

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
