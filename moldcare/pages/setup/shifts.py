"""The week's shifts and the days that differ: shown, written, taken back."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from moldcare.acts.plant import (
    add_days_off,
    add_shift_exception,
    add_shift_pattern,
    take_back_exception,
    take_back_pattern,
)
from moldcare.acts.rights import Right, may
from moldcare.core.shifts import ShiftSlot
from moldcare.pages.access import answer, calendar_of, page, person_of, plant_of
from moldcare.pages.acting import doing_again, row_or_404, sent
from moldcare.pages.setup.acting import WhyForm, act_page
from moldcare.pages.setup.shift_drawing import (
    DayLine,
    DayMark,
    WeekLine,
    day_marks,
    hour_marks,
    week_of,
    week_of_slots,
    weeks_ahead,
)
from moldcare.pages.setup.shift_forms import DayForm, HolidaysForm, PatternForm
from moldcare.pages.words import day_words
from moldcare.plant.convert import shift_calendar
from moldcare.plant.models import ShiftException, ShiftPattern
from moldcare.plant.queries import days_that_differ, pattern_on, patterns_in_force

WEEKS = 8


@dataclass(frozen=True, kw_only=True, slots=True)
class PatternLines:
    """A pattern with its week drawn, and whether no day before today was worked by it."""

    pattern: ShiftPattern
    days: list[DayLine]
    is_now: bool
    is_open: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class WeekShown:
    """A week ahead, with what differs in it."""

    line: WeekLine
    differs: list[ShiftException]

    @property
    def marks(self) -> list[DayMark]:
        """Where its days begin on its line."""
        return day_marks(self.line.begins_on)

    @property
    def ends_on(self) -> date:
        """Its last day."""
        return self.line.begins_on + timedelta(days=6)


@page()
def setup_shifts(request: HttpRequest) -> HttpResponse:
    """Show the week, the next eight weeks, and what differs later."""
    today = timezone.localdate()
    patterns = _patterns(today)
    weeks, later = _weeks(request, today=today)
    context = {
        "page_title": _("Shifts"),
        "nav_here": "setup",
        "patterns": [each for each in patterns if each.is_now or each.pattern.valid_from > today],
        "earlier": [
            each for each in patterns if not each.is_now and each.pattern.valid_from <= today
        ],
        "weeks": weeks,
        "later": later,
        "hours": hour_marks(),
        "today": today,
        "may_edit": may(person_of(request), Right.EDIT_SHIFTS),
    }
    return answer(request, "setup/shifts.html", context)


def _patterns(today: date) -> list[PatternLines]:
    """Return all patterns, newest last, each with its week; the one of today is marked."""
    rows = list(patterns_in_force())
    begun = [row.pk for row in rows if row.valid_from <= today]
    return [
        PatternLines(
            pattern=row,
            days=week_of_slots(_slots(row)),
            is_now=bool(begun) and row.pk == begun[-1],
            is_open=row.valid_from >= today,
        )
        for row in rows
    ]


def _slots(pattern: ShiftPattern) -> list[ShiftSlot]:
    return [
        ShiftSlot(weekday=slot.weekday, name=slot.name, starts=slot.starts, ends=slot.ends)
        for slot in pattern.slots.all()
    ]


def _weeks(
    request: HttpRequest, *, today: date
) -> tuple[list[WeekShown], list[tuple[date, list[ShiftException]]]]:
    """Return the next weeks, and by day what differs after them."""
    plant = plant_of(request)
    first = week_of(today, week_starts_on=plant.week_starts_on)
    usual = shift_calendar(plant, patterns=patterns_in_force(), exceptions=[])
    by_week: dict[date, list[ShiftException]] = defaultdict(list)
    after = []
    for row in days_that_differ().filter(on__gte=first):
        begins_on = week_of(row.on, week_starts_on=plant.week_starts_on)
        if (begins_on - first).days >= 7 * WEEKS:
            after.append(row)
        else:
            by_week[begins_on].append(row)
    lines = weeks_ahead(calendar_of(request), usual=usual, begins_on=first, weeks=WEEKS)
    shown = [WeekShown(line=line, differs=by_week[line.begins_on]) for line in lines]
    return shown, [(on, list(rows)) for on, rows in groupby(after, key=lambda row: row.on)]


@page(looks=Right.EDIT_SHIFTS, writes=Right.EDIT_SHIFTS)
def pattern_add(request: HttpRequest) -> HttpResponse:
    """Write the week's shifts from a day on, or put right one that has not begun."""
    today, done = timezone.localdate(), doing_again(request)
    again = _pattern_again(request.GET.get("again", ""), today=today)
    now = again or pattern_on(today)
    # days before keep their shifts, and today has begun: where nothing else is meant, tomorrow
    first = today if now is None else today + timedelta(days=1)
    form = PatternForm(sent(request), pattern=now, first=again.valid_from if again else first)
    return act_page(
        request,
        form,
        act=lambda: add_shift_pattern(
            done, valid_from=form.cleaned_data["valid_from"], slots=form.slots
        ),
        said=lambda: (
            _("These shifts are worked from %(day)s on.")
            % {"day": day_words(form.cleaned_data["valid_from"])}
        ),
        title=_("Change the week's shifts") if now else _("Enter the week's shifts"),
        lead=_(
            "A shift that ends at or before its start runs over midnight and belongs to the day on "
            "which it begins. A shift with other times on some days takes a row of its own."
        ),
        submit=_("Write the week"),
        back=reverse("setup-shifts"),
        template="setup/pattern.html",
    )


