"""Of which span lists are saved, and with which signs."""

from datetime import date, datetime, time, timedelta
from typing import Any
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import get_language, gettext_lazy
from django.utils.translation import gettext as _

from moldcare.core.shifts import local_instant
from moldcare.feeds.export.delimited import COMMA, SEMICOLON, Dialect, dialect_of
from moldcare.pages.fields import EARLIEST, LATEST

COMMAS, SEMICOLONS = "comma", "semicolon"


class SpanForm(forms.Form):
    """The first and the last day, and the signs of CSV files; all may stay as they are."""

    since = forms.DateField(
        label=gettext_lazy("From"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    until = forms.DateField(
        label=gettext_lazy("To, that day included"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    signs = forms.ChoiceField(
        label=gettext_lazy("CSV files with"),
        required=False,
        choices=[
            (COMMAS, gettext_lazy("commas, and 12.5")),
            (SEMICOLONS, gettext_lazy("semicolons, and 12,5")),
        ],
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["signs"].initial = usual_signs()

    def clean_since(self) -> date | None:
        """Return the first day."""
        return _believable(self.cleaned_data["since"])

    def clean_until(self) -> date | None:
        """Return the last day."""
        return _believable(self.cleaned_data["until"])

    def clean(self) -> dict[str, Any]:
        """Refuse a span that ends before it begins."""
        found: dict[str, Any] = super().clean() or {}
        since, until = found.get("since"), found.get("until")
        if since and until and until < since:
            self.add_error("until", _("The span ends before it begins."))
        return found

    @property
    def dialect(self) -> Dialect:
        """The signs of CSV files; where nothing was chosen, the usual ones of the language."""
        chosen = self.cleaned_data.get("signs") or usual_signs()
        return SEMICOLON if chosen == SEMICOLONS else COMMA

    def span(self, *, zone: ZoneInfo) -> tuple[datetime | None, datetime | None]:
        """Return the instants at which the span begins and ends on the plant's clocks."""
        since, until = self.cleaned_data.get("since"), self.cleaned_data.get("until")
        return (
            _begin_of(since, zone=zone) if since else None,
            _begin_of(until + timedelta(days=1), zone=zone) if until else None,
        )

    @property
    def query(self) -> str:
        """What was chosen, as the parameters of an address."""
        if not self.is_bound:
            return ""
        good = {name: value for name, value in self.cleaned_data.items() if value}
        return urlencode({name: str(value) for name, value in good.items()})


def usual_signs() -> str:
    """Return the signs that spreadsheets in the person's language open."""
    return SEMICOLONS if dialect_of(get_language() or "en") == SEMICOLON else COMMAS


def _believable(on: date | None) -> date | None:
    if on is not None and not EARLIEST <= on <= LATEST:
        raise ValidationError(_("No plant keeps records of that year."))
    return on


def _begin_of(on: date, *, zone: ZoneInfo) -> datetime:
    return local_instant(datetime.combine(on, time.min), zone=zone)
