"""What the Shift page shows, read in a number of queries that does not depend on the plant's size.

Lists hold what a person can act on; the rest is counted and linked.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from django.db.models import Count, F, Func, Min, Q, QuerySet, Subquery, Window
from django.utils.translation import gettext as _

from moldcare.care.models import Board, Standing
from moldcare.core.due import State
from moldcare.core.shifts import ShiftCalendar
from moldcare.counters.models import Verdict
from moldcare.counters.queries import held_readings
from moldcare.molds.models import Position
from moldcare.molds.queries import parts_out_of_molds
from moldcare.pages.rule_lines import WORST_FIRST, RuleLine, rule_line
from moldcare.pages.sits import Sits, where_counters_sit
from moldcare.pages.tablet.present import TabletHand, tablet_hands
from moldcare.pages.words import count_words, moment_words
from moldcare.plant.models import Spot
from moldcare.work.models import Order, PartOut
from moldcare.work.queries import parts_out

HANDS_SHOWN = 8
MOLDS_SHOWN = 12
LINES_SHOWN = 5
# the next shifts' work is seen before it is theirs
LOOKED_AHEAD = timedelta(hours=16)


@dataclass(frozen=True, kw_only=True, slots=True)
class Hand:
    """A line of what needs a hand."""

    state: str
    number: str
    mold_id: int | None
    head: str
    say: str
    do: str
    target: int
    place: str = ""


@dataclass(kw_only=True, slots=True)
class MoldEntry:
    """A mold in a list, with the rules that press and how many do not."""

    board: Board
    lines: list[RuleLine] = field(default_factory=list)
    folded: int = 0
    folded_from_at: datetime | None = None
    order: Order | None = None
    along: list[RuleLine] = field(default_factory=list)
    parts_out: list[Position] = field(default_factory=list)
    lying: list[PartOut] = field(default_factory=list)

    @property
    def state(self) -> str:
        """The worst state of the mold's lines, for the edge beside it."""
        states = {line.state for line in self.lines or self.along}
        return next((state for state in WORST_FIRST if state in states), State.NOT_DUE)

    @property
    def when_at(self) -> datetime | None:
        """The earliest instant of the mold's lines."""
        lines = self.lines or self.along
        instants = [line.when_at for line in lines if line.when_at is not None]
        return min(instants, default=None)


@dataclass(kw_only=True, slots=True)
class Section:
    """A list with its total: what is not shown is counted."""

    entries: list[MoldEntry]
    total: int

    @property
    def rest(self) -> int:
        """How many are not shown."""
        return self.total - len(self.entries)

    @property
    def minutes(self) -> int:
        """The work of the lines that press [min]."""
        return sum(line.minutes for entry in self.entries for line in entry.lines)


@dataclass(kw_only=True, slots=True)
class ShiftBoard:
    """Everything that the Shift page and the Wall show."""

    now: datetime
    until: datetime
    ahead: datetime
    hands: list[Hand]
    hands_total: int
    at_press: Section
    on_bench: Section
    coming_down: Section


def shift_board(*, now: datetime, calendar: ShiftCalendar, clock_error: timedelta) -> ShiftBoard:
    """Read the board as it stands now, up to the end of the running or next shift.

    A tablet whose clock is off by more than `clock_error` wants a hand.
    """
    until = calendar.next_shift_end(now) or now + timedelta(hours=8)
    hands, hands_total = _hands(now=now, until=until, clock_error=clock_error)
    boards = Board.objects.all()
    ahead = until + LOOKED_AHEAD
    soon = Q(due_at__lte=ahead) | Q(unsure_at__lte=now) | Q(past_limit_at__lte=now)
    first = (F("due_at").asc(nulls_last=True), F("mold_id").asc())
    at_press = _section(boards.filter(soon, spot_kind=Spot.Kind.PRESS).order_by(*first))
    on_bench = _section(boards.filter(spot_kind=Spot.Kind.BENCH).order_by(*first))
    coming_down = _section(
        boards.filter(spot_kind=Spot.Kind.PRESS, run_ends_at__lte=until).order_by(
            "run_ends_at", "mold_id"
        )
    )
    down = {entry.board.mold_id for entry in coming_down.entries}
    at_press.total -= sum(entry.board.mold_id in down for entry in at_press.entries)
    at_press.entries = [entry for entry in at_press.entries if entry.board.mold_id not in down]
    _fill(
        [*at_press.entries, *on_bench.entries, *coming_down.entries],
        now=now,
        until=until,
        ahead=ahead,
        calendar=calendar,
    )
    at_press.entries.sort(key=lambda entry: (entry.when_at is None, entry.when_at or until))
    return ShiftBoard(
        now=now,
        until=until,
        ahead=ahead,
        hands=hands,
        hands_total=hands_total,
        at_press=at_press,
        on_bench=on_bench,
        coming_down=coming_down,
    )


