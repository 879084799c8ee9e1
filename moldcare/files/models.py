"""Photos and documents, named by the SHA-256 of their bytes."""

from django.db import models

from moldcare.facts import Fact, one_of
from moldcare.plant.models import Person


class FileKind(models.TextChoices):
    """The kinds of files that are kept, judged by content."""

    JPEG = "image/jpeg", "JPEG"
    PNG = "image/png", "PNG"
    WEBP = "image/webp", "WebP"
    PDF = "application/pdf", "PDF"


class File(Fact):
    """A photo or document whose bytes lie in the private store under their SHA-256."""

    Kind = FileKind
    sha256 = models.CharField(max_length=64, unique=True)
    kind = models.CharField(max_length=20, choices=Kind)
    size_bytes = models.PositiveIntegerField()
    width_px = models.PositiveIntegerField(null=True)
    height_px = models.PositiveIntegerField(null=True)
    name = models.CharField(max_length=200, blank=True)
    taken_at = models.DateTimeField(null=True)
    added_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    written_at = models.DateTimeField()

    class Meta:
        constraints = [one_of("kind", FileKind)]

    def __str__(self) -> str:
        return self.name or self.sha256[:12]
