"""What the lead of the demo plant sees in the morning: the board, and nothing of the truth."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Q

from moldcare.care.models import Standing
from moldcare.demo.simulation import Simulation

DAY = timedelta(days=1)


@dataclass(frozen=True, kw_only=True, slots=True)
class Line:
    """What the board says of a rule that presses, or will within some weeks."""

    rule_id: int
    mold_id: int
    where: str
    reach: str
    name: str
    minutes: int
    due_at: datetime | None
    overdue_at: datetime | None
    past_at: datetime | None
    forecast_at: datetime | None
    deferred_at: datetime | None
    share: float
    count: int | None
    past_count: int | None
    due_count: int | None
    hard: bool
    event: str

    def presses(self, by: datetime) -> bool:
        """Whether it is due, or will be by then."""
        when = self.due_at or self.forecast_at
        return when is not None and when <= by


_COLUMNS = (
    "rule_id",
    "mold_id",
    "rule__where_done",
    "rule__reach",
    "rule__name",
    "rule__minutes",
    "due_at",
    "overdue_at",
    "past_limit_at",
    "forecast_due_at",
    "deferred_from_at",
    "share",
    "count",
    "past_limit_count",
    "due_count",
    "rule__hard_count",
    "rule__hard_days",
    "rule__event",
)


def read_board(sim: Simulation, now: datetime) -> None:
    """Read what the board says; the lead acts on nothing else."""
    ahead = now + 30 * DAY
    rows = Standing.objects.filter(
        Q(due_at__lte=ahead)
        | Q(forecast_due_at__lte=ahead)
        | Q(past_limit_at__lte=ahead)
        | Q(deferred_from_at__isnull=False)
        | Q(share__gte=0.6),
        mold__isnull=False,
    )
    lines: dict[int, list[Line]] = defaultdict(list)
    for row in rows.order_by("rule_id").values_list(*_COLUMNS):
        line = Line(
            rule_id=row[0],
            mold_id=row[1],
            where=row[2],
            reach=row[3],
            name=row[4],
            minutes=row[5],
            due_at=row[6],
            overdue_at=row[7],
            past_at=row[8],
            forecast_at=row[9],
            deferred_at=row[10],
            share=row[11],
            count=row[12],
            past_count=row[13],
            due_count=row[14],
            hard=row[15] is not None or row[16] is not None,
            event=row[17],
        )
        lines[line.mold_id].append(line)
    sim.board, sim.board_at = lines, now
