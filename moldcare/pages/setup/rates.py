"""What an hour costs, from a date on."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from moldcare.acts.plant import add_rate
from moldcare.acts.rights import Right
from moldcare.pages.access import answer, page, plant_of
from moldcare.pages.acting import doing_again, sent
from moldcare.pages.fields import DayField, DecimalField, boxes
from moldcare.pages.setup.acting import act_page
from moldcare.plant.models import Rate, Spot
from moldcare.plant.queries import rates_in_force, spots_in_use


@dataclass(frozen=True, kw_only=True, slots=True)
class RateLine:
    """A rate, and whether it is the one that holds today; whether another may take its place."""

    rate: Rate
    is_now: bool
    is_ahead: bool
    is_open: bool


class RateForm(forms.Form):
    """A rate."""

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["kind"] = boxes(
            Rate.Kind.choices,
            label=_("An hour of"),
            error_messages={"required": _("Say what the hour is of.")},
        )
        self.fields["spot"] = forms.ModelChoiceField(
            spots_in_use(kinds=[Spot.Kind.PRESS]),
            required=False,
            empty_label=_("all that have none of their own"),
            label=_("Of which press"),
            help_text=_("Only for press hours."),
        )
        self.fields["amount"] = DecimalField(
            required=False,
            label=_("It costs"),
            unit=currency,
            least=0,
            most=Decimal("9999999999.99"),
            places=2,
            digits=12,
        )
        self.fields["ends_own"] = forms.BooleanField(
            required=False,
            label=_("The press has no rate of its own from then on"),
            help_text=_("It costs what all others do."),
        )
        self.fields["valid_from"] = DayField(
            label=_("From"), error_messages={"required": _("Say from which day on.")}
        )

    def clean(self) -> dict[str, Any]:
        """Refuse a press where no press hour is meant; ask for an amount, or none at all."""
        data = super().clean() or {}
        if data.get("spot") is not None and data.get("kind") not in (None, Rate.Kind.PRESS):
            self.add_error("spot", _("Only a press hour is of a press."))
        ends_own = data.pop("ends_own", False)
        if ends_own and data.get("spot") is None and "spot" not in self.errors:
            self.add_error("spot", _("Say which press has none of its own from then on."))
        if ends_own and data.get("amount") is not None:
            self.add_error("amount", _("Leave it empty where the press has none of its own."))
        if not ends_own and data.get("amount") is None and "amount" not in self.errors:
            self.add_error("amount", _("Say what it costs."))
        return data


@page(looks=Right.EDIT_RATES)
def setup_rates(request: HttpRequest) -> HttpResponse:
    """List the rates: what holds now, what is ahead, what held before."""
    today, currency = timezone.localdate(), plant_of(request).currency
    rows = list(rates_in_force().order_by("kind", "spot__number", "-valid_from"))
    holds: dict[tuple[str, int | None], int] = {}
    for row in reversed(rows):
        if row.valid_from <= today:
            holds[row.kind, row.spot_id] = row.pk
    lines = [
        RateLine(
            rate=row,
            is_now=holds.get((row.kind, row.spot_id)) == row.pk,
            is_ahead=row.valid_from > today,
            is_open=row.valid_from >= today.replace(day=1),
        )
        for row in rows
    ]
    context = {
        "page_title": _("Rates"),
        "nav_here": "setup",
        "kinds": [
            (label, [line for line in lines if line.rate.kind == kind])
            for kind, label in Rate.Kind.choices
        ],
        "currency": currency,
        "others": sorted(
            {
                line.rate.currency
                for line in lines
                if (line.is_now or line.is_ahead) and line.rate.amount is not None
            }
            - {currency}
        ),
    }
    return answer(request, "setup/rates.html", context)


@page(looks=Right.EDIT_RATES, writes=Right.EDIT_RATES)
def rate_add(request: HttpRequest) -> HttpResponse:
    """Write down what an hour costs from a date on, or put right what was written."""
    today, plant = timezone.localdate(), plant_of(request)
    initial = _rate_again(request.GET.get("again", "")) or {
        "valid_from": today.replace(day=1),
        "kind": Rate.Kind.PRESS,
    }
    form = RateForm(sent(request), currency=plant.currency, initial=initial)
    done = doing_again(request)
    return act_page(
        request,
        form,
        act=lambda: add_rate(done, **form.cleaned_data),
        said=lambda: _("The rate is written down."),
        title=_("What an hour costs"),
        lead=_(
            "Months that are over keep the money that they had. Of two rates from one day the "
            "later word counts."
        ),
        submit=_("Write the rate"),
        back=reverse("setup-rates"),
    )


def _rate_again(key: str) -> dict[str, Any] | None:
    """Return what a rate says, to be put right; None where no such rate holds."""
    pk = int(key) if key.isascii() and key.isdigit() and len(key) < 16 else 0
    row = rates_in_force().filter(pk=pk).first()
    if row is None:
        return None
    return {
        "kind": row.kind,
        "spot": row.spot_id,
        "amount": row.amount,
        "ends_own": row.amount is None,
        "valid_from": row.valid_from,
    }
