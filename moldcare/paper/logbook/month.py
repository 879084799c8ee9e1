"""What a month of the logbook prints, as plain data."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, tzinfo
from decimal import Decimal
from typing import Self

from moldcare.core.chain import ChainHead


@dataclass(frozen=True, kw_only=True, slots=True)
class FactLine:
    """One figure of an entry with its name and unit."""

    label: str
    value: str | int | Decimal | None
    unit: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class PhotoLine:
    """A photo of an entry: by its name and the SHA-256 of its bytes."""

    name: str
    sha256: str


@dataclass(frozen=True, kw_only=True, slots=True)
class LogbookEntry:
    """One entry as it was written.

    `original` is the entry that this one corrects where that stands in an earlier month.
    """

    chain_label: str
    number: int
    kind: str
    happened_at: datetime
    written_at: datetime
    author: str
    meaning: str
    sentence: str
    hash: str
    chain_kind: str = "mold"
    facts: Sequence[FactLine] = ()
    photos: Sequence[PhotoLine] = ()
    corrects: int | None = None
    original: "LogbookEntry | None" = None

    @property
    def key(self) -> tuple[str, str, int]:
        """What names the entry in the whole plant."""
        return (self.chain_kind, self.chain_label, self.number)

    @property
    def corrected_key(self) -> tuple[str, str, int] | None:
        """What names the entry that this one corrects."""
        if self.corrects is None:
            return None
        return (self.chain_kind, self.chain_label, self.corrects)


@dataclass(frozen=True, kw_only=True, slots=True)
class SealLine:
    """The seal of the month."""

    hash: str
    sealed_by: str
    sealed_at: datetime


@dataclass(frozen=True, kw_only=True, slots=True)
class LogbookMonth:
    """One month of one chain, or of the plant with all its chains.

    `plate` is the mold's number, empty for the plant. `entries` stand in the order in which they
    were written; `heads` are those of the month's end. `zone` is the plant's: it says which day
    it was.
    """

    language: str
    zone: tzinfo
    month: date
    name: str
    plate: str = ""
    owner: str = ""
    is_customer_property: bool = False
    retention: str = ""
    check_said: str = ""
    entries: Sequence[LogbookEntry] = ()
    heads: Sequence[ChainHead] = ()
    seal: SealLine | None = None
    signatures: Sequence[str] = ()
    plant_name: str = ""
    printed_at: str = ""
    printed_by: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Placed:
    """An entry where it is printed, with the corrections of the same month under it."""

    entry: LogbookEntry
    corrections: list[LogbookEntry] = field(default_factory=list)
    is_printed_above: bool = False

    @classmethod
    def all_of(cls, entries: Sequence[LogbookEntry]) -> list[Self]:
        """Place all entries; a correction keeps a line where it was written.

        A correction of a correction stands under the first original, in the order of writing.
        """
        places: dict[tuple[str, str, int], Self] = {}
        placed: list[Self] = []
        for entry in entries:
            target = places.get(entry.corrected_key) if entry.corrected_key else None
            if target is None:
                place = cls(entry=entry)
                places[entry.key] = place
            else:
                target.corrections.append(entry)
                places[entry.key] = target
                place = cls(entry=entry, is_printed_above=True)
            placed.append(place)
        return placed
