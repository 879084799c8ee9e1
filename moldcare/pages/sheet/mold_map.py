"""The places of a mold that a step may ask for, as its map shows them: cavities and positions."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from moldcare.molds.models import Cavity, Mold, Position


@dataclass(frozen=True, kw_only=True, slots=True)
class MapPlace:
    """One place on the map: the sign on it, and the words that are written down."""

    sign: str
    value: str
    name: str = ""
    pk: int | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class MoldMap:
    """What a mold's halves show to whoever stands before them."""

    cavities: Sequence[MapPlace] = ()
    positions: Sequence[MapPlace] = ()

    def __bool__(self) -> bool:
        """Return whether there is anything to pick."""
        return bool(self.cavities or self.positions)

    @property
    def values(self) -> list[str]:
        """Return the words of all places."""
        return [place.value for place in (*self.cavities, *self.positions)]


def mold_map(mold: Mold | None) -> MoldMap:
    """Return the map of a mold in two queries; of cavities that have no row, by their number."""
    if mold is None:
        return MoldMap()
    idents = list(Cavity.objects.filter(mold=mold).order_by("id").values_list("ident", flat=True))
    if not idents:
        idents = [str(at) for at in range(1, mold.cavity_count + 1)]
    return MoldMap(
        cavities=[
            MapPlace(sign=ident, value=_("cavity %(ident)s") % {"ident": ident}) for ident in idents
        ],
        positions=[
            MapPlace(sign=row.ident, value=row.ident, name=row.name, pk=row.pk)
            for row in Position.objects.filter(mold=mold).order_by("id")
        ],
    )
