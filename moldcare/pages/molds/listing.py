"""The list of molds: which ones, in the order of when, a page at a time."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from urllib.parse import urlencode

from django.core.paginator import Page, Paginator
from django.db.models import Exists, F, OuterRef, Q, QuerySet
from django.utils.translation import gettext as _

from moldcare.care.models import Board, Standing
from moldcare.core.due import State
from moldcare.core.shifts import ShiftCalendar
from moldcare.molds.models import ConditionNote, Mold, Position
from moldcare.molds.queries import conditions_of, molds_matching, parts_out_of_molds
from moldcare.pages.molds.words import target_words
from moldcare.pages.rule_lines import WORST_FIRST, RuleLine, rule_line
from moldcare.plant.models import Spot

MOLDS_A_PAGE = 25
LINES_SHOWN = 2
LONGEST_QUESTION = 120
DOWN, NOWHERE = "down", "nowhere"


@dataclass(frozen=True, kw_only=True, slots=True)
class Wanted:
    """What somebody looks for; anything that is not known is left out."""

    place: str = ""
    state: str = ""
    needs: str = ""
    text: str = ""

    @property
    def query(self) -> str:
        """The same as parameters of an address, without the page."""
        named = {"place": self.place, "state": self.state, "needs": self.needs, "q": self.text}
        return urlencode({name: value for name, value in named.items() if value})

    @property
    def is_all(self) -> bool:
        """Whether nothing was asked for in particular."""
        return not self.query


@dataclass(kw_only=True, slots=True)
class ListedMold:
    """A mold in the list."""

    board: Board
    lines: list[RuleLine] = field(default_factory=list)
    more: int = 0
    rules: int = 0
    parts_out: list[Position] = field(default_factory=list)
    condition: ConditionNote | None = None

    @property
    def mold(self) -> Mold:
        """The mold itself."""
        return self.board.mold

    @property
    def state(self) -> str:
        """The worst state of its rules."""
        states = {line.state for line in self.lines}
        return next((state for state in WORST_FIRST if state in states), State.NOT_DUE)

    @property
    def when_at(self) -> datetime | None:
        """The earliest instant of its lines."""
        return min((line.when_at for line in self.lines if line.when_at), default=None)

    @property
    def is_unfit(self) -> bool:
        """Whether its condition is something to be said beside its name."""
        return (
            self.condition is not None and self.condition.condition != ConditionNote.Condition.FIT
        )


def place_choices() -> list[tuple[str, str]]:
    """Return the places that the list can be narrowed to."""
    return [
        ("", _("anywhere")),
        (Spot.Kind.PRESS, _("in a press")),
        (Spot.Kind.BENCH, _("on a bench")),
        (Spot.Kind.RACK, _("in a rack")),
        (Spot.Kind.AWAY, _("away")),
        (DOWN, _("coming down this shift")),
        (NOWHERE, _("place not known")),
    ]


def state_choices() -> list[tuple[str, str]]:
    """Return the states that the list can be narrowed to."""
    return [
        ("", _("any")),
        (State.DUE_SOON, _("due soon or worse")),
        (State.DUE, _("due or worse")),
        (State.OVERDUE, _("overdue or worse")),
        (State.PAST_LIMIT, _("past limit")),
        (State.UNSURE, _("unsure")),
        (State.DEFERRED, _("deferred")),
    ]


def needs_choices() -> list[tuple[str, str]]:
    """Return what else the list can be narrowed to."""
    return [("", _("whatever")), ("hand", _("a hand")), ("read", _("a reading"))]


def wanted(asked: Mapping[str, str]) -> Wanted:
    """Return what the parameters of an address ask for."""

    def known(name: str, choices: list[tuple[str, str]]) -> str:
        value = asked.get(name, "")
        return value if value in {key for key, _label in choices} else ""

    text = asked.get("q", "").replace("\0", "").strip()[:LONGEST_QUESTION]
    return Wanted(
        place=known("place", place_choices()),
        state=known("state", state_choices()),
        needs=known("needs", needs_choices()),
        text=text,
    )


def listed_boards(ask: Wanted, *, now: datetime, calendar: ShiftCalendar) -> QuerySet[Board]:
    """Return the boards of the molds that are asked for, by when their first rule is due."""
    boards = Board.objects.filter(mold__withdrawn_at__isnull=True)
    boards = boards.select_related("mold__owner", "mold__life", "spot")
    if ask.text:
        boards = boards.filter(mold__in=[mold.pk for mold in molds_matching(ask.text)])
    until = calendar.next_shift_end(now) or now + timedelta(hours=8)
    if ask.place == DOWN:
        boards = boards.filter(spot_kind=Spot.Kind.PRESS, run_ends_at__lte=until)
    elif ask.place:
        boards = boards.filter(spot_kind="" if ask.place == NOWHERE else ask.place)
    if ask.state:
        boards = boards.filter(_in_state(ask.state, now=now))
    if ask.needs == "read":
        boards = boards.filter(unsure_at__lte=now)
    elif ask.needs:
        boards = boards.filter(_needs_a_hand(now=now, until=until))
    return boards.order_by(
        F("due_at").asc(nulls_last=True), F("due_soon_at").asc(nulls_last=True), "mold__sort_key"
    )


def _in_state(state: str, *, now: datetime) -> Q | Exists:
    rules = Standing.objects.filter(mold=OuterRef("mold"))
    match state:
        case State.DUE_SOON:
            return Exists(rules.filter(forecast_soon_at__lte=now)) | Q(due_at__lte=now)
        case State.DUE:
            return Exists(rules.filter(Q(due_at__lte=now) | Q(undeferred_due_at__lte=now)))
        case State.OVERDUE:
            return Exists(rules.filter(Q(overdue_at__lte=now) | Q(past_limit_at__lte=now)))
        case State.PAST_LIMIT:
            return Exists(rules.filter(past_limit_at__lte=now))
        case State.UNSURE:
            return Q(unsure_at__lte=now)
    ends = Q(deferred_until_at__isnull=True) | Q(deferred_until_at__gt=now)
    return Exists(rules.filter(ends, deferred_from_at__isnull=False))


def _needs_a_hand(*, now: datetime, until: datetime) -> Q:
    """See also moldcare.pages.shift.board: the Shift page counts the same."""
    in_press = Q(spot_kind=Spot.Kind.PRESS)
    return (
        (in_press & (Q(past_limit_at__lte=now) | Q(unsure_at__lte=now)))
        | Q(deferral_ends_at__gt=now, deferral_ends_at__lte=until)
        | Q(held_count__gt=0)
    )


def molds_page(
    ask: Wanted, *, number: str, now: datetime, calendar: ShiftCalendar
) -> tuple[Page[Board], list[ListedMold]]:
    """Return a page of the list, with what presses on each mold of it."""
    boards = listed_boards(ask, now=now, calendar=calendar)
    page = Paginator(boards, MOLDS_A_PAGE).get_page(number)
    rows = [ListedMold(board=board) for board in page]
    by_mold = {row.board.mold_id: row for row in rows}
    _fill_lines(by_mold, now=now, calendar=calendar)
    out, conditions = parts_out_of_molds(by_mold), conditions_of(by_mold)
    for mold_id, row in by_mold.items():
        row.parts_out, row.condition = out.get(mold_id, []), conditions.get(mold_id)
    return page, rows


def _fill_lines(
    by_mold: Mapping[int, ListedMold], *, now: datetime, calendar: ShiftCalendar
) -> None:
    """Give every mold the lines that press most, or the next one where none does."""
    standings = Standing.objects.filter(mold__in=list(by_mold), rule__withdrawn_at__isnull=True)
    standings = standings.select_related("rule__family", "rule__position", "rule__circuit")
    lines: dict[int, list[RuleLine]] = {mold_id: [] for mold_id in by_mold}
    for standing in standings.order_by("rule_id"):
        lines[standing.mold_id or 0].append(rule_line(standing, at=now, calendar=calendar))
    for mold_id, found in lines.items():
        found.sort(key=_order)
        pressing = [line for line in found if line.is_pressing]
        row = by_mold[mold_id]
        row.rules = len(found)
        row.lines = (pressing or found[:1])[:LINES_SHOWN]
        row.more = max(0, len(pressing) - LINES_SHOWN)


def _order(line: RuleLine) -> tuple[int, float]:
    when = line.when_at
    return (WORST_FIRST.index(line.state), when.timestamp() if when else float("inf"))


def line_title(line: RuleLine) -> str:
    """Return a rule's name, with what it looks after where that is not the whole mold."""
    target = target_words(line.rule)
    return f"{line.name} ({target})" if target else line.name
