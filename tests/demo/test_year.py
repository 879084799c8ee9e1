"""A simulated year, shift by shift: the board speaks up before a hard limit is passed.

The simulator knows the true counts; the board knows only what people handed in, slips and all.
The rates of the slips are invented and are not those that counting handles best.
"""

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date, datetime

import pytest

from moldcare.care.convert import standing_value
from moldcare.care.models import CareRule, Standing
from moldcare.core.due import State, state_at
from moldcare.demo import care
from moldcare.demo.habits import TYPING, Slip
from moldcare.demo.load import load_demo
from moldcare.demo.scoring import Scores
from moldcare.demo.simulation import Simulation
from tests.demo.small_plant import SIX_PRESSES, TWELVE

SAID = {State.DUE, State.OVERDUE, State.PAST_LIMIT, State.DEFERRED, State.UNSURE}
DAY_S = 86_400


@dataclass
class Watch:
    """What the board said at the start of each shift, and which hard limits were truly passed."""

    scores: Scores = field(default_factory=Scores)
    said: dict[int, list[tuple[datetime, State, datetime | None]]] = field(
        default_factory=lambda: defaultdict(list)
    )
    since: dict[int, datetime] = field(default_factory=dict)
    passed: set[int] = field(default_factory=set)
    crossings: list[tuple[str, str, datetime, State]] = field(default_factory=list)
    silent: list[str] = field(default_factory=list)

    def __call__(self, sim: Simulation, at: datetime) -> None:
        self.scores.add_new(sim)
        rows = Standing.objects.filter(rule__in=hard_rules(sim)).select_related("rule__mold")
        for row in rows.order_by("rule_id"):
            standing = standing_value(row)
            self._look(sim, row.rule, at=at)
            self.said[row.rule_id].append((at, state_at(standing, at=at), standing.forecast_due_at))

    def _look(self, sim: Simulation, rule: CareRule, *, at: datetime) -> None:
        """See whether the true count passed the hard limit in the shift before."""
        assert rule.mold is not None
        true = sim.known_now(rule.mold.number, at)
        wear = true.wear[rule.pk]
        if self.since.get(rule.pk) != wear.then:
            self.since[rule.pk] = wear.then
            self.passed.discard(rule.pk)
        by_count = rule.hard_count is not None and true.cycles - wear.cycles_then > rule.hard_count
        days = (at - wear.then).total_seconds() / DAY_S
        by_days = rule.hard_days is not None and days > rule.hard_days
        if rule.pk in self.passed or not (by_count or by_days):
            return
        self.passed.add(rule.pk)
        # the last look was at the start of the shift that passed it: one before is notice
        notice = self.said[rule.pk][-2:-1]
        if not notice:
            return
        when, state, forecast_at = notice[0]
        self.crossings.append((rule.mold.number, rule.name, at, state))
        is_forecast = state is State.DUE_SOON and forecast_at is not None and forecast_at <= at
        if state not in SAID and not is_forecast:
            self.silent.append(f"{rule.mold.number} {rule.name} at {at}: {state} at {when}")


def hard_rules(sim: Simulation) -> list[int]:
    """Rules with a hard limit by count, or by days that go on whatever the mold does."""
    return [
        rule.pk
        for rule in sim.plant.rules.values()
        if rule.hard_count is not None
        or (
            rule.hard_days is not None
            and rule.anchor_on is None
            and rule.calendar_counts == CareRule.CalendarCounts.ALWAYS
        )
    ]


@pytest.mark.once
@pytest.mark.slow
def test_the_board_speaks_up_a_shift_before_a_hard_limit_is_passed(
    fresh_db: None, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    # hard limits close behind the due points, and people who hardly look: nobody is this careless,
    # but limits that are never passed would show nothing
    monkeypatch.setattr(care, "HARD_SHARE", 1.05)
    watch = Watch()
    loaded = load_demo(
        today=date(2026, 11, 25),
        days=365,
        molds=TWELVE,
        presses=SIX_PRESSES,
        by_shift=True,
        diligence=0.05,
        watch=watch,
    )
    watch(loaded.simulation, loaded.simulation.stop)
    with capsys.disabled():
        print(f"\n{watch.scores.table()}")
        print(
            f"missed {loaded.simulation.missed}, refused at once {loaded.simulation.refused}, "
            f"hard limits passed {len(watch.crossings)}"
        )
    assert len(watch.crossings) >= 5, "too few hard limits were passed to show anything"
    assert not watch.silent
    typed = sum(score.handed_in for score in watch.scores.of.values())
    slips = typed - watch.scores.of[Slip.NONE].handed_in
    assert slips >= 60, "too few slips to show anything"
    # one reading in two hundred may be wrong and pass: copied from the shift before, or so little
    # off that it could be true
    assert watch.scores.total("wrongly_accepted") <= typed / 200
    slipped = [watch.scores.of[slip] for slip in TYPING if slip in watch.scores.of]
    held = sum(score.held for score in slipped)
    assert held >= 0.5 * sum(score.handed_in for score in slipped)
    # right readings are held after a wrong one that passed, or where the cycle was made shorter
    assert watch.scores.of[Slip.NONE].wrongly_held <= typed / 80
