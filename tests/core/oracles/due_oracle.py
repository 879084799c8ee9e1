"""The slow, obvious way to say where a rule stands: walk day by day, and search by halving.

It has its own plain form of everything it is asked, and shares nothing with what it checks.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

DAY = timedelta(days=1)
HOUR = timedelta(hours=1)
HALF_HOUR = timedelta(minutes=30)
MICROSECOND = timedelta(microseconds=1)

#: Days after which walking is given up and the answer is "not known".
FAR_DAYS = 4000


@dataclass(kw_only=True)
class Case:
    """One rule, its mold, and all that happened to both."""

    zone: str = "Europe/Berlin"
    has_shifts: bool = True
    entered_on: date = date(2026, 1, 1)
    first_count: int = 0
    done_at: datetime | None = None
    done_on: date | None = None
    done_count: int | None = None
    newest_at: datetime = datetime(2026, 11, 25, tzinfo=UTC)
    readings: list = field(default_factory=list)
    rate_per_h: float | None = None
    is_in_press: bool = False
    runs: list = field(default_factory=list)
    stored: list = field(default_factory=list)
    pulls: list = field(default_factory=list)
    sets: list = field(default_factory=list)
    opened: list = field(default_factory=list)
    measured: list = field(default_factory=list)
    factor_hundredths: list = field(default_factory=list)
    # Limits, each None when the rule has none of its kind.
    count: dict | None = None
    calendar: dict | None = None
    hours: dict | None = None
    event: dict | None = None
    measure: dict | None = None
    deferral: dict | None = None
    unsure_at: datetime | None = None


@dataclass(kw_only=True)
class Answer:
    """When each state begins, and what has been used."""

    soon_at: datetime | None = None
    due_at: datetime | None = None
    overdue_at: datetime | None = None
    past_at: datetime | None = None
    forecast_soon_at: datetime | None = None
    forecast_due_at: datetime | None = None
    share: float = 0.0
    is_waiting: bool = False
    due_on: date | None = None


def midnight(case: Case, on: date) -> datetime:
    return datetime(on.year, on.month, on.day, tzinfo=ZoneInfo(case.zone)).astimezone(UTC)


def local_date(case: Case, at: datetime) -> date:
    return at.astimezone(ZoneInfo(case.zone)).date()


def shifts_around(case: Case, at: datetime) -> list:
    """Three shifts a day, every day, for a week on both sides of an instant."""
    if not case.has_shifts:
        return []
    zone = ZoneInfo(case.zone)
    found = []
    on = local_date(case, at) - 7 * DAY
    for _ in range(15):
        following = on + DAY
        for start, end, last in ((6, 14, on), (14, 22, on), (22, 6, following)):
            found.append(
                (
                    datetime(on.year, on.month, on.day, start, tzinfo=zone).astimezone(UTC),
                    datetime(last.year, last.month, last.day, end, tzinfo=zone).astimezone(UTC),
                )
            )
        on = following
    return found


def notice_before(case: Case, at: datetime) -> datetime:
    ended = [start for start, end in shifts_around(case, at) if end <= at]
    return ended[-1] if ended else at - 8 * HOUR


def shifts_later(case: Case, at: datetime, n: int) -> datetime:
    if n == 0:
        return at
    ends = [end for start, end in shifts_around(case, at) if start >= at]
    return ends[n - 1] if ends else at + n * 8 * HOUR


def count_at(case: Case, at: datetime) -> int | None:
    before = None
    for reading in case.readings:
        if reading[0] <= at:
            before = reading
        else:
            if before is None:
                return None
            gone = (at - before[0]) // MICROSECOND
            whole = (reading[0] - before[0]) // MICROSECOND
            return before[1] + (reading[1] - before[1]) * gone // whole
    return None if before is None else before[1]


def first_instant_with(case: Case, count: int) -> datetime | None:
    """By halving between the first and the last reading, to the microsecond."""
    if not case.readings or case.readings[-1][1] < count or case.readings[0][1] > count:
        return None
    low, high = case.readings[0][0], case.readings[-1][0]
    if count_at(case, low) >= count:
        return low
    while high - low > MICROSECOND:
        middle = low + (high - low) // MICROSECOND // 2 * MICROSECOND
        if count_at(case, middle) >= count:
            high = middle
        else:
            low = middle
    return high


def base(case: Case) -> tuple:
    """Instant, date and count from which everything counts, and whether work was ever done."""
    if case.done_at is not None:
        at, on = case.done_at, local_date(case, case.done_at)
    elif case.done_on is not None:
        at, on = midnight(case, case.done_on), case.done_on
    elif case.done_count is None:
        return midnight(case, case.entered_on), case.entered_on, case.first_count, False
    else:
        at = first_instant_with(case, case.done_count) if case.count else None
        if at is None:
            at = midnight(case, case.entered_on)
        on = local_date(case, at)
    count = case.done_count
    if count is None and case.count:
        count = count_at(case, at)
        if count is None:
            count = case.first_count
    return at, on, count, True


def later(one: datetime | None, other: datetime) -> datetime | None:
    return None if one is None else max(one, other)


def earliest(*instants: datetime | None) -> datetime | None:
    known = [instant for instant in instants if instant is not None]
    return min(known) if known else None


def part_hundredths(case: Case) -> int:
    """The factors' product in parts of 100 to the power of their number, held above 0.3."""
    product = 1
    for factor in case.factor_hundredths:
        product *= factor
    return max(product, 30 * 100 ** (len(case.factor_hundredths) - 1))


