"""Form fields for what people type: wall times of the plant, counts, and measured numbers."""

import re
from collections.abc import Iterable, Mapping
from datetime import date, datetime, timedelta
from decimal import Decimal, InvalidOperation
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from moldcare.core.counting import read_count
from moldcare.core.errors import ReadingRefused
from moldcare.core.shifts import Twice, Unique, resolve_local
from moldcare.pages.words import clock_words, count_words, moment_words
from moldcare.plant.queries import the_plant

LOCAL_FORM = "%Y-%m-%dT%H:%M"
FIRST, SECOND = "first", "second"
# what browsers without a picker, and people, write
_TYPED_FORMS = (
    "%Y-%m-%dT%H:%M",
    "%Y-%m-%dT%H:%M:%S",
    "%Y-%m-%d %H:%M",
    "%d.%m.%Y %H:%M",
)
EARLIEST, LATEST = date(1950, 1, 1), date(2199, 12, 31)
# a whole number that every database and every page can hold
LARGEST = 2**53 - 1
_TIME_ONLY = re.compile(r"^\d{1,2}:\d{2}$", re.ASCII)
_PLAIN_DECIMAL = re.compile(r"^-?\d+(?:[.,]\d+)?$", re.ASCII)
_GROUPED_DECIMAL = re.compile(r"^-?\d{1,3}(?:([., ])\d{3})+(?:(?!\1)[.,]\d+)?$", re.ASCII)
_TWO_MEANINGS = re.compile(r"^-?[1-9]\d{0,2}[.,]\d{3}$", re.ASCII)


def plant_zone() -> ZoneInfo:
    """Return the zone that the plant's clocks show, as the middleware set it for this request."""
    return ZoneInfo(timezone.get_current_timezone_name())


def typed_local(text: str, *, today: date) -> datetime:
    """Return the wall time that a text means; a time alone is of today.

    Raises
    ------
    ValueError
        If it is no time, or of a year that nobody means.
    """
    written = text.strip()
    if _TIME_ONLY.match(written):
        written = f"{today.isoformat()} {written}"
    for form in _TYPED_FORMS:
        try:
            naive = datetime.strptime(written, form)  # noqa: DTZ007 - a wall time has no zone
        except ValueError:
            continue
        if not EARLIEST <= naive.date() <= LATEST:
            break
        return naive
    raise ValueError(text)


def local_text(instant: datetime, *, zone: ZoneInfo) -> str:
    """Return an instant as the moment field shows it, with which one where it came twice."""
    local = instant.astimezone(zone)
    text = local.strftime(LOCAL_FORM)
    found = resolve_local(local.replace(tzinfo=None, fold=0), zone=zone)
    if isinstance(found, Twice):
        return f"{text}#{SECOND if instant >= found.second_at else FIRST}"
    return text


class MomentWidget(forms.DateTimeInput):
    """A local date and time; asks which one is meant when the clocks showed it twice."""

    input_type = "datetime-local"
    template_name = "fields/moment.html"

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__(attrs=attrs, format=LOCAL_FORM)

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        """Add the question where the time that is shown came twice."""
        text, _sign, which = str(value or "").partition("#")
        context = super().get_context(name, text or None, attrs)
        found = _resolved(text)
        if isinstance(found, Twice):
            context["twice"] = [
                {"value": FIRST, "at": found.first_at, "is_chosen": which == FIRST},
                {"value": SECOND, "at": found.second_at, "is_chosen": which == SECOND},
            ]
        return context

    def format_value(self, value: Any) -> str | None:
        """Show what was typed, or the plant's wall time of an instant."""
        if isinstance(value, datetime):
            return local_text(value, zone=plant_zone()).partition("#")[0]
        return str(value) if value else None

    def value_from_datadict(self, data: Mapping[str, Any], files: Any, name: str) -> str:
        """Return the text, with which of two where that was asked."""
        text = str(data.get(name) or "").strip()
        which = str(data.get(f"{name}-which") or "")
        return f"{text}#{which}" if text and which in (FIRST, SECOND) else text


def _resolved(text: str) -> object:
    try:
        naive = typed_local(text, today=timezone.localdate())
        return resolve_local(naive, zone=plant_zone())
    except (ValueError, OverflowError):
        return None


