"""What the page of one entry shows."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.utils.formats import number_format
from django.utils.translation import gettext as _

from moldcare.acts.corrections import check_may_correct
from moldcare.acts.doing import Doing
from moldcare.acts.errors import NotAllowed
from moldcare.care.queries import completions_of
from moldcare.logbook.models import Chain, Entry
from moldcare.pages.acting import row_or_404
from moldcare.pages.printing import fact_lines, photo_lines
from moldcare.pages.words import count_words
from moldcare.paper.logbook import FactLine
from moldcare.plant.models import Person, Plant


@dataclass(frozen=True, kw_only=True, slots=True)
class Photo:
    """A photo that an entry names."""

    name: str
    sha256: str


@dataclass(frozen=True, kw_only=True, slots=True)
class EntryPage:
    """Everything that the page of an entry shows."""

    now: datetime
    entry: Entry
    title: str
    facts: Sequence[tuple[str, str]]
    photos: Sequence[Photo]
    original: Entry | None
    corrections: Sequence[Entry]
    may_correct: bool
    why_not: str
    may_take_back: bool


def entry_or_404(pk: int) -> Entry:
    """Return an entry with its chain and what it corrects."""
    rows = Entry.objects.select_related("chain", "corrects__chain", "author")
    return row_or_404(rows, pk, missing=_("There is no such entry."))


def chain_or_404(pk: int) -> Chain:
    """Return a chain."""
    return row_or_404(Chain.objects.all(), pk, missing=_("There is no such chain."))


def entry_page(entry: Entry, *, person: Person, plant: Plant, now: datetime) -> EntryPage:
    """Read an entry with all that it holds and all that corrects it."""
    facts = json.loads(entry.facts)
    zone, language = ZoneInfo(plant.zone), person.language or plant.language
    may_correct, why_not = _may_correct(entry, person=person, now=now)
    corrections = list(entry.corrections.select_related("chain").order_by("number"))
    return EntryPage(
        now=now,
        entry=entry,
        title=_("No. %(number)d of %(label)s")
        % {"number": entry.number, "label": entry.chain.label or _("the plant")},
        facts=[
            (line.label[:1].upper() + line.label[1:], _value_words(line))
            for line in fact_lines(facts, zone=zone, locale=language)
        ],
        photos=[Photo(name=line.name, sha256=line.sha256) for line in photo_lines(facts)],
        original=entry.corrects,
        corrections=corrections,
        may_correct=may_correct and not any(row.kind == "correction" for row in corrections),
        why_not=why_not,
        may_take_back=may_correct and bool(completions_of(entry)),
    )


def _may_correct(entry: Entry, *, person: Person, now: datetime) -> tuple[bool, str]:
    try:
        check_may_correct(Doing(person=person, now=now), entry=entry)
    except NotAllowed as error:
        return False, str(error)
    return True, ""


def _value_words(line: FactLine) -> str:
    value = line.value
    if isinstance(value, Decimal):
        decimals = max(0, -int(value.as_tuple().exponent))
        said = number_format(value, decimal_pos=decimals, use_l10n=True)
    elif isinstance(value, int):
        said = count_words(value)
    else:
        said = value or ""
    return f"{said} {line.unit}".strip()