def _section(rows: QuerySet[Board]) -> Section:
    """Return the first rows of a list and how many it has, in one query."""
    shown = list(_first(rows, size=MOLDS_SHOWN).select_related("mold__owner", "spot"))
    return Section(entries=[MoldEntry(board=row) for row in shown], total=_total(shown))


def _first(rows: QuerySet[Board], *, size: int) -> QuerySet[Board]:
    """Return the first of ordered rows, each with the `total` of all.

    What is joined to them later is looked up for the few that are shown, and not for all that
    are sorted.
    """
    total = rows.order_by().annotate(total=Func(F("pk"), function="COUNT")).values("total")
    return (
        Board.objects.filter(pk__in=rows.values("pk")[:size])
        .annotate(total=Subquery(total))
        .order_by(*rows.query.order_by)
    )


def _total(shown: Sequence[Any]) -> int:
    return int(shown[0].total) if shown else 0


def _fill(
    entries: Sequence[MoldEntry],
    *,
    now: datetime,
    until: datetime,
    ahead: datetime,
    calendar: ShiftCalendar,
) -> None:
    """Give every entry its lines that press, those that may be done along, and its open order."""
    of_mold: dict[int, list[MoldEntry]] = defaultdict(list)
    for entry in entries:
        of_mold[entry.board.mold_id].append(entry)
    pressing = (
        Q(forecast_soon_at__lte=until)
        | Q(due_at__lte=until)
        | Q(past_limit_at__lte=until)
        | Q(deferred_from_at__isnull=False)
        | Q(unsure_at__lte=now)
    )
    rows = Standing.objects.filter(pressing, mold__in=of_mold).select_related("rule__family")
    for row in rows.order_by("forecast_due_at", "rule_id"):
        line = rule_line(row, at=now, calendar=calendar)
        for entry in of_mold[row.mold_id or 0]:
            is_near = presses(line, by=ahead) and len(entry.lines) < LINES_SHOWN
            (entry.lines if is_near else entry.along).append(line)
    others = (
        Standing.objects.filter(mold__in=of_mold)
        .exclude(pk__in=Standing.objects.filter(pressing, mold__in=of_mold).values("pk"))
        .values("mold_id")
        .annotate(rules=Count("pk"), first_at=Min("forecast_due_at"))
    )
    for other in others.order_by():
        for entry in of_mold[other["mold_id"]]:
            entry.folded, entry.folded_from_at = other["rules"], other["first_at"]
    open_orders = Order.objects.filter(
        mold__in=of_mold, signed_at__isnull=True, struck_out_at__isnull=True
    )
    for order in open_orders:
        for entry in of_mold[order.mold_id or 0]:
            entry.order = order
    for mold_id, positions in parts_out_of_molds(of_mold).items():
        for entry in of_mold[mold_id]:
            entry.parts_out = positions
    for part in parts_out(of_mold):
        for entry in of_mold[part.order.mold_id or 0]:
            entry.lying.append(part)


def presses(line: RuleLine, *, by: datetime) -> bool:
    """Return whether a rule belongs above the fold: it is due by an instant, or worse.

    A rule that is due soon by its lead alone may be done along with it.
    """
    if line.state in (State.PAST_LIMIT, State.OVERDUE, State.DUE):
        return True
    return line.when_at is not None and line.when_at <= by


