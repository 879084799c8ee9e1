"""Fields of the floor: a place, a position in the mold, a cavity."""

from collections.abc import Mapping
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext as _

from moldcare.molds.models import (
    Cavity,
    Mold,
    Position,
    sort_key,
)
from moldcare.molds.queries import (
    block_spans,
    components_in,
    set_events_now,
)
from moldcare.plant.models import Spot
from moldcare.plant.queries import spots_in_use

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
