"""The plant's own record: its name, its clock, its units."""

from typing import Any
from zoneinfo import available_timezones

from django import forms
from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from moldcare.acts.plant import set_plant
from moldcare.acts.rights import Right
from moldcare.pages.access import page
from moldcare.pages.acting import doing_again, sent
from moldcare.pages.fields import TextField, WholeField
from moldcare.pages.listed import NameWithList
from moldcare.pages.setup.acting import GroupedForm, act_page, values_of
from moldcare.plant.models import Plant
from moldcare.plant.queries import the_plant

FIELDS = (
    "name",
    "zone",
    "language",
    "units",
    "paper",
    "currency",
    "week_starts_on",
    "clock_error_s",
    "reading_age_shifts",
    "idle_minutes",
)
WIDEST_CLOCK_ERROR_S = 3600
MOST_SHIFTS = 1000
LONGEST_IDLE_MINUTES = 240


class PlantForm(GroupedForm):
    """What the plant is called and goes by."""

    GROUPS = (
        (gettext_lazy("The plant"), (("name",),)),
        (gettext_lazy("Its clock"), (("zone",), ("zone_sure",), ("clock_error_s",))),
        (
            gettext_lazy("On screens and paper"),
            (("language", "units"), ("paper", "currency"), ("week_starts_on",)),
        ),
        (gettext_lazy("Its readings"), (("reading_age_shifts",),)),
        (gettext_lazy("Its shared tablets"), (("idle_minutes",),)),
    )

    name = TextField(
        most=120,
        label=gettext_lazy("Name"),
        help_text=gettext_lazy("As it shall stand on work orders and in the logbook."),
        error_messages={"required": gettext_lazy("Give the plant a name.")},
    )
    zone = TextField(
        most=60,
        label=gettext_lazy("Time zone"),
        help_text=gettext_lazy("By its city, such as Europe/Berlin or America/Chicago."),
        error_messages={"required": gettext_lazy("Give the time zone of the plant's clocks.")},
    )
    clock_error_s = WholeField(
        most=WIDEST_CLOCK_ERROR_S,
        label=gettext_lazy("Clocks may be off by"),
        unit=gettext_lazy("seconds"),
        help_text=gettext_lazy(
            "What comes from tablets and presses may lie so far in the future; beyond it is "
            "refused."
        ),
    )
    language = forms.ChoiceField(
        choices=settings.LANGUAGES, label=gettext_lazy("Language on paper")
    )
    units = forms.ChoiceField(choices=Plant.Units.choices, label=gettext_lazy("Units"))
    paper = forms.ChoiceField(choices=Plant.Paper.choices, label=gettext_lazy("Paper"))
    currency = TextField(
        most=3,
        label=gettext_lazy("Currency"),
        help_text=gettext_lazy("Three letters, as EUR. Rates that are written stay in theirs."),
        error_messages={"required": gettext_lazy("Give its three letters, such as EUR or USD.")},
    )
    week_starts_on = forms.TypedChoiceField(
        choices=[(0, gettext_lazy("Monday")), (6, gettext_lazy("Sunday"))],
        coerce=int,
        label=gettext_lazy("The week starts on"),
    )
    reading_age_shifts = WholeField(
        least=1,
        most=MOST_SHIFTS,
        label=gettext_lazy("A reading is old after"),
        unit=gettext_lazy("shifts in a press"),
        help_text=gettext_lazy("Then the Shift page asks for a new one. A mold may have its own."),
    )

    idle_minutes = WholeField(
        least=1,
        most=LONGEST_IDLE_MINUTES,
        label=gettext_lazy("A tablet signs off after"),
        unit=gettext_lazy("minutes"),
        help_text=gettext_lazy(
            "When nobody touches it; only who signed in with badge and PIN. What was typed is "
            "kept for them."
        ),
    )

    def __init__(self, *args: Any, plant: Plant, is_new: bool, **kwargs: Any) -> None:
        kwargs["initial"] = {name: getattr(plant, name) for name in FIELDS}
        if is_new:
            # nobody's clock and money are guessed
            kwargs["initial"] |= {"zone": "", "currency": ""}
        super().__init__(*args, **kwargs)
        self.old_zone = "" if is_new else plant.zone
        self.fields["zone"].widget = NameWithList(sorted(available_timezones()))
        if self.is_bound and self._moves_the_clock:
            self.fields["zone_sure"] = forms.BooleanField(
                required=False, label=_("Yes, move the plant to this time zone")
            )

    @property
    def _moves_the_clock(self) -> bool:
        typed = str(self.data.get("zone", "")).strip()
        return bool(self.old_zone) and typed != self.old_zone and typed in available_timezones()

    def clean_zone(self) -> str:
        """Return the zone; refuse what is none."""
        zone = str(self.cleaned_data["zone"]).strip()
        if zone not in available_timezones():
            raise forms.ValidationError(
                _("“%(zone)s” is no time zone. Choose one from the list, such as Europe/Berlin.")
                % {"zone": zone[:40]}
            )
        return zone

    def clean_currency(self) -> str:
        """Return the currency in capitals."""
        currency = str(self.cleaned_data["currency"]).strip().upper()
        if len(currency) != 3 or not currency.isascii() or not currency.isalpha():
            raise forms.ValidationError(_("Give its three letters, such as EUR or USD."))
        return currency

    def clean(self) -> dict[str, Any]:
        """Say what moves with the clock, and ask once more."""
        data = super().clean() or {}
        if "zone_sure" in self.fields and not data.get("zone_sure"):
            self.add_error(
                "zone_sure",
                _(
                    "All instants stay as they were, but the clock beside them moves: shifts begin "
                    "and end at other moments, days and months begin elsewhere, and what is due "
                    "is worked out again. Tick this if the clocks of the plant do show this time."
                ),
            )
        return data


@page(looks=Right.EDIT_SHIFTS, writes=Right.EDIT_SHIFTS)
def setup_plant(request: HttpRequest) -> HttpResponse:
    """Show and change what the plant is called and goes by."""
    plant, done = the_plant(), doing_again(request)
    is_new = not plant.name
    form = PlantForm(sent(request), plant=plant, is_new=is_new)
    return act_page(
        request,
        form,
        act=lambda: set_plant(done, changes=values_of(form, names=FIELDS)),
        said=lambda: _("The plant is set up.") if is_new else _("That is changed."),
        title=_("The plant"),
        lead=_("What stands on paper, and what times and units mean here."),
        submit=_("Write it down"),
        back=reverse("setup"),
        changes_what_is=True,
        then=reverse("setup-begin") if is_new else "",
    )
