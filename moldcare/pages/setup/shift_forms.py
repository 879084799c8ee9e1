"""Forms of shifts: a week of them, a day that is otherwise, a list of holidays."""

from collections.abc import Iterable
from datetime import date, time
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from moldcare.core.errors import ListUnclear
from moldcare.core.shifts import ShiftSlot
from moldcare.core.typed_lists import NamedDay, days_in
from moldcare.pages.fields import (
    EARLIEST,
    LATEST,
    DayField,
    LinesField,
    TextField,
    boxes,
    stand_in_a_row,
)
from moldcare.pages.setup.acting import GroupedForm
from moldcare.plant.models import ShiftPattern

NAME_LENGTH = 40
REASON_LENGTH = 200
LEAST_ROWS, MOST_ROWS, SPARE_ROWS = 4, 12, 2
WEEKDAYS = (
    ("0", gettext_lazy("Mon")),
    ("1", gettext_lazy("Tue")),
    ("2", gettext_lazy("Wed")),
    ("3", gettext_lazy("Thu")),
    ("4", gettext_lazy("Fri")),
    ("5", gettext_lazy("Sat")),
    ("6", gettext_lazy("Sun")),
)
NO_SHIFTS, ONE_OFF, ONE_ON, OTHER_TIMES = "none", "one_off", "one_on", "times"


