"""Comparing what was handed in with the truth: what was held, and what slipped through."""

from collections import Counter as Tally
from dataclasses import dataclass, field

from moldcare.core.counting.values import State
from moldcare.counters.models import Verdict
from moldcare.demo.habits import Slip
from moldcare.demo.simulation import LoggedReading, Simulation

# a wrong value that is off by less than this does no harm to any limit [cycles]
HARMLESS = 25


@dataclass(slots=True)
class Score:
    """How the readings of one kind of slip were taken at the end of the shift they came in."""

    handed_in: int = 0
    held: int = 0
    wrongly_accepted: int = 0
    wrongly_held: int = 0
    worst: int = 0


@dataclass(slots=True)
class Scores:
    """Scores by kind of slip; `seen` readings of the simulation's log are in them."""

    seen: int = 0
    of: dict[Slip, Score] = field(default_factory=dict)

    def add_new(self, sim: Simulation) -> None:
        """Score the readings that came in since the last time."""
        fresh = sim.log[self.seen :]
        self.seen = len(sim.log)
        if not fresh:
            return
        states = dict(
            Verdict.objects.filter(pk__in=[each.reading_id for each in fresh]).values_list(
                "reading_id", "state"
            )
        )
        for each in fresh:
            self._add(each, state=states.get(each.reading_id))

    def _add(self, each: LoggedReading, *, state: int | None) -> None:
        score = self.of.setdefault(each.slip, Score())
        score.handed_in += 1
        is_right = each.value == each.true_value
        if state == State.HELD:
            score.held += 1
            score.wrongly_held += is_right and each.slip is not Slip.COUNTER_RESET
        elif state == State.ACCEPTED and abs(each.value - each.true_value) > HARMLESS:
            score.wrongly_accepted += 1
            score.worst = max(score.worst, abs(each.value - each.true_value))

    def table(self) -> str:
        """Return one line a kind of slip."""
        head = f"{'kind of slip':<28} {'handed in':>9} {'held':>6} {'wrongly accepted':>17}"
        lines = [f"{head} {'wrongly held':>13} {'worst':>9}"]
        for slip in Slip:
            if slip not in self.of:
                continue
            score = self.of[slip]
            lines.append(
                f"{slip.value or 'none':<28} {score.handed_in:>9} {score.held:>6} "
                f"{score.wrongly_accepted:>17} {score.wrongly_held:>13} {score.worst:>9}"
            )
        return "\n".join(lines)

    def total(self, name: str) -> int:
        """Return one figure over all kinds."""
        return sum(Tally({slip: getattr(score, name) for slip, score in self.of.items()}).values())
