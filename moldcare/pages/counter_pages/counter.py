"""What the page of one counter shows: where it sits, what it showed, and what became of that."""

from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _

from moldcare.core.counting.values import State
from moldcare.counters.models import Counter, CounterFitting, CounterTotal, Reading, Verdict
from moldcare.molds.models import Mold
from moldcare.plant.models import Spot

READINGS_SHOWN = 25


@dataclass(frozen=True, kw_only=True, slots=True)
class ReadingLine:
    """A reading and what became of it."""

    reading: Reading
    state: str
    cycles: int | None


@dataclass(kw_only=True, slots=True)
class CounterPage:
    """Everything that the page of a counter shows."""

    counter: Counter
    now: datetime
    fitting: CounterFitting | None
    total: CounterTotal | None
    lines: list[ReadingLine]
    fittings: list[CounterFitting]

    @property
    def is_fitted(self) -> bool:
        """Whether it sits on a mold or a press."""
        return self.fitting is not None and self.fitting.act == CounterFitting.Act.FITTED

    @property
    def mold(self) -> Mold | None:
        """The mold that it sits on."""
        return self.fitting.mold if self.fitting and self.is_fitted else None

    @property
    def press(self) -> Spot | None:
        """The press that it sits on."""
        return self.fitting.press if self.fitting and self.is_fitted else None


def counter_page(counter: Counter, *, now: datetime) -> CounterPage:
    """Read the page of a counter: four queries."""
    fittings = list(
        CounterFitting.objects.filter(counter=counter)
        .select_related("mold", "press", "person")
        .order_by("-at", "-id")
    )
    readings = Reading.objects.filter(counter=counter).select_related("person", "verdict")
    newest = list(readings.order_by("-at", "-id")[:READINGS_SHOWN])
    return CounterPage(
        counter=counter,
        now=now,
        fitting=fittings[0] if fittings else None,
        total=CounterTotal.objects.filter(pk=counter.pk).first(),
        lines=[_line(reading) for reading in newest],
        fittings=fittings,
    )


def _line(reading: Reading) -> ReadingLine:
    verdict: Verdict | None = getattr(reading, "verdict", None)
    state = verdict.state if verdict else State.HELD
    words = {
        State.ACCEPTED: _("accepted"),
        State.HELD: _("held"),
        State.SET_ASIDE: _("set aside"),
    }
    is_counted = verdict is not None and state == State.ACCEPTED
    return ReadingLine(
        reading=reading,
        state=words[State(state)],
        cycles=verdict.cycles if verdict and is_counted else None,
    )