def tenth_up(number: int) -> int:
    tenth = 0
    while tenth * 10 < number:
        tenth += 1
    return tenth


def by_count(case: Case) -> Answer:
    at, _, start, _ = base(case)
    limit = case.count
    n = limit["n"]
    if case.factor_hundredths:
        n = max(1, n * part_hundredths(case) // 100 ** len(case.factor_hundredths))
    lead = limit["lead"]
    rate = case.rate_per_h if case.is_in_press else None
    if lead is None:
        lead = tenth_up(n)
        one_shift = 0
        while rate is not None and one_shift < rate * 8:
            one_shift += 1
        lead = max(lead, one_shift)
    margin = tenth_up(n) if limit["margin"] is None else limit["margin"]
    points = {"soon": start + max(n - lead, 0), "due": start + n, "overdue": start + n + margin}
    if limit["hard"] is not None:
        points["past"] = start + max(limit["hard"], n)
        if points["past"] <= points["overdue"]:
            del points["overdue"]
    newest_at, newest = case.readings[-1]
    answer = Answer(share=max(0, newest - start) / n)
    reached, ahead = {}, {}
    for name, point in points.items():
        if newest >= point:
            passed = first_instant_with(case, point)
            reached[name] = at if passed is None else max(passed, at)
        elif rate is not None:
            ahead[name] = max(newest_at + timedelta(hours=(point - newest) / rate), at)
    answer.soon_at, answer.due_at = reached.get("soon"), reached.get("due")
    answer.overdue_at, answer.past_at = reached.get("overdue"), reached.get("past")
    answer.forecast_soon_at = reached.get("soon") or ahead.get("soon")
    answer.forecast_due_at = reached.get("due") or ahead.get("due")
    return answer


def months_later(on: date, months: int) -> date:
    year, month = on.year, on.month
    for _ in range(abs(months)):
        month += 1 if months > 0 else -1
        if month == 13:
            year, month = year + 1, 1
        if month == 0:
            year, month = year - 1, 12
    day = on.day
    while True:
        try:
            return date(year, month, day)
        except ValueError:
            day -= 1


def step(on: date, unit: str, n: int) -> date:
    if unit == "day":
        return on + n * DAY
    if unit == "week":
        return on + 7 * n * DAY
    return months_later(on, n if unit == "month" else 12 * n)


def by_calendar(case: Case) -> Answer:
    base_at, base_on, _, is_done = base(case)
    limit = case.calendar
    unit, n = limit["unit"], limit["n"]
    if limit["anchor_on"] is None:
        starts_on, due_on = base_on, step(base_on, unit, n)
    else:
        k = 0
        while step(limit["anchor_on"], unit, k * n) <= base_on:
            k += 1
        starts_on = step(limit["anchor_on"], unit, (k - 1) * n)
        due_on = step(limit["anchor_on"], unit, k * n)
        window = limit["window"]
        if window is None:
            window = 0
            while (window + 1) * 5 <= (due_on - starts_on).days:
                window += 1
        if is_done and (due_on - base_on).days <= window:
            starts_on, due_on = due_on, step(limit["anchor_on"], unit, (k + 1) * n)
    length = (due_on - starts_on).days
    lead = length // 10 if limit["lead"] is None else limit["lead"]
    margin = tenth_up(length) if limit["margin"] is None else limit["margin"]
    hard = None if limit["hard"] is None else max(limit["hard"], length)
    start = max(starts_on, base_on)
    to_due = (due_on - start).days

    stays = [
        (local_date(case, a), None if b is None else local_date(case, b)) for a, b in case.stored
    ]

    def is_stored(on: date) -> bool:
        return any(a <= on and (b is None or on < b) for a, b in stays)

    def counts(on: date) -> bool:
        if limit["counts"] == "always":
            return True
        return is_stored(on) == (limit["counts"] == "only_while_stored")

    def walk(days: int) -> date | None:
        on, counted = start, 0
        while counted < days:
            if (on - start).days > FAR_DAYS:
                return None
            counted += counts(on)
            on += DAY
        return on

    due = walk(to_due)
    answer = Answer(due_on=due)
    answer.is_waiting = (
        limit["counts"] == "waits_while_stored"
        and bool(case.stored)
        and case.stored[-1][1] is None
        and due is None
    )
    soon = walk(max(0, to_due - lead))
    overdue = walk(to_due + margin)
    past = None if hard is None else walk(to_due + hard - length)
    if hard is not None and hard - length <= margin:
        overdue = None
    if due is not None:
        answer.due_at = later(midnight(case, due), base_at)
    if soon is not None and not answer.is_waiting:
        answer.soon_at = midnight(case, soon)
    if due is not None and limit["lead"] is None:
        answer.soon_at = earliest(answer.soon_at, notice_before(case, midnight(case, due)))
    answer.soon_at = later(answer.soon_at, base_at)
    if overdue is not None:
        answer.overdue_at = later(midnight(case, overdue), base_at)
    if past is not None:
        answer.past_at = later(midnight(case, past), base_at)
    newest_on = local_date(case, case.newest_at)
    gone = (min(newest_on, start) - base_on).days
    on = start
    while on < newest_on:
        gone += counts(on)
        on += DAY
    answer.share = max(0, gone) / (due_on - base_on).days
    return answer


def by_hours(case: Case) -> Answer:
    """Walk by half hours; all instants of a case lie on them."""
    base_at, _, _, _ = base(case)
    hours = case.hours["hours"]
    if case.factor_hundredths:
        hours = hours * part_hundredths(case) / 100 ** len(case.factor_hundredths)
    hard = case.hours["hard"]
    points = {
        "soon": max(0.0, hours - max(hours / 10, 8)) * 2,
        "due": hours * 2,
        "overdue": (hours + hours / 10) * 2,
    }
    if hard is not None:
        points["past"] = max(hours, hard) * 2
        if points["past"] <= points["overdue"]:
            del points["overdue"]
    answer = Answer()
    reached = {"soon": base_at} if points["soon"] == 0 else {}
    goes_on = bool(case.runs) and case.runs[-1][1] is None
    run, at = 0, base_at
    while at < case.newest_at or (goes_on and len(reached) < len(points)):
        if any(a <= at and (b is None or at < b) for a, b in case.runs):
            for name, point in points.items():
                if name not in reached and run <= point <= run + 1:
                    reached[name] = at + (point - run) * HALF_HOUR
            run += 1
        at += HALF_HOUR
        if at == case.newest_at:
            answer.share = run / 2 / hours
    answer.soon_at, answer.due_at = reached.get("soon"), reached.get("due")
    answer.overdue_at, answer.past_at = reached.get("overdue"), reached.get("past")
    return answer


def by_event(case: Case) -> Answer:
    base_at, _, _, is_done = base(case)
    limit = case.event
    answer = Answer()

    def counts(at: datetime) -> bool:
        return at > base_at if is_done else at >= base_at

    if limit["kind"] == "before_set":
        turns = sorted([(at, "pull") for at in case.pulls] + [(at, "set") for at in case.sets])
        turns = [turn for turn in turns if counts(turn[0])]
        if not is_done and (turns[0][1] == "set" if turns else not case.is_in_press):
            answer.due_at = base_at
        for at, kind in turns:
            if kind == "pull" and answer.due_at is None:
                answer.due_at = at
            if kind == "set" and answer.due_at is not None and answer.overdue_at is None:
                answer.overdue_at = at
    else:
        happened = {"end_of_run": case.pulls, "set": case.sets, "mold_opened": case.opened}
        if limit["kind"] == "back_from_storage":
            for a, b in case.stored:
                if b is None or answer.due_at is not None:
                    continue
                long = (local_date(case, b) - local_date(case, a)).days >= limit["after_days"]
                if b > base_at and long:
                    answer.due_at = b
        else:
            for at in happened[limit["kind"]]:
                if counts(at) and answer.due_at is None:
                    answer.due_at = at
        if answer.due_at is not None:
            answer.overdue_at = shifts_later(case, answer.due_at, limit["margin"])
    if answer.due_at is not None and limit["hard"] is not None:
        answer.past_at = shifts_later(case, answer.due_at, limit["hard"])
        if answer.overdue_at is not None and answer.past_at <= answer.overdue_at:
            answer.overdue_at = None
    answer.soon_at = answer.due_at
    answer.share = 0.0 if answer.due_at is None else 1.0
    return answer


def by_measure(case: Case) -> Answer:
    """Values and limits are whole numbers, so that parts can be compared exactly."""
    base_at, _, _, _ = base(case)
    limit = case.measure
    change = limit["limit"] - limit["baseline"]
    sign = 1 if change > 0 else -1
    answer = Answer()
    for at, value in case.measured:
        if at <= base_at:
            continue
        moved = (value - limit["baseline"]) * sign
        whole = abs(change)
        answer.share = max(0, moved) / whole

        def kept(known: datetime | None, is_reached: bool, at: datetime = at) -> datetime | None:
            return (known or at) if is_reached else None

        answer.soon_at = kept(answer.soon_at, moved * 10 >= whole * 9)
        answer.due_at = kept(answer.due_at, moved >= whole)
        answer.overdue_at = kept(answer.overdue_at, moved * 10 >= whole * 11)
        if limit["hard"] is not None:
            hard = max((limit["hard"] - limit["baseline"]) * sign, whole)
            answer.past_at = kept(answer.past_at, moved >= hard)
            if hard * 10 <= whole * 11:
                answer.overdue_at = None
    return answer


def answer_of(case: Case) -> Answer:
    ways = (
        (case.count, by_count),
        (case.calendar, by_calendar),
        (case.hours, by_hours),
        (case.event, by_event),
        (case.measure, by_measure),
    )
    parts = [way(case) for limit, way in ways if limit is not None]
    whole = Answer()
    for part in parts:
        whole.soon_at = earliest(whole.soon_at, part.soon_at)
        whole.due_at = earliest(whole.due_at, part.due_at)
        whole.overdue_at = earliest(whole.overdue_at, part.overdue_at)
        whole.past_at = earliest(whole.past_at, part.past_at)
        whole.forecast_soon_at = earliest(
            whole.forecast_soon_at, part.soon_at, part.forecast_soon_at
        )
        whole.forecast_due_at = earliest(whole.forecast_due_at, part.due_at, part.forecast_due_at)
        whole.share = max(whole.share, part.share)
        whole.is_waiting = whole.is_waiting or part.is_waiting
        whole.due_on = whole.due_on or part.due_on
    return whole


def state(case: Case, at: datetime) -> str:
    """What the rule says at an instant that is not before the newest fact."""
    answer = answer_of(case)
    deferral = case.deferral
    if deferral is not None:
        base_at, _, _, is_done = base(case)
        is_over = is_done and base_at >= deferral["made_at"]
        if case.done_at is None and case.done_on is not None:
            is_over = case.done_on > local_date(case, deferral["made_at"])
        if case.done_at is None and case.done_on is None:
            is_over = False
        if is_over:
            deferral = None

    def has_come(instant: datetime | None) -> bool:
        return instant is not None and instant <= at

    if deferral is not None:
        is_past = deferral["until_on"] is not None and at >= midnight(case, deferral["until_on"])
        if deferral["until_count"] is not None:
            is_past = is_past or case.readings[-1][1] >= deferral["until_count"]
        return "past_limit" if is_past else "deferred"
    if has_come(answer.past_at):
        return "past_limit"
    if has_come(answer.overdue_at):
        return "overdue"
    if has_come(answer.due_at):
        return "due"
    if case.count is not None and has_come(case.unsure_at):
        return "unsure"
    if has_come(answer.soon_at) or has_come(answer.forecast_soon_at):
        return "due_soon"
    return "waiting" if answer.is_waiting else "not_due"