class MomentField(forms.Field):
    """A wall time of the plant; its value is the instant in UTC, None where it stays empty.

    With `happened` a time in the future is refused beside the field, by as much as the plant
    allows a clock to be off.
    """

    widget = MomentWidget

    def __init__(self, *, happened: bool = False, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.happened = happened

    def prepare_value(self, value: Any) -> Any:
        """Show an instant as the plant's clocks do."""
        return local_text(value, zone=plant_zone()) if isinstance(value, datetime) else value

    def to_python(self, value: Any) -> datetime | None:
        """Return the instant, or say why there is none."""
        text, _sign, which = str(value or "").partition("#")
        if not text.strip():
            return None
        zone = plant_zone()
        try:
            naive = typed_local(text, today=timezone.localdate())
        except ValueError:
            raise ValidationError(
                _("“%(text)s” is no date with a time. Write it like 2026-11-25 14:30.")
                % {"text": text[:40]}
            ) from None
        found = resolve_local(naive, zone=zone)
        if isinstance(found, Unique):
            return found.at
        if isinstance(found, Twice):
            if which not in (FIRST, SECOND):
                raise ValidationError(
                    _("The clocks were put back: this time came twice. Choose which one is meant.")
                )
            return found.first_at if which == FIRST else found.second_at
        raise ValidationError(
            _("The clocks were put forward: this time never came. The next one was %(at)s.")
            % {"at": clock_words(found.after_gap_at)}
        )

    def clean(self, value: Any) -> Any:
        """Return the instant, None where the field stays empty."""
        at = super().clean(value)
        now = timezone.now()
        if self.happened and at is not None and at > now:
            allowed = timedelta(seconds=the_plant().clock_error_s)
            if at > now + allowed:
                raise ValidationError(
                    _("%(at)s is in the future. Check the date and the time.")
                    % {"at": moment_words(at, now=now)}
                )
        return at

    def has_changed(self, initial: Any, data: Any) -> bool:
        """Compare instants, not spellings."""
        shown = self.prepare_value(initial) or ""
        return str(shown) != str(data or "")


class WholeField(forms.CharField):
    """A whole number as people write it: 12400, 12 400, 12.400 or 12,400.

    With `allows_estimate` its value is a `WrittenCount`, and "ca. 12400" is taken as an estimate;
    without, it is an int. `unit` stands beside its label; `big` draws the one number of a form.
    """

    kind = "whole"

    def __init__(
        self,
        *,
        least: int = 0,
        most: int = LARGEST,
        allows_estimate: bool = False,
        unit: Any = "",
        big: bool = False,
        **kwargs: Any,
    ) -> None:
        kwargs.setdefault("max_length", 40)
        super().__init__(**kwargs)
        self.unit, self.big = unit, big
        self.least, self.most, self.allows_estimate = least, most, allows_estimate

    def clean(self, value: Any) -> Any:
        """Return the number, None where the field stays empty."""
        text = super().clean(value)
        try:
            count = read_count(text)
        except ReadingRefused as error:
            raise ValidationError(self._refusal(text, said=str(error))) from None
        if count is None:
            return None
        if count.is_estimated and not self.allows_estimate:
            raise ValidationError(_("Give the exact number here, without “about”."))
        if not self.least <= count.value <= self.most:
            raise ValidationError(
                _("%(n)s is not between %(least)s and %(most)s.")
                % {
                    "n": count_words(count.value),
                    "least": count_words(self.least),
                    "most": count_words(self.most),
                }
            )
        return count if self.allows_estimate else count.value

    def _refusal(self, text: str, *, said: str) -> str:
        """Return why a text was refused: in a counter's words only where a counter was read."""
        unit = str(self.unit)
        if self.allows_estimate or unit == _("cycles"):
            return said
        if unit:
            return _("“%(text)s” cannot be read as a whole number of %(unit)s.") % {
                "text": text.strip(),
                "unit": unit,
            }
        return _("“%(text)s” cannot be read as a whole number.") % {"text": text.strip()}


def read_decimal(text: str) -> Decimal:
    """Return the number that a text means, with a decimal comma or point.

    Raises
    ------
    ValueError
        If it is no number, or could mean two: 1,250 may be 1250 or 1.25.
    """
    written = re.sub(r"[\u00a0\u2009\u202f]", " ", text.strip()).replace("\u2212", "-")
    if _TWO_MEANINGS.match(written):
        raise ValueError(text)
    if _PLAIN_DECIMAL.match(written):
        return Decimal(written.replace(",", "."))
    if _GROUPED_DECIMAL.match(written):
        group = next(each for each in written if each in "., ")
        return Decimal(written.replace(group, "").replace(",", "."))
    raise ValueError(text)


class DecimalField(forms.CharField):
    """A measured number, with a decimal comma or point; its value is a Decimal."""

    kind = "decimal"

    def __init__(
        self,
        *,
        least: Decimal | int | None = None,
        most: Decimal | int | None = None,
        places: int = 6,
        digits: int = 14,
        unit: Any = "",
        **kwargs: Any,
    ) -> None:
        kwargs.setdefault("max_length", 40)
        super().__init__(**kwargs)
        self.unit, self.big = unit, False
        self.least, self.most, self.places, self.digits = least, most, places, digits

    def prepare_value(self, value: Any) -> Any:
        """Show a number without zeros that say nothing, in a form that has one meaning."""
        if isinstance(value, Decimal):
            plain = format(value.normalize(), "f")
            return f"{plain}0" if _TWO_MEANINGS.match(plain) else plain
        return value

    def clean(self, value: Any) -> Any:
        """Return the number, None where the field stays empty."""
        text = super().clean(value)
        if not text:
            return None
        if not self.places and _TWO_MEANINGS.match(text.strip()):
            # where no decimals are asked for, the sign groups thousands
            text = re.sub(r"[.,]", "", text)
        try:
            number = read_decimal(text)
        except (ValueError, InvalidOperation):
            if _TWO_MEANINGS.match(text.strip()):
                plain = re.sub(r"[.,]", "", text.strip())
                raise ValidationError(
                    _("“%(text)s” could mean %(plain)s. Write %(plain)s, or one digit more.")
                    % {"text": text[:40], "plain": plain}
                ) from None
            raise ValidationError(_("“%(text)s” is no number.") % {"text": text[:40]}) from None
        self._check(number)
        return number

    def _check(self, number: Decimal) -> None:
        if self.least is not None and number < self.least:
            raise ValidationError(_("It must be at least %(least)s.") % {"least": self.least})
        if self.most is not None and number > self.most:
            raise ValidationError(_("It must be at most %(most)s.") % {"most": self.most})
        exponent = number.normalize().as_tuple().exponent
        decimals = max(0, -exponent) if isinstance(exponent, int) else 0
        if decimals > self.places:
            raise ValidationError(
                _("Give at most %(n)s places after the decimal sign.") % {"n": self.places}
            )
        if abs(number) >= Decimal(10) ** (self.digits - self.places):
            raise ValidationError(_("The number is too large."))


class DayField(forms.DateField):
    """A date, by the browser's picker or typed."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
        kwargs.setdefault("input_formats", ["%Y-%m-%d", "%d.%m.%Y"])
        kwargs.setdefault(
            "error_messages",
            {"invalid": gettext_lazy("This is no date. Write it like 2026-11-25.")},
        )
        super().__init__(**kwargs)

    def clean(self, value: Any) -> Any:
        """Return the date, None where the field stays empty."""
        on = super().clean(value)
        if on is not None and not EARLIEST <= on <= LATEST:
            raise ValidationError(_("Check the year."))
        return on


class LinesField(forms.CharField):
    """A text of one or more sentences; `most` is what the database keeps of it."""

    def __init__(self, *, most: int, rows: int = 3, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.Textarea(attrs={"rows": rows}))
        super().__init__(max_length=most, **kwargs)

    def to_python(self, value: Any) -> str:
        """Read the lines; browsers end each with two signs, and the text is kept with one."""
        return "\n".join((super().to_python(value) or "").splitlines())


class TextField(forms.CharField):
    """A line of text; `most` is what the database keeps of it."""

    def __init__(self, *, most: int, **kwargs: Any) -> None:
        super().__init__(max_length=most, **kwargs)


def when_field(**kwargs: Any) -> MomentField:
    """Return the field for when something happened; empty means now."""
    kwargs.setdefault("required", False)
    kwargs.setdefault("label", gettext_lazy("When"))
    kwargs.setdefault("help_text", gettext_lazy("Now, unless you say otherwise."))
    return MomentField(happened=True, **kwargs)


def boxes(choices: Any, **kwargs: Any) -> forms.ChoiceField:
    """Return a choice drawn as boxes to hit."""
    return forms.ChoiceField(choices=choices, widget=forms.RadioSelect, **kwargs)


def stand_in_a_row(form: forms.BaseForm, *, names: Iterable[str]) -> None:
    """Let fields be shown as parts of a row: each is asked for once its row is begun."""
    for name in names:
        # what the template of a field asks for; Django's fields have no such attribute
        vars(form.fields[name])["part_of_row"] = True
