"""Lists of how the plant works: its shifts and rates, what people may do, what it warns of."""

from collections.abc import Iterator
from typing import Final

from django.utils.dates import WEEKDAYS
from django.utils.translation import gettext_lazy as _

from moldcare.acts.rights import Right
from moldcare.care.models import Family
from moldcare.feeds.export.shapes import Asked, Column, ListShape, Queried, Row, labels
from moldcare.plant.models import RateKind, Training
from moldcare.plant.queries import (
    cautions_in_force,
    days_that_differ,
    patterns_in_force,
    qualifications_on,
    rates_in_force,
)

_HOUR_AND_MINUTE: Final = "%H:%M"
_rate_kind = labels(RateKind)


def _shifts(_asked: Asked) -> Iterator[Row]:
    for pattern in patterns_in_force():
        slots = sorted(pattern.slots.all(), key=lambda slot: (slot.weekday, slot.starts))
        for slot in slots:
            yield (
                pattern.valid_from,
                str(WEEKDAYS[slot.weekday]),
                slot.name,
                slot.starts.strftime(_HOUR_AND_MINUTE),
                slot.ends.strftime(_HOUR_AND_MINUTE),
            )


def _days(_asked: Asked) -> Iterator[Row]:
    for day in days_that_differ():
        yield (
            day.on,
            day.shift_name,
            day.is_worked,
            day.starts.strftime(_HOUR_AND_MINUTE) if day.starts else None,
            day.ends.strftime(_HOUR_AND_MINUTE) if day.ends else None,
            day.reason,
        )


def _rates(_asked: Asked) -> Iterator[Row]:
    for rate in rates_in_force():
        yield (
            _rate_kind(rate.kind),
            rate.spot.number if rate.spot else None,
            rate.valid_from,
            rate.amount,
            rate.currency,
        )


def _qualifications(asked: Asked) -> Iterator[Row]:
    on = asked.now.astimezone(asked.calendar.zone).date()
    for row in qualifications_on(on):
        yield (
            row.person.name,
            row.subject,
            row.evidence,
            row.ends_on,
            row.ends_on is None or row.ends_on >= on,
        )


def _cautions(_asked: Asked) -> Iterator[Row]:
    families = dict(Family.objects.values_list("key", "name"))
    for line in cautions_in_force().order_by("family_key", "pk"):
        yield (families.get(line.family_key, line.family_key), line.text, line.added_at)


_TRAININGS = Queried(
    query=lambda _asked: Training.objects.order_by("on", "id"),
    columns=(
        Column(heading=_("Name"), path="person__name"),
        Column(heading=_("Date"), path="on"),
        Column(heading=_("Hours"), path="hours"),
        Column(heading=_("Subject"), path="subject"),
    ),
)

SETUP_LISTS = (
    ListShape(
        name="shifts",
        title=_("Shifts"),
        about=_("The week as it is worked, from which day on."),
        headings=(_("From"), _("Weekday"), _("Shift"), _("Begins"), _("Ends")),
        rows=_shifts,
    ),
    ListShape(
        name="days",
        title=_("Holidays and single days"),
        about=_("Days and shifts that are worked otherwise than the week says."),
        headings=(_("Date"), _("Shift"), _("Worked"), _("Begins"), _("Ends"), _("Why")),
        rows=_days,
    ),
    ListShape(
        name="cautions",
        title=_("Cautions"),
        about=_("The plant's own cautions; those that come with the program are not listed."),
        headings=(_("For work on"), _("Caution"), _("Entered")),
        rows=_cautions,
    ),
    ListShape(
        name="qualifications",
        title=_("Qualifications"),
        about=_("Who may do what, by which evidence, and until when."),
        headings=(_("Name"), _("Qualification"), _("Evidence"), _("Until"), _("Holds now")),
        rows=_qualifications,
        right=Right.RESET_PIN,
    ),
    ListShape(
        name="trainings",
        title=_("Trainings"),
        about=_("Who was trained in what, when and for how long."),
        headings=_TRAININGS.headings,
        rows=_TRAININGS,
        right=Right.RESET_PIN,
    ),
    ListShape(
        name="rates",
        title=_("Rates"),
        about=_("What an hour costs, from which day on."),
        headings=(_("An hour of"), _("Press"), _("From"), _("It costs"), _("Currency")),
        rows=_rates,
        right=Right.EDIT_RATES,
    ),
)