def _pattern_again(key: str, *, today: date) -> ShiftPattern | None:
    """Return the pattern that is to be put right; None where there is none that still can be."""
    pk = int(key) if key.isascii() and key.isdigit() and len(key) < 16 else 0
    return patterns_in_force().filter(pk=pk, valid_from__gte=today).first()


@page(looks=Right.EDIT_SHIFTS, writes=Right.EDIT_SHIFTS)
def pattern_take_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Take back a week that has not begun: the one before it goes on."""
    # a second tap must find what the first one took back
    rows = patterns_in_force() if request.method == "GET" else ShiftPattern.objects.all()
    row: ShiftPattern = row_or_404(rows, pk)
    form, done = WhyForm(sent(request)), doing_again(request)
    return act_page(
        request,
        form,
        act=lambda: take_back_pattern(done, pattern=row, reason=form.cleaned_data["reason"]),
        said=lambda: _("That week is taken back; the one before it goes on."),
        title=_("Take back the week from %(day)s") % {"day": day_words(row.valid_from)},
        lead=_("The week that was worked before goes on, and holidays stay."),
        submit=_("Take it back"),
        back=reverse("setup-shifts"),
    )


@page(looks=Right.EDIT_SHIFTS, writes=Right.EDIT_SHIFTS)
def day_add(request: HttpRequest) -> HttpResponse:
    """Write down a day that is worked otherwise."""
    done = doing_again(request)
    pattern = pattern_on(timezone.localdate())
    names = dict.fromkeys(slot.name for slot in pattern.slots.all()) if pattern else {}
    form = DayForm(sent(request), names=list(names))
    return act_page(
        request,
        form,
        act=lambda: add_shift_exception(done, **form.exception),
        said=lambda: _("%(day)s is written down.") % {"day": day_words(form.cleaned_data["on"])},
        title=_("A day that is otherwise"),
        lead=_("For one day or one shift of it. The newest word on a shift counts."),
        submit=_("Write the day"),
        back=reverse("setup-shifts"),
    )


@page(looks=Right.EDIT_SHIFTS, writes=Right.EDIT_SHIFTS)
def holidays_add(request: HttpRequest) -> HttpResponse:
    """Write down many days without shifts at once."""
    form, done = HolidaysForm(sent(request)), doing_again(request)
    return act_page(
        request,
        form,
        act=lambda: add_days_off(done, days=[(day.on, day.name) for day in form.named]),
        said=lambda: (
            ngettext(
                "%(n)s day without shifts is written down.",
                "%(n)s days without shifts are written down.",
                len(form.named),
            )
            % {"n": len(form.named)}
        ),
        title=_("Holidays and shutdowns"),
        lead=_(
            "Days on which no shift is worked. Calendar limits still run on these days; readings "
            "do not grow old on them."
        ),
        submit=_("Write these days"),
        back=reverse("setup-shifts"),
    )


@page(looks=Right.EDIT_SHIFTS, writes=Right.EDIT_SHIFTS)
def day_take_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Take back what was said of a day: it is as the pattern has it again."""
    # a second tap must find what the first one took back
    rows = days_that_differ() if request.method == "GET" else ShiftException.objects.all()
    row: ShiftException = row_or_404(rows, pk)
    form, done = WhyForm(sent(request)), doing_again(request)
    return act_page(
        request,
        form,
        act=lambda: take_back_exception(done, exception=row, reason=form.cleaned_data["reason"]),
        said=lambda: _("%(day)s is as the pattern has it again.") % {"day": day_words(row.on)},
        title=_("Take back %(day)s") % {"day": day_words(row.on)},
        lead=f"{row.shift_name or _('The whole day')}: {row.reason}",
        submit=_("Take it back"),
        back=reverse("setup-shifts"),
    )