def _hands(*, now: datetime, until: datetime, clock_error: timedelta) -> tuple[list[Hand], int]:
    """Return what needs a hand, the worst first, and how many there are."""
    in_press = Q(spot_kind=Spot.Kind.PRESS)
    rows = Board.objects.filter(
        (in_press & Q(past_limit_at__lte=now))
        | (in_press & Q(unsure_at__lte=now, held_count=0))
        | Q(deferral_ends_at__gt=now, deferral_ends_at__lte=until)
    ).order_by(F("past_limit_at").asc(nulls_last=True), "unsure_at", "mold_id")
    boards = list(
        _first(rows, size=HANDS_SHOWN)
        .select_related("mold", "spot", "mold__life")
        .defer("mold__life__tail", "mold__life__memo", "mold__life__notices")
    )
    held = list(held_readings().annotate(total=Window(Count("*")))[:HANDS_SHOWN])
    hands = [_board_hand(board, now=now) for board in boards]
    sits = where_counters_sit(verdict.reading.counter_id for verdict in held)
    hands += [
        _held_hand(verdict, sits=sits[verdict.reading.counter_id], now=now) for verdict in held
    ]
    of_tablets = [_tablet_hand(each) for each in tablet_hands(now=now, tolerance=clock_error)]
    shown = [*hands[: 2 * HANDS_SHOWN], *of_tablets[:HANDS_SHOWN]]
    return shown, _total(boards) + _total(held) + len(of_tablets)


def _tablet_hand(hand: TabletHand) -> Hand:
    return Hand(
        state=State.DUE,
        number="",
        mold_id=None,
        head=hand.head,
        say=hand.say,
        do="tablet",
        target=0,
    )


def _board_hand(board: Board, *, now: datetime) -> Hand:
    number = board.mold.number
    place = str(board.spot) if board.spot else _("no known place")
    if board.past_limit_at is not None and board.past_limit_at <= now:
        return Hand(
            state=State.PAST_LIMIT,
            number=number,
            mold_id=board.mold_id,
            head=_("Past a hard limit"),
            say=_("since %(when)s. It is in %(place)s and must not go on without a decision.")
            % {"when": moment_words(board.past_limit_at, now=now), "place": place},
            do="decide",
            target=board.mold_id,
        )
    if board.deferral_ends_at is not None and board.deferral_ends_at > now:
        return Hand(
            state=State.DEFERRED,
            number=number,
            mold_id=board.mold_id,
            head=_("A deferral ends"),
            say=_("%(when)s; after that its rule is past its limit.")
            % {"when": moment_words(board.deferral_ends_at, now=now)},
            do="decide",
            target=board.mold_id,
        )
    newest = getattr(board.mold, "life", None)
    read_at = newest.newest_at if newest else None
    return Hand(
        state=State.UNSURE,
        number=number,
        mold_id=board.mold_id,
        head=_("Its counts are unsure."),
        say=(
            _("Last reading %(when)s; it is in %(place)s.")
            % {"when": moment_words(read_at, now=now), "place": place}
            if read_at
            else _("It was never read; it is in %(place)s.") % {"place": place}
        ),
        do="read",
        target=board.mold_id,
    )


def _held_hand(verdict: Verdict, *, sits: Sits, now: datetime) -> Hand:
    reading = verdict.reading
    detail = verdict.detail or {}
    before = detail.get("previous_value")
    value = count_words(reading.value)
    head = {
        "goes_backwards": _("Reading %(value)s goes backwards."),
        "too_fast": _("Reading %(value)s is more than the time allows."),
        "contradicts": _("Reading %(value)s contradicts another of the same instant."),
        "clock_is_off": _("Reading %(value)s comes from a clock that is off."),
    }.get(verdict.reason, _("Reading %(value)s does not fit.")) % {"value": value}
    say = _("Counter %(counter)s, read %(at)s.") % {
        "counter": reading.counter.label,
        "at": moment_words(reading.at, now=now),
    }
    if before is not None:
        say = _("Counter %(counter)s showed %(before)s before; read %(at)s.") % {
            "counter": reading.counter.label,
            "before": count_words(before),
            "at": moment_words(reading.at, now=now),
        }
    return Hand(
        state=State.UNSURE,
        number=sits.number,
        mold_id=sits.mold_id,
        head=head,
        say=say,
        do="look",
        target=verdict.reading_id,
        place=sits.place,
    )
