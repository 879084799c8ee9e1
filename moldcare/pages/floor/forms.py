"""Forms of the floor: each asks what the act needs, and no more."""

from datetime import datetime
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from moldcare.acts.floor import Change
from moldcare.counters.queries import counters_on_now
from moldcare.molds.models import (
    Component,
    ConditionNote,
    Filler,
    Mold,
    Position,
    ResinGroup,
    Run,
)
from moldcare.molds.queries import (
    components_in,
    components_on_the_shelf,
)
from moldcare.pages.fields import (
    DecimalField,
    LinesField,
    MomentField,
    TextField,
    WholeField,
    boxes,
    when_field,
)
from moldcare.pages.floor.fields import CavityField, PositionField, press_field, rest_field
from moldcare.pages.floor.readings import OnNow, last_value_words

NOTE_LENGTH = 200


def _reading_field(label: str, *, help_text: str, big: bool = True) -> WholeField:
    return WholeField(
        label=label,
        help_text=help_text,
        required=False,
        allows_estimate=True,
        unit=_("cycles"),
        big=big,
    )


class SetForm(forms.Form):
    """Set a mold in a press."""

    def __init__(self, *args: Any, on: OnNow, matters: bool, now: datetime, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        press = press_field()
        self.fields["press"] = press
        if on.own is not None:
            self.fields["reading"] = _reading_field(
                _("The mold's counter shows"), help_text=last_value_words(on.own, now=now)
            )
        if counters_on_now(presses=list(map(int, press.spots)))["press"]:
            self.fields["press_reading"] = _reading_field(
                _("The press's counter shows"),
                help_text=_("Only where the press has a counter of its own."),
                big=on.own is None,
            )
        self.fields["at"] = when_field(label=_("Set at"))
        if matters:
            self.fields["accepts_open"] = LinesField(
                most=400,
                rows=2,
                label=_("Why it is set although something is open"),
                error_messages={"required": _("Give the reason, or settle what is open first.")},
            )
        self.fields["note"] = TextField(most=NOTE_LENGTH, required=False, label=_("Note"))


class PullForm(forms.Form):
    """Pull a mold out of its press."""

    def __init__(self, *args: Any, on: OnNow, now: datetime, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["to"] = rest_field()
        if on.own is not None:
            self.fields["reading"] = _reading_field(
                _("The mold's counter shows"), help_text=last_value_words(on.own, now=now)
            )
        if on.press is not None:
            self.fields["press_reading"] = _reading_field(
                _("The press's counter shows"),
                help_text=last_value_words(on.press, now=now),
                big=on.own is None,
            )
        self.fields["last_shot"] = boxes(
            [("yes", _("kept")), ("no", _("not kept")), ("", _("not known"))],
            required=False,
            label=_("Last shot"),
            help_text=_("Parts and runner of the last cycle, kept as evidence."),
        )
        self.fields["at"] = when_field(label=_("Pulled at"))
        self.fields["note"] = TextField(most=NOTE_LENGTH, required=False, label=_("Note"))


class MoveForm(forms.Form):
    """Move a mold that is in no press."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["to"] = rest_field()
        self.fields["at"] = when_field(label=_("Moved at"))
        self.fields["note"] = TextField(most=NOTE_LENGTH, required=False, label=_("Note"))


class ConditionForm(forms.Form):
    """Note what state a mold is in."""

    condition = boxes(
        ConditionNote.Condition.choices,
        label=gettext_lazy("Condition"),
        error_messages={"required": gettext_lazy("Choose the condition.")},
    )
    needs_next = boxes(
        ConditionNote.Next.choices, required=False, label=gettext_lazy("It needs next")
    )
    note = LinesField(most=400, required=False, label=gettext_lazy("What exactly"))
    at = when_field()


class FitForm(forms.Form):
    """Fit a component from the shelf, or a new one, in a position."""

    def __init__(self, *args: Any, mold: Mold, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        positions = PositionField(
            mold, label=_("Position"), error_messages={"required": _("Choose the position.")}
        )
        self.fields["position"] = positions
        if positions.filled:
            self.fields["takes_out"] = forms.BooleanField(
                required=False, label=_("Take out what sits there first")
            )
        self.fields["component"] = forms.ModelChoiceField(
            components_on_the_shelf(),
            required=False,
            label=_("From the shelf"),
            empty_label=_("none of these"),
            error_messages={
                "invalid_choice": _("That piece is not on the shelf any more. Choose again.")
            },
        )
        self.fields["serial"] = TextField(
            most=60,
            required=False,
            label=_("Or a new piece: its serial number"),
            help_text=_("A piece that never ran. It completes the change rules of the position."),
        )
        self.fields["name"] = TextField(
            most=120, required=False, label=_("And what it is, such as core insert")
        )
        self.fields["at"] = when_field(label=_("Fitted at"))
        self.fields["note"] = TextField(most=NOTE_LENGTH, required=False, label=_("Note"))

    def clean(self) -> dict[str, Any]:
        """Ask for one piece: from the shelf or new."""
        data = super().clean() or {}
        if data.get("component") and data.get("serial"):
            self.add_error("serial", _("Choose a piece from the shelf or enter a new one."))
        elif not data.get("component") and not data.get("serial"):
            self.add_error(
                "component", _("Choose the piece, or enter the serial number of a new one.")
            )
        elif data.get("serial") and not data.get("name"):
            self.add_error("name", _("Say what the new piece is."))
        return data


class TakeOutForm(forms.Form):
    """Take a component out of a mold."""

    def __init__(self, *args: Any, mold: Mold, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        positions = list(Position.objects.filter(mold=mold).values_list("pk", flat=True))
        inside = components_in(positions)
        self.fields["component"] = forms.ModelChoiceField(
            Component.objects.filter(pk__in=[piece.pk for piece in inside.values()]),
            widget=forms.RadioSelect,
            empty_label=None,
            label=_("Piece"),
            error_messages={
                "required": _("Choose the piece."),
                "invalid_choice": _("That piece is not in the mold any more. Choose again."),
            },
        )
        self.fields["at"] = when_field(label=_("Taken out at"))
        self.fields["note"] = TextField(most=NOTE_LENGTH, required=False, label=_("Note"))


class BlockForm(forms.Form):
    """Block a cavity, or free one that is blocked."""

    def __init__(self, *args: Any, mold: Mold, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        cavities = CavityField(
            mold, label=_("Cavity"), error_messages={"required": _("Choose the cavity.")}
        )
        self._blocked = cavities.blocked
        self.fields["cavity"] = cavities
        self.fields["reason"] = TextField(
            most=NOTE_LENGTH,
            required=False,
            label=_("Why"),
            help_text=_("Asked for when a cavity is blocked: the logbook keeps it."),
        )
        self.fields["at"] = when_field()

    @property
    def is_freeing(self) -> bool:
        """Whether the chosen cavity is blocked now."""
        return self.cleaned_data["cavity"].pk in self._blocked


class RunForm(forms.Form):
    """Plan a mold's time in a press."""

    def __init__(self, *args: Any, run: Run | None = None, **kwargs: Any) -> None:
        if run is not None:
            kwargs["initial"] = {
                "press": run.press_id,
                "planned_from": run.planned_from,
                "planned_to": run.planned_to,
                "planned_cycles": run.planned_cycles,
            }
        super().__init__(*args, **kwargs)
        self.fields["press"] = press_field()
        self.fields["planned_from"] = MomentField(
            label=_("From"), error_messages={"required": _("Say when it is to be set.")}
        )
        self.fields["planned_to"] = MomentField(
            required=False,
            label=_("Planned end"),
            help_text=_("With an end the Shift page says when the mold comes down."),
        )
        self.fields["planned_cycles"] = WholeField(
            required=False, least=1, most=2**31 - 1, label=_("Planned"), unit=_("cycles")
        )

    def clean(self) -> dict[str, Any]:
        """Ask for an end that comes after the beginning."""
        data = super().clean() or {}
        begin, end = data.get("planned_from"), data.get("planned_to")
        if begin and end and end <= begin:
            self.add_error("planned_to", _("The end comes before the beginning. Check the two."))
        return data


class ChangeForm(forms.Form):
    """Note a change of the resin, or of the mold itself."""

    change = boxes(
        [
            (Change.RESIN.value, gettext_lazy("another resin")),
            (Change.MOLD.value, gettext_lazy("the mold itself: steel, cooling, gates, vents")),
        ],
        label=gettext_lazy("What was changed"),
        error_messages={"required": gettext_lazy("Choose what was changed.")},
    )
    text = LinesField(
        most=400,
        label=gettext_lazy("In words"),
        error_messages={"required": gettext_lazy("Say what was changed.")},
    )
    resin = TextField(most=120, required=False, label=gettext_lazy("Resin from now on"))
    resin_group = forms.ChoiceField(
        choices=[("", gettext_lazy("as before")), *ResinGroup.choices],
        required=False,
        label=gettext_lazy("Its group"),
    )
    filler = forms.ChoiceField(
        choices=[("", gettext_lazy("as before")), *Filler.choices],
        required=False,
        label=gettext_lazy("Its filler"),
    )
    at = when_field()


class CycleForm(forms.Form):
    """Write down another cycle time."""

    standard_s = DecimalField(
        label=gettext_lazy("Standard cycle time"),
        unit="s",
        required=False,
        least=Decimal("0.01"),
        places=2,
        digits=8,
        help_text=gettext_lazy("Stays empty where it is not known any more."),
    )
    shortest_s = DecimalField(
        label=gettext_lazy("Shortest cycle that is possible"),
        unit="s",
        required=False,
        least=Decimal("0.01"),
        places=2,
        digits=8,
        help_text=gettext_lazy("Readings that would need a shorter one are held."),
    )
    valid_from = MomentField(
        required=False,
        label=gettext_lazy("True from"),
        help_text=gettext_lazy("Now, unless you say otherwise. Held readings are judged again."),
    )
    reason = TextField(
        most=NOTE_LENGTH,
        label=gettext_lazy("Why"),
        error_messages={"required": gettext_lazy("Give the reason: the logbook keeps it.")},
    )


class PreferForm(forms.Form):
    """Decide which of two counters counts."""

    source = boxes(
        [
            ("mold", gettext_lazy("the mold's own counter")),
            ("press", gettext_lazy("the press's counter")),
        ],
        label=gettext_lazy("Which one counts"),
        error_messages={"required": gettext_lazy("Choose the counter that counts.")},
    )
    from_at = MomentField(
        label=gettext_lazy("From"),
        error_messages={"required": gettext_lazy("Say from when on it counts.")},
    )
    to_at = MomentField(
        required=False,
        label=gettext_lazy("Until"),
        help_text=gettext_lazy("From then on for good, unless you give an end."),
    )
    reason = TextField(
        most=NOTE_LENGTH,
        label=gettext_lazy("Why"),
        error_messages={"required": gettext_lazy("Give the reason: the logbook keeps it.")},
    )
