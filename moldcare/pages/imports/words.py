"""What an import came to, in words."""

from collections.abc import Mapping
from dataclasses import dataclass

from django.utils.translation import gettext as _

from moldcare.feeds.models import ImportBatch
from moldcare.feeds.tables import Verdict
from moldcare.handin.models import HandIn
from moldcare.pages.access import hand_in_of
from moldcare.pages.words import count_words
from moldcare.plant.models import Person


@dataclass(frozen=True, kw_only=True, slots=True)
class BatchLine:
    """An import in the list of them."""

    batch: ImportBatch
    said: str


def verdict_lines(counts: Mapping[str, int]) -> list[tuple[str, int]]:
    """Return the verdicts that were met, in words, with how many there are."""
    return [(each.words, counts[each.value]) for each in Verdict if counts.get(each.value)]


def batch_line(batch: ImportBatch) -> BatchLine:
    """Return an import as the list shows it."""
    said = ", ".join(
        f"{count_words(number)} {words}" for words, number in verdict_lines(batch.counts)
    )
    return BatchLine(batch=batch, said=said or _("nothing in it"))


def given_before(hand_in: str, *, person: Person) -> int | None:
    """Return the import that a form with this number led to, when it was sent before."""
    uuid = hand_in_of(hand_in)
    if uuid is None:
        return None
    row = HandIn.objects.filter(pk=uuid, person=person, act="import_readings").first()
    return None if row is None else int(row.answer["batch_id"])
