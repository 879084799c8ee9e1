"""Where the counters of a list sit now: on a mold, on a press, or on nothing."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.translation import gettext as _

from moldcare.counters.queries import fittings_now


@dataclass(frozen=True, kw_only=True, slots=True)
class Sits:
    """The mold that a counter sits on, or in words the place that stands in for its plate."""

    mold_id: int | None = None
    number: str = ""
    place: str = ""


def where_counters_sit(counters: Iterable[int]) -> dict[int, Sits]:
    """Return where each counter sits, every one of them: one query."""
    wanted = set(counters)
    found = {counter: Sits(place=_("on nothing now")) for counter in wanted}
    for fitting in fittings_now().filter(counter__in=wanted):
        mold = fitting.mold
        found[fitting.counter_id] = (
            Sits(place=str(fitting.press))
            if mold is None
            else Sits(mold_id=mold.pk, number=mold.number)
        )
    return found
