"""The list of the logbook: which entries, the newest first, a page at a time."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from django.core.paginator import Page, Paginator
from django.db.models import QuerySet
from django.utils import timezone

from moldcare.care.models import Family
from moldcare.logbook.models import Chain, Entry
from moldcare.logbook.queries import (
    CORRECTION_ENTRY,
    TAKEN_BACK_ENTRY,
    chain_labelled,
    corrections_of,
    entries_listed,
)
from moldcare.pages.logbook.words import kind_words
from moldcare.plant.models import Person

ENTRIES_A_PAGE = 40
LONGEST_QUESTION = 120
LARGEST_KEY = 2**53
# marks a family among the kinds
FAMILY = "family:"


@dataclass(frozen=True, kw_only=True, slots=True)
class Wanted:
    """What somebody looks for; anything that is not known is left out."""

    mold: str = ""
    month: date | None = None
    kind: str = ""
    person: int | None = None
    text: str = ""

    @property
    def month_text(self) -> str:
        """The month as its field holds it."""
        return f"{self.month:%Y-%m}" if self.month else ""

    @property
    def query(self) -> str:
        """The same as parameters of an address, without the page."""
        named = {
            "mold": self.mold,
            "month": self.month_text,
            "kind": self.kind,
            "person": str(self.person or ""),
            "q": self.text,
        }
        return urlencode({name: value for name, value in named.items() if value})


@dataclass(frozen=True, kw_only=True, slots=True)
class ListedEntry:
    """An entry in the list, with what it corrects and what corrects it."""

    entry: Entry
    original: Entry | None
    by: int | None


@dataclass(frozen=True, kw_only=True, slots=True)
class Day:
    """The entries of one day, under its head."""

    on: date
    entries: Sequence[ListedEntry]


def month_of(text: str) -> date | None:
    """Return the month that a text as 2026-11 names; None where it is none."""
    try:
        month = date.fromisoformat(f"{text.strip()}-01")
    except ValueError:
        return None
    return month if 1950 <= month.year <= 2199 else None


def wanted(asked: Mapping[str, str], *, kinds: Sequence[str]) -> Wanted:
    """Return what the parameters of an address ask for."""
    person = asked.get("person", "")
    return Wanted(
        mold=asked.get("mold", "").replace("\0", "").strip()[:60],
        month=month_of(asked.get("month", "")),
        kind=asked.get("kind", "") if asked.get("kind", "") in kinds else "",
        person=int(person)
        if person.isascii() and person.isdigit() and int(person) < LARGEST_KEY
        else None,
        text=asked.get("q", "").replace("\0", "").strip()[:LONGEST_QUESTION],
    )


def kind_choices(kinds: Sequence[str]) -> list[tuple[str, str]]:
    """Return kinds with their words, by their words."""
    return sorted(((kind, kind_words(kind)) for kind in kinds), key=lambda pair: pair[1])


def family_choices() -> list[tuple[str, str]]:
    """Return the families as kinds of work that the list can be narrowed to."""
    return [(f"{FAMILY}{family.key}", family.name) for family in Family.objects.all()]


def people_choices() -> list[Person]:
    """Return everybody, by name: who left has entries still."""
    return list(Person.objects.exclude(role=Person.Role.FEED).order_by("name", "id"))


def logbook_page(ask: Wanted, *, number: str, zone: ZoneInfo) -> tuple[Page[Entry], list[Day]]:
    """Return a page of the list by days, the newest first."""
    page = Paginator(_entries(ask, zone=zone), ENTRIES_A_PAGE).get_page(number)
    rows = list(page)
    corrected_by = corrections_of(rows)
    days: dict[date, list[ListedEntry]] = {}
    for row in rows:
        on = timezone.localtime(row.written_at).date()
        shown = ListedEntry(
            entry=row,
            original=row.corrects if row.kind in (CORRECTION_ENTRY, TAKEN_BACK_ENTRY) else None,
            by=corrected_by.get(row.pk),
        )
        days.setdefault(on, []).append(shown)
    return page, [Day(on=on, entries=entries) for on, entries in days.items()]


def _entries(ask: Wanted, *, zone: ZoneInfo) -> QuerySet[Entry]:
    is_family = ask.kind.startswith(FAMILY)
    return entries_listed(
        label=ask.mold,
        month=ask.month,
        zone=zone,
        kind="" if is_family else ask.kind,
        family=ask.kind.removeprefix(FAMILY) if is_family else "",
        author=ask.person,
        text=ask.text,
    )


def chain_of(ask: Wanted) -> Chain | None:
    """Return the chain of the mold that is asked for, if it is one mold's."""
    return chain_labelled(ask.mold) if ask.mold else None
