"""What an import came to, in words."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _

from moldcare.feeds.models import ImportBatch
from moldcare.feeds.tables import Verdict
from moldcare.handin.models import HandIn
from moldcare.pages.access import hand_in_of
from moldcare.pages.words import count_words
from moldcare.plant.models import Person

#: The acts that bring a file in.
ACTS = ("import_readings", "import_molds", "import_rules")


@dataclass(frozen=True, kw_only=True, slots=True)
class BatchLine:
    """An import in the list of them."""

    batch: ImportBatch
    said: str
    is_undone: bool


def verdict_lines(counts: Mapping[str, int]) -> list[tuple[str, int]]:
    """Return the verdicts that were met, in words, with how many there are."""
    return [(each.words, counts[each.value]) for each in Verdict if counts.get(each.value)]


def batch_line(batch: ImportBatch) -> BatchLine:
    """Return an import as the list shows it."""
    said = ", ".join(
        f"{count_words(number)} {words}" for words, number in verdict_lines(batch.counts)
    )
    return BatchLine(batch=batch, said=said or _("nothing in it"), is_undone=is_undone(batch))


def is_undone(batch: ImportBatch) -> bool:
    """Tell whether an import was taken back."""
    return getattr(batch, "undone", None) is not None


@dataclass(frozen=True, kw_only=True, slots=True)
class UndoneLines:
    """What became of an import that was taken back."""

    who: str
    at: datetime
    reason: str
    counts: list[tuple[str, int]]
    stayed: list[dict[str, Any]]


def undone_lines(batch: ImportBatch) -> UndoneLines | None:
    """Return how an import was taken back, None while it stands."""
    undone = getattr(batch, "undone", None)
    if undone is None:
        return None
    words = {
        "molds_withdrawn": _("molds withdrawn"),
        "molds_put_back": _("molds put back as they were"),
        "rules_withdrawn": _("rules withdrawn"),
        "rules_put_back": _("rules put back as they were"),
        "completions_taken_back": _("last times taken back"),
        "owners_withdrawn": _("owners withdrawn"),
        "racks_out_of_use": _("racks out of use"),
        "readings_set_aside": _("readings set aside"),
    }
    return UndoneLines(
        who=undone.person.name,
        at=undone.written_at,
        reason=undone.reason,
        counts=[(text, undone.counts[key]) for key, text in words.items() if key in undone.counts],
        stayed=undone.stayed,
    )


def given_before(hand_in: str, *, person: Person) -> int | None:
    """Return the import that a form with this number led to, when it was sent before."""
    uuid = hand_in_of(hand_in)
    if uuid is None:
        return None
    row = HandIn.objects.filter(pk=uuid, person=person, act__in=ACTS).first()
    return None if row is None else int(row.answer["batch_id"])