class ClockField(forms.TimeField):
    """A time of day on the wall clock; 24:00 is the end of the day."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.TimeInput(attrs={"type": "time"}, format="%H:%M"))
        kwargs.setdefault("input_formats", ["%H:%M", "%H:%M:%S", "%H.%M"])
        kwargs.setdefault(
            "error_messages", {"invalid": gettext_lazy("This is no time. Write it like 06:00.")}
        )
        super().__init__(**kwargs)

    def to_python(self, value: Any) -> time | None:
        """Return the time; the end of a day is the midnight after it."""
        return super().to_python("00:00" if str(value or "").strip() == "24:00" else value)


class PatternForm(forms.Form):
    """A week of shifts: a name, its times, and the days on which it is worked."""

    def __init__(self, *args: Any, pattern: ShiftPattern | None, first: date, **kwargs: Any):
        rows = _rows_of(pattern)
        kwargs["initial"] = {"valid_from": first, **_initial(rows)}
        super().__init__(*args, **kwargs)
        self.fields["valid_from"] = DayField(
            label=_("From this day on"),
            help_text=_("Days before keep the shifts that they had."),
            error_messages={"required": _("Say from which day on these shifts are worked.")},
        )
        least = min(max(LEAST_ROWS, len(rows) + SPARE_ROWS), MOST_ROWS)
        self.count = least
        if self.is_bound:
            typed = str(self.data.get("rows", ""))
            self.count = int(typed) if typed.isascii() and typed.isdigit() and len(typed) < 3 else 0
            self.count = min(max(self.count, LEAST_ROWS), MOST_ROWS)
        for place in range(self.count):
            self.fields[f"name{place}"] = TextField(
                most=NAME_LENGTH, required=False, label=_("Name")
            )
            self.fields[f"starts{place}"] = ClockField(required=False, label=_("From"))
            self.fields[f"ends{place}"] = ClockField(required=False, label=_("Until"))
            self.fields[f"days{place}"] = forms.TypedMultipleChoiceField(
                choices=WEEKDAYS,
                coerce=int,
                required=False,
                widget=forms.CheckboxSelectMultiple,
                label=_("On"),
            )
            names = ("name", "starts", "ends", "days")
            stand_in_a_row(self, names=[f"{name}{place}" for name in names])

    @property
    def lines(self) -> list[dict[str, Any]]:
        """The rows as the template draws them."""
        return [
            {
                "place": place + 1,
                "name": self[f"name{place}"],
                "starts": self[f"starts{place}"],
                "ends": self[f"ends{place}"],
                "days": self[f"days{place}"],
            }
            for place in range(self.count)
        ]

    def clean(self) -> dict[str, Any]:
        """Refuse half rows, and a week without any."""
        data = super().clean() or {}
        whole = 0
        for place in range(self.count):
            parts = {
                f"name{place}": _("Give the shift a name."),
                f"starts{place}": _("When does it begin?"),
                f"ends{place}": _("When does it end?"),
                f"days{place}": _("On which days?"),
            }
            given = [name for name in parts if data.get(name) not in (None, "", [])]
            wrong = [name for name in parts if name in self.errors]
            if not given and not wrong:
                continue
            whole += 1
            for name, asked in parts.items():
                if name not in given and name not in wrong:
                    self.add_error(name, asked)
        if not whole and not self.errors:
            self.add_error("name0", _("Give at least one shift."))
        return data

    @property
    def slots(self) -> list[ShiftSlot]:
        """The shifts of a valid form."""
        data = self.cleaned_data
        return [
            ShiftSlot(
                weekday=weekday,
                name=data[f"name{place}"],
                starts=data[f"starts{place}"],
                ends=data[f"ends{place}"],
            )
            for place in range(self.count)
            for weekday in data[f"days{place}"]
        ]


Row = tuple[str, time, time, list[str]]


def _rows_of(pattern: ShiftPattern | None) -> list[Row]:
    """Return the shifts of a pattern, those with one name and time on one row."""
    found: dict[tuple[str, time, time], list[str]] = {}
    for slot in pattern.slots.order_by("starts", "weekday") if pattern else ():
        found.setdefault((slot.name, slot.starts, slot.ends), []).append(str(slot.weekday))
    rows = [(*key, sorted(days)) for key, days in found.items()]
    return sorted(rows, key=lambda row: (row[3][0], row[1]))


def _initial(rows: Iterable[Row]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for place, (name, starts, ends, days) in enumerate(rows):
        found |= {
            f"name{place}": name,
            f"starts{place}": starts,
            f"ends{place}": ends,
            f"days{place}": days,
        }
    return found


class DayForm(GroupedForm):
    """A day, or one shift of it, that is worked otherwise than the pattern says."""

    GROUPS = (
        (gettext_lazy("Which day"), (("on",), ("what",))),
        (
            gettext_lazy("Which shift, where it is not the whole day"),
            (("shift_name",), ("starts", "ends")),
        ),
        (gettext_lazy("Why"), (("reason",),)),
    )

    def __init__(self, *args: Any, names: Iterable[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["on"] = DayField(
            label=_("Day"), error_messages={"required": _("Say which day.")}
        )
        self.fields["what"] = boxes(
            [
                (NO_SHIFTS, _("No shift is worked")),
                (ONE_OFF, _("One shift is not worked")),
                (ONE_ON, _("A shift is worked that is not usual on this day")),
                (OTHER_TIMES, _("A shift has other times")),
            ],
            label=_("What is different"),
            error_messages={"required": _("Say what is different on this day.")},
        )
        self.fields["shift_name"] = TextField(
            most=NAME_LENGTH,
            required=False,
            label=_("Shift"),
            help_text=_("By its name: %(names)s.") % {"names": ", ".join(names)} if names else "",
        )
        self.fields["starts"] = ClockField(required=False, label=_("From"))
        self.fields["ends"] = ClockField(required=False, label=_("Until"))
        self.fields["reason"] = TextField(
            most=REASON_LENGTH,
            label=_("Reason"),
            help_text=_("Such as Christmas, stocktaking, rush order."),
            error_messages={"required": _("Give the reason: the logbook keeps it.")},
        )

    def clean(self) -> dict[str, Any]:
        """Ask for what the answer needs, and refuse what it has no use for."""
        data = super().clean() or {}
        what = data.get("what")
        if what in (ONE_OFF, ONE_ON, OTHER_TIMES) and not data.get("shift_name"):
            self.add_error("shift_name", _("Name the shift."))
        if what == NO_SHIFTS and data.get("shift_name"):
            self.add_error("shift_name", _("Leave it empty where no shift is worked at all."))
        times = [name for name in ("starts", "ends") if data.get(name) is not None]
        if what == OTHER_TIMES or (what == ONE_ON and len(times) == 1):
            for name in {"starts", "ends"} - set(times) - set(self.errors):
                self.add_error(name, _("Give the time."))
        elif what in (NO_SHIFTS, ONE_OFF) and times:
            self.add_error(times[0], _("Leave the times empty where nothing is worked."))
        return data

    @property
    def exception(self) -> dict[str, Any]:
        """What the act takes of a valid form."""
        data = self.cleaned_data
        return {
            "on": data["on"],
            "is_worked": data["what"] in (ONE_ON, OTHER_TIMES),
            "shift_name": data["shift_name"],
            "starts": data["starts"],
            "ends": data["ends"],
            "reason": data["reason"],
        }


class HolidaysForm(forms.Form):
    """Days without shifts, one a line."""

    days = LinesField(
        most=12_000,
        rows=10,
        label=gettext_lazy("One day a line: the date, then what it is"),
        help_text=gettext_lazy(
            "2026-12-25 Christmas, or 25.12.2026 Christmas. Several days at once: 2026-12-28 to "
            "2026-12-31 shutdown. Paste a whole list."
        ),
        error_messages={"required": gettext_lazy("Type or paste at least one day.")},
    )

    def clean_days(self) -> str:
        """Name the line that cannot be read."""
        text: str = self.cleaned_data["days"]
        try:
            days = days_in(text)
        except ListUnclear as error:
            raise ValidationError(str(error)) from None
        for day in days:
            if not EARLIEST <= day.on <= LATEST:
                raise ValidationError(_("Check the year of %(day)s.") % {"day": day.on})
            if len(day.name) > REASON_LENGTH:
                raise ValidationError(_("What %(day)s is, is too long.") % {"day": day.on})
        return text

    @property
    def named(self) -> list[NamedDay]:
        """The days of a valid form."""
        return days_in(self.cleaned_data["days"])
