"""Forms of the floor: each asks what the act needs, and no more."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from moldcare.acts.floor import Change
from moldcare.counters.queries import counters_on_now
from moldcare.molds.models import (
    Cavity,
    Component,
    ConditionNote,
    Filler,
    Mold,
    Position,
    ResinGroup,
    Run,
    sort_key,
)
from moldcare.molds.queries import (
    block_spans,
    components_in,
    components_on_the_shelf,
    set_events_now,
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
from moldcare.pages.floor.readings import OnNow, last_value_words
from moldcare.plant.models import Spot
from moldcare.plant.queries import spots_in_use

NOTE_LENGTH = 200
# above this many places a list is quicker to read than boxes
MOST_BOXES = 12


class SpotField(forms.ChoiceField):
    """A place; its value is the spot. Those with nothing in them come first, 2 before 10."""

    def __init__(self, spots: QuerySet[Spot], *, said: Mapping[int, str], **kwargs: Any) -> None:
        self.spots = {str(spot.pk): spot for spot in spots}
        ordered = sorted(
            self.spots.values(),
            key=lambda spot: (spot.kind, spot.pk in said, sort_key(spot.number)),
        )
        choices = [
            (str(spot.pk), _spot_label(spot, said=said.get(spot.pk, ""))) for spot in ordered
        ]
        if not choices:
            choices = [("", _("none is entered yet"))]
        elif len(choices) > MOST_BOXES:
            choices.insert(0, ("", _("choose")))
        else:
            kwargs["widget"] = forms.RadioSelect
            if not kwargs.get("required", True):
                choices.append(("", _("not known")))
        super().__init__(choices=choices, **kwargs)

    def clean(self, value: Any) -> Any:
        """Return the spot, None where none was chosen."""
        return self.spots.get(super().clean(value))


def _spot_label(spot: Spot, *, said: str) -> str:
    name = f"{spot} {spot.name}".strip()
    return f"{name} ({said})" if said else name


def press_field(**kwargs: Any) -> SpotField:
    """Return the choice of a press, with the mold that each holds."""
    held = {
        event.press_id: _("holds %(mold)s") % {"mold": event.mold.number}
        for event in set_events_now()
    }
    return SpotField(
        spots_in_use(kinds=[Spot.Kind.PRESS]),
        said=held,
        label=_("Press"),
        error_messages={"required": _("Choose the press.")},
        **kwargs,
    )


def rest_field(**kwargs: Any) -> SpotField:
    """Return the choice of a bench, a rack or a place away."""
    kinds = [Spot.Kind.BENCH, Spot.Kind.RACK, Spot.Kind.AWAY]
    return SpotField(
        spots_in_use(kinds=kinds),
        said={},
        label=_("To"),
        error_messages={"required": _("Choose where it goes.")},
        **kwargs,
    )


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


class PositionField(forms.ModelChoiceField):  # type: ignore[type-arg]
    """A position of a mold, with what sits in it."""

    def __init__(self, mold: Mold, **kwargs: Any) -> None:
        positions = Position.objects.filter(mold=mold).order_by("id")
        super().__init__(positions, widget=forms.RadioSelect, empty_label=None, **kwargs)
        self.filled = components_in(list(positions.values_list("pk", flat=True)))

    def label_from_instance(self, obj: Position) -> str:
        """Name the position and the piece in it."""
        piece = self.filled.get(obj.pk)
        name = f"{obj.ident} {obj.name}".strip()
        inside = f"{piece.name} {piece.serial}" if piece else _("empty")
        return f"{name} ({inside})"


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
            error_messages={"required": _("Choose the piece.")},
        )
        self.fields["at"] = when_field(label=_("Taken out at"))
        self.fields["note"] = TextField(most=NOTE_LENGTH, required=False, label=_("Note"))


class CavityField(forms.ModelChoiceField):  # type: ignore[type-arg]
    """A cavity, with what would be done to it."""

    def __init__(self, mold: Mold, **kwargs: Any) -> None:
        cavities = Cavity.objects.filter(mold=mold).order_by("id")
        super().__init__(cavities, widget=forms.RadioSelect, empty_label=None, **kwargs)
        self.blocked = {span.cavity_id: span for span in block_spans(mold) if span.to_at is None}

    def label_from_instance(self, obj: Cavity) -> str:
        """Name the cavity; one that is blocked says why, and that it would be freed."""
        span = self.blocked.get(obj.pk)
        name = f"{obj.ident} {obj.part}".strip()
        if span is None:
            return name
        return _("free %(cavity)s (blocked: %(reason)s)") % {
            "cavity": name,
            "reason": span.reason,
        }


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
        least=0,
        places=2,
        digits=8,
        help_text=gettext_lazy("Stays empty where it is not known any more."),
    )
    shortest_s = DecimalField(
        label=gettext_lazy("Shortest cycle that is possible"),
        unit="s",
        required=False,
        least=0,
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
