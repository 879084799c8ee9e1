"""Counter readings that are taken when a mold is set or pulled, in the same form."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import TypeVar

from django.db import transaction
from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing
from moldcare.acts.errors import DoesNotFit
from moldcare.acts.readings import ReadingAnswer, ReadingEntry, record_readings
from moldcare.core.counting.entry import WrittenCount
from moldcare.counters.models import Counter, CounterTotal, Reading
from moldcare.counters.queries import counters_on_now
from moldcare.molds.models import Mold
from moldcare.pages.acting import beside
from moldcare.pages.words import count_words, moment_words
from moldcare.plant.models import Spot

Answer = TypeVar("Answer")


@dataclass(frozen=True, kw_only=True, slots=True)
class OnNow:
    """The counters on a mold and on the press that it is in or comes to."""

    own: Counter | None
    press: Counter | None


def counters_here(mold: Mold, *, press: Spot | None) -> OnNow:
    """Return the counters that sit on a mold and on a press now."""
    on = counters_on_now(molds=[mold.pk], presses=[press.pk] if press else [])
    own, of_press = on["mold"].get(mold.pk), on["press"].get(press.pk) if press else None
    rows = Counter.objects.in_bulk([pk for pk in (own, of_press) if pk is not None])
    return OnNow(own=rows.get(own) if own else None, press=rows.get(of_press) if of_press else None)


def last_value_words(counter: Counter, *, now: datetime) -> str:
    """Return what a counter showed at its newest accepted reading."""
    total = CounterTotal.objects.filter(pk=counter.pk).first()
    if total is None or total.newest_at is None or total.newest_value is None:
        return _("Counter %(counter)s, never read.") % {"counter": counter.label}
    return _("Counter %(counter)s showed %(value)s, %(when)s.") % {
        "counter": counter.label,
        "value": count_words(total.newest_value),
        "when": moment_words(total.newest_at, now=now),
    }


def reading_entries(
    typed: Iterable[tuple[Counter | None, WrittenCount | None]], *, at: datetime
) -> list[ReadingEntry]:
    """Return what was typed as readings of an instant.

    Raises
    ------
    DoesNotFit
        If a value was typed for a press that has no counter.
    """
    entries = []
    for counter, count in typed:
        if count is None:
            continue
        if counter is None:
            raise DoesNotFit(
                _("That press has no counter of its own. Leave its reading empty, or add one.")
            )
        source = Reading.Source.ESTIMATED if count.is_estimated else Reading.Source.TYPED
        entries.append(ReadingEntry(counter=counter, at=at, value=count.value, source=source))
    return entries


def with_readings(
    done: Doing, entries: list[ReadingEntry], *, act: Callable[[], Answer]
) -> tuple[Answer, list[ReadingAnswer]]:
    """Write readings and do an act: both or neither."""
    with transaction.atomic():
        answers = record_readings(beside(done, name="readings"), entries) if entries else []
        return act(), answers


def held_words(answers: Iterable[ReadingAnswer]) -> list[str]:
    """Return a sentence for each reading that is held."""
    return [
        _("The reading %(value)s is held: it does not fit what is known. A lead decides about it.")
        % {"value": count_words(answer.value)}
        for answer in answers
        if answer.verdict == "held"
    ]
