"""Whether there is room for a mold: it is in one place at a time, and a press holds one mold."""

from datetime import datetime

from django.utils.translation import gettext as _

from moldcare.acts.errors import DoesNotFit
from moldcare.acts.words import local_words
from moldcare.molds.models import Mold, Move
from moldcare.molds.queries import mold_in_press, moves_around, next_set_in
from moldcare.plant.models import Plant, Spot


def room_to_come(
    mold: Mold, *, spot: Spot, at: datetime, until: datetime | None, plant: Plant
) -> Move | None:
    """Return the move before, once mold and press are known to be free from `at` to `until`."""
    if spot.kind != Spot.Kind.PRESS:
        raise DoesNotFit(_("%(spot)s is no press. Choose a press.") % {"spot": spot})
    before, after = moves_around(mold, at=at)
    refuse_same_instant(before, at=at, plant=plant)
    if before is not None:
        refuse_in_press(before, mold=mold, plant=plant)
    if after is not None and (until is None or after.at <= until):
        raise DoesNotFit(
            _(
                "Mold %(mold)s came to %(spot)s on %(at)s. A run before that ends by then: "
                "enter it with the time it was pulled."
            )
            % {
                "mold": mold.number,
                "spot": after.spot,
                "at": local_words(after.at, plant=plant),
            }
        )
    other = mold_in_press(spot, at=at)
    if other is None:
        other = next_set_in(spot, after=at)
        if other is not None and until is not None and other.at >= until:
            other = None
    if other is not None:
        raise DoesNotFit(
            _("%(spot)s holds mold %(other)s since %(at)s. Enter its pull first, or choose again.")
            % {
                "spot": spot,
                "other": other.mold.number,
                "at": local_words(other.at, plant=plant),
            }
        )
    return before


def refuse_press(spot: Spot) -> None:
    """Raise DoesNotFit where a mold would come to a press without being set."""
    if spot.kind == Spot.Kind.PRESS:
        raise DoesNotFit(
            _("%(spot)s is a press: a mold is set there. Choose a bench, a rack or a place away.")
            % {"spot": spot}
        )


def refuse_in_press(before: Move, *, mold: Mold, plant: Plant) -> None:
    """Raise DoesNotFit where the move before brought the mold into a press."""
    if before.spot.kind == Spot.Kind.PRESS:
        raise DoesNotFit(
            _("Mold %(mold)s is in %(spot)s since %(at)s. Pull it first.")
            % {
                "mold": mold.number,
                "spot": before.spot,
                "at": local_words(before.at, plant=plant),
            }
        )


def refuse_same_instant(before: Move | None, *, at: datetime, plant: Plant) -> None:
    """Raise DoesNotFit where the mold came somewhere at this very instant."""
    if before is not None and before.at == at:
        raise DoesNotFit(
            _("There is a move to %(spot)s at this very time (%(at)s). Give another minute.")
            % {"spot": before.spot, "at": local_words(at, plant=plant)}
        )
