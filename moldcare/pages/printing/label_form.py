"""On what labels are printed; what was chosen last is kept on the device."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any
from urllib.parse import parse_qsl, urlencode

from django import forms
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext_lazy

from moldcare.core.errors import LabelsRefused
from moldcare.pages.fields import DecimalField, WholeField
from moldcare.pages.printing.server_address import (
    LONGEST_ADDRESS,
    AddressRefused,
    is_of_this_machine,
    server_address,
)
from moldcare.pages.printing.things import CodeHolds
from moldcare.paper.frame import PaperSize
from moldcare.paper.labels import LabelStock, stock_named, stocks_for

COOKIE = "labels"
KEPT_S = 400 * 24 * 3600
MOST_OFFSET_MM = 10
_KEPT = ("sheet", "code", "address", "right", "down")
_LONGEST_COOKIE = 1_000


class LabelForm(forms.Form):
    """Sheet, first free label, what the code holds, and the printer's offset."""

    sheet = forms.CharField(label=gettext_lazy("Label sheet"), widget=forms.Select)
    start = WholeField(
        label=gettext_lazy("First free label"),
        help_text=gettext_lazy("On a sheet that was begun, counted row by row from 1."),
        least=1,
        most=100,
    )
    code = forms.ChoiceField(
        label=gettext_lazy("The square code"),
        choices=[
            (CodeHolds.ADDRESS.value, gettext_lazy("opens its page")),
            (CodeHolds.NUMBER.value, gettext_lazy("holds only the number (shorter)")),
        ],
    )
    address = forms.CharField(
        label=gettext_lazy("Address that phones and tablets use"),
        help_text=gettext_lazy("Labels stay for years: use a name that will still be there."),
        max_length=LONGEST_ADDRESS,
    )
    right = DecimalField(
        label=gettext_lazy("Move to the right"),
        help_text=gettext_lazy("To the left with a minus. The test sheet shows how much."),
        unit="mm",
        least=-MOST_OFFSET_MM,
        most=MOST_OFFSET_MM,
        places=1,
        required=False,
    )
    down = DecimalField(
        label=gettext_lazy("Move down"),
        unit="mm",
        least=-MOST_OFFSET_MM,
        most=MOST_OFFSET_MM,
        places=1,
        required=False,
    )

    def __init__(self, data: Mapping[str, str], *, paper: PaperSize) -> None:
        super().__init__(data)
        self.paper = paper
        self.fields["sheet"].widget.choices = [
            (stock.key, stock.measures) for stock in stocks_for(paper)
        ]

    def clean_sheet(self) -> LabelStock:
        """Return the stock; a sheet that does not go through this printer is refused."""
        try:
            return stock_named(self.cleaned_data["sheet"], paper=self.paper)
        except LabelsRefused as refused:
            raise ValidationError(str(refused)) from None

    def clean_address(self) -> str:
        """Return the address without what follows the server's name."""
        try:
            return server_address(self.cleaned_data["address"])
        except AddressRefused as refused:
            raise ValidationError(str(refused)) from None

    def offsets_mm(self) -> tuple[float, float]:
        """Return how far everything is moved."""
        data = self.cleaned_data
        return float(data["right"] or Decimal(0)), float(data["down"] or Decimal(0))

    @property
    def is_of_this_machine(self) -> bool:
        """Whether the code would open only on the machine that printed it."""
        data = getattr(self, "cleaned_data", {})
        return data.get("code") == CodeHolds.ADDRESS and is_of_this_machine(data["address"])


def label_form(request: HttpRequest, *, paper: PaperSize) -> LabelForm:
    """Return the form as asked for; what was not said is as it was the last time."""
    data = {
        "sheet": stocks_for(paper)[0].key,
        "start": "1",
        "code": CodeHolds.ADDRESS.value,
        "address": request.build_absolute_uri("/").rstrip("/"),
        "right": "",
        "down": "",
    }
    kept = request.COOKIES.get(COOKIE, "")[:_LONGEST_COOKIE]
    known = {stock.key for stock in stocks_for(paper)}
    for name, value in parse_qsl(kept, max_num_fields=20):
        if name in _KEPT and (name != "sheet" or value in known):
            data[name] = value
    data |= {name: request.GET[name] for name in data if name in request.GET}
    return LabelForm(data, paper=paper)


def keep_choice(request: HttpRequest, response: HttpResponse, *, form: LabelForm) -> None:
    """Keep the sheet and the printer's offset on the device."""
    kept = {name: str(form.data[name]) for name in _KEPT if form.data.get(name)}
    response.set_cookie(
        COOKIE,
        urlencode(kept),
        max_age=KEPT_S,
        secure=request.is_secure(),
        httponly=True,
        samesite="Lax",
    )


def form_context(form: LabelForm, **more: Any) -> dict[str, Any]:
    """Return what the page shows of a form beside its fields."""
    return {"is_of_this_machine": form.is_valid() and form.is_of_this_machine, **more}
