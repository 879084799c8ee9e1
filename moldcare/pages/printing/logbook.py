"""A month of the logbook put together for paper."""

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from typing import Any
from zoneinfo import ZoneInfo

from django.utils import timezone, translation
from django.utils.translation import gettext as _
from django.utils.translation import pgettext

from moldcare.core.chain import ChainHead, instant_from_text, verify_chain
from moldcare.core.errors import NotWritable
from moldcare.logbook.convert import stored_entries
from moldcare.logbook.models import Chain, Entry, EntryMeaning
from moldcare.logbook.queries import entries_written_in, heads_before, month_span, seal_of
from moldcare.logbook.verify import verify_logbook
from moldcare.molds.models import Mold
from moldcare.paper import numbers
from moldcare.paper.logbook import FactLine, LogbookEntry, LogbookMonth, PhotoLine, SealLine
from moldcare.plant.models import Plant
from moldcare.plant.queries import the_plant


def logbook_month(month: date, *, mold: Mold | None = None) -> LogbookMonth:
    """Put a month of one mold's logbook, or of all chains, together.

    Parameters
    ----------
    month : date
        Any day of it. What was written in the month on the plant's clocks belongs to it.
    mold : Mold, optional
        The mold; all chains without one.

    Notes
    -----
    Nothing in it depends on when it is put together, so that the same month prints the same
    bytes: heads, and what the check says, are those of the month's end.
    """
    plant = the_plant()
    zone = ZoneInfo(plant.zone)
    first = month.replace(day=1)
    chain = mold.chain if mold is not None else None
    begins, ends = month_span(first, zone=zone)
    rows = entries_written_in(first, zone=zone, chain=chain).select_related("corrects__chain")
    heads = heads_before(ends, chain=chain)
    seal = seal_of(first)
    owner = mold.owner if mold is not None else None
    with translation.override(plant.language), timezone.override(zone):
        return LogbookMonth(
            language=plant.language,
            zone=zone,
            month=first,
            name=mold.name if mold else _("All molds, auxiliaries and the plant's own entries"),
            plate=mold.number if mold else "",
            owner=owner.name if owner else "",
            is_customer_property=bool(owner and owner.is_customer),
            retention=_kept_until(mold, ends=ends.astimezone(zone).date(), plant=plant),
            check_said=_check_words(chain, heads=heads),
            # numbers are given one after the other: the order in which entries were written
            entries=[
                _logbook_entry(row, zone=zone, plant=plant, month_begins=begins)
                for row in rows.order_by("id")
            ],
            heads=heads,
            seal=(
                SealLine(hash=seal.hash, sealed_by=seal.sealed_by.name, sealed_at=seal.written_at)
                if seal
                else None
            ),
            signatures=[_("checked, toolroom lead"), _("accepted, quality")],
            plant_name=plant.name,
        )


def _kept_until(mold: Mold | None, *, ends: date, plant: Plant) -> str:
    """Return until when the owner wants this month kept; empty where nothing was agreed."""
    years = mold.owner.retention_years if mold is not None and mold.owner else None
    if years is None:
        return ""
    # the month ends on the day before the first of the next, which is a day of every year
    last = date(min(ends.year + years, date.max.year), ends.month, 1)
    return numbers.date_text(date.fromordinal(last.toordinal() - 1), locale=plant.language)


def _check_words(chain: Chain | None, *, heads: Sequence[ChainHead]) -> str:
    """Verify what is printed, up to the heads of the month's end, and say what came out."""
    if chain is None:
        found = verify_logbook().difference
        return found or _("%(chains)d chains, whole") % {"chains": len(heads)}
    last = heads[0].number if heads else 0
    difference = verify_chain(
        stored_entries(Entry.objects.filter(chain=chain, number__lte=last).order_by("number")),
        chain_kind=chain.kind,
        chain_label=chain.label,
        heads=heads,
    )
    if difference is not None:
        return str(difference)
    if not last:
        return _("no entry yet")
    return _("whole, no. 1 to %(last)d") % {"last": last}


def _logbook_entry(
    row: Entry, *, zone: ZoneInfo, plant: Plant, month_begins: datetime | None
) -> LogbookEntry:
    """Return an entry for paper; with what it corrects where that was written before the month."""
    facts = json.loads(row.facts)
    original = None
    if row.corrects is not None and month_begins and row.corrects.written_at < month_begins:
        original = _logbook_entry(row.corrects, zone=zone, plant=plant, month_begins=None)
    return LogbookEntry(
        chain_kind=row.chain.kind,
        chain_label=row.chain.label,
        number=row.number,
        kind=row.kind.replace("_", " "),
        happened_at=row.happened_at,
        written_at=row.written_at,
        author=row.author_name,
        meaning=str(EntryMeaning(row.meaning).label) if row.meaning else "",
        sentence=row.sentence,
        hash=row.hash,
        facts=list(fact_lines(facts, zone=zone, locale=plant.language)),
        photos=list(photo_lines(facts)),
        corrects=row.corrects.number if row.corrects else None,
        original=original,
    )


