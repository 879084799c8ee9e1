"""Lists of what counters showed, and of the readings that wait for a decision."""

from collections.abc import Iterator

from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from moldcare.core.counting.values import HoldReason, State
from moldcare.counters.models import Reading, ReadingSource
from moldcare.counters.queries import fittings_now, held_readings
from moldcare.feeds.export.shapes import (
    ROWS_AT_ONCE,
    Asked,
    Column,
    ListShape,
    Queried,
    Row,
    labels,
)

_source_words = labels(ReadingSource)


def _verdict_words(state: int) -> str:
    return {
        State.ACCEPTED: gettext("accepted"),
        State.HELD: gettext("held"),
        State.SET_ASIDE: gettext("set aside"),
    }[State(state)]


def _held_words(reason: str) -> str:
    return {
        HoldReason.NONE: "",
        HoldReason.GOES_BACKWARDS: gettext("goes backwards"),
        HoldReason.TOO_FAST: gettext("more than the time allows"),
        HoldReason.CONTRADICTS: gettext("contradicts another reading"),
        HoldReason.DOES_NOT_FIT: gettext("does not fit"),
        HoldReason.CLOCK_IS_OFF: gettext("from a clock that is off"),
        HoldReason.NOT_FITTED: gettext("read while the counter sat on nothing"),
        HoldReason.OUT_OF_RANGE: gettext("more than the counter can show"),
    }.get(HoldReason(reason), reason)


def _held(_asked: Asked) -> Iterator[Row]:
    sits = {fitting.counter_id: fitting for fitting in fittings_now()}
    for verdict in held_readings().iterator(ROWS_AT_ONCE):
        reading = verdict.reading
        fitting = sits.get(reading.counter_id)
        yield (
            fitting.mold.number if fitting and fitting.mold else None,
            fitting.press.number if fitting and fitting.press else None,
            reading.counter.label,
            reading.at,
            reading.value,
            _held_words(verdict.reason),
            _source_words(reading.source),
            reading.person.name,
            reading.note,
            reading.written_at,
            reading.pk,
        )


_READINGS = Queried(
    query=lambda asked: Reading.objects.filter(asked.within("at")).order_by("id"),
    columns=(
        Column(heading=_("Counter"), path="counter__label"),
        Column(heading=_("Date and time"), path="at"),
        Column(heading=_("Reading"), path="value"),
        Column(heading=_("How it came"), path="source", words=_source_words),
        Column(heading=_("Read by"), path="person__name"),
        Column(heading=_("Note"), path="note"),
        Column(heading=_("Verdict"), path="verdict__state", words=_verdict_words),
        Column(heading=_("Why held"), path="verdict__reason", words=_held_words),
        Column(heading=_("Added to the one before"), path="verdict__cycles"),
        Column(heading=_("Counted in all"), path="verdict__counter_total"),
        Column(heading=_("Written"), path="written_at"),
        Column(heading=_("Arrival"), path="id"),
    ),
)

READING_LISTS = (
    ListShape(
        name="readings",
        title=_("Readings"),
        about=_("What counters showed, by when it was read, and what became of it."),
        headings=_READINGS.headings,
        rows=_READINGS,
        is_long=True,
    ),
    ListShape(
        name="held",
        title=_("Held readings"),
        about=_("Readings that wait until somebody says what they mean."),
        headings=(
            _("Mold"),
            _("Press"),
            _("Counter"),
            _("Date and time"),
            _("Reading"),
            _("Why held"),
            _("How it came"),
            _("Read by"),
            _("Note"),
            _("Written"),
            _("Arrival"),
        ),
        rows=_held,
    ),
)