# what the sentence or the margin of an entry says already, and keys that are for machines
_NOT_PRINTED = {
    "rule",
    "id",
    "order",
    "entry",
    "source",
    "sentence",
    "corrects",
    "corrected_kind",
    "family",
    "reach",
    "completes",
    "step",
    "has_dry_cycles",
    "run",
    "reading",
}
# a choice as the tables keep it: needs_work
_KEY = re.compile(r"[a-z]+(?:_[a-z]+)+")
# groups whose members are understood without the group's name
# how the entries of decided readings once spelled their instants
_INSTANT_WITH_OFFSET = re.compile(
    r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(?:\.\d+)?[+-]\d\d:\d\d", re.ASCII
)
_UNNAMED_GROUPS = {"counts", "facts"}


def fact_lines(facts: Mapping[str, Any], *, zone: ZoneInfo, locale: str) -> Iterator[FactLine]:
    """Return an entry's facts as lines with names: any entry's, whatever its kind.

    What is empty, no, or a key for machines is left out; measured values carry their unit. Of a
    correction, those facts are printed that it changes.
    """
    if "changed" in facts and isinstance(facts.get("facts"), dict):
        changed = {key: facts["facts"].get(key) for key in facts["changed"]}
        facts = {**changed, "reason": facts.get("reason")}
    for key, value in facts.items():
        if key in _NOT_PRINTED:
            continue
        yield from _lines_of(key.replace("_", " "), value=value, zone=zone, locale=locale)


def _lines_of(label: str, *, value: Any, zone: ZoneInfo, locale: str) -> Iterator[FactLine]:
    match value:
        case None | "" | False:
            return
        case True:
            yield FactLine(label=label, value=pgettext("a fact that is so", "yes"))
        case {"photo": str(), "sha256": str()}:
            return
        case {"kind": str(kind), "number": str(number), **rest} if _NOT_PRINTED.issuperset(rest):
            yield FactLine(label=label, value=f"{kind} {number}")
        case {"text": str(text), "value": str(said), "unit": str(unit)}:
            yield from _step_lines(value, text=text, said=said, unit=unit)
        case {"name": str(name), "outcome": str(outcome)}:
            yield from _task_lines(value, name=name, outcome=outcome)
        case dict():
            for key, each in value.items():
                if key not in _NOT_PRINTED:
                    said = key.replace("_", " ")
                    inner = said if label in _UNNAMED_GROUPS else f"{label}, {said}"
                    yield from _lines_of(inner, value=each, zone=zone, locale=locale)
        case list() if all(isinstance(each, str) for each in value):
            if value:
                yield FactLine(label=label, value=", ".join(value))
        case list():
            for each in value:
                if not isinstance(each, int):
                    yield from _lines_of(label, value=each, zone=zone, locale=locale)
        case str():
            said = value.replace("_", " ") if _KEY.fullmatch(value) else value
            yield FactLine(label=label, value=_instant_words(said, zone=zone, locale=locale))
        case int():
            yield FactLine(label=label, value=value)


def _task_lines(task: Mapping[str, Any], *, name: str, outcome: str) -> Iterator[FactLine]:
    said = [outcome.replace("_", " ") or ("not ticked" if task.get("covered_by") else "open")]
    if task.get("covered_by"):
        said.append("covered")
    if task.get("grade"):
        said.append(f"found {task['grade']}")
    if task.get("reason"):
        said.append(str(task["reason"]))
    yield FactLine(label=name, value="; ".join(said))
    for step in task.get("steps", ()):
        if step.get("kind") != "tick":
            yield from _step_lines(
                step, text=step["text"], said=step["value"], unit=step.get("unit", "")
            )


def _step_lines(step: Mapping[str, Any], *, text: str, said: str, unit: str) -> Iterator[FactLine]:
    value: str | Decimal = said
    if step.get("kind") == "value":
        try:
            value = Decimal(said)
        except InvalidOperation:
            value = said
    if said:
        yield FactLine(label=text, value=value, unit=unit)
    if step.get("is_within") is False:
        reason = step.get("reason") or _("measured twice")
        yield FactLine(label=_("outside its limits"), value=str(reason))


def _instant_words(text: str, *, zone: ZoneInfo, locale: str) -> str:
    """Return an instant as the plant's clocks showed it; any other text as it is."""
    try:
        at = (
            datetime.fromisoformat(text)
            if _INSTANT_WITH_OFFSET.fullmatch(text)
            else instant_from_text(text)
        )
    except (NotWritable, ValueError):
        return text
    return numbers.moment_text(at.astimezone(zone), locale=locale)


def photo_lines(value: Any) -> Iterator[PhotoLine]:
    """Return all photos that an entry's facts name, at whatever depth."""
    match value:
        case {"photo": str(name), "sha256": str(sha256)}:
            yield PhotoLine(name=name, sha256=sha256)
        case dict():
            for each in value.values():
                yield from photo_lines(each)
        case list():
            for each in value:
                yield from photo_lines(each)
