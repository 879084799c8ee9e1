"""When each row was read: date and time of its cells as one instant, with few look-ups."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from typing import Final, NamedTuple
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from moldcare.feeds.tables.clock import Day, Never, Twice, day_of, instant_of
from moldcare.feeds.tables.dates import (
    DateDecision,
    DateEvidence,
    date_from,
    moment_parts,
    seconds_of_day,
    with_offset,
    written_date,
)
from moldcare.feeds.tables.layout import cell, held
from moldcare.feeds.tables.questions import Choice, Question
from moldcare.feeds.tables.rows import Flaw, Row
from moldcare.feeds.tables.verdicts import Problem, Proposal, Verdict

#: Texts kept in a memory of look-ups; beyond, it starts afresh so that it stays bounded.
REMEMBERED_TEXTS: Final = 100_000
DAY_SECONDS: Final = 86_400


class Wall(NamedTuple):
    """A local date and the seconds since its midnight, None where no time is given."""

    day: Day
    seconds: int | None


@dataclass(slots=True)
class MomentEvidence:
    """What the date cells of a table say, gathered before any is read."""

    dates: DateEvidence = field(default_factory=DateEvidence)
    first_without_time: tuple[int, str] | None = None
    seen: set[str] = field(default_factory=set)

    def add(self, row: Row, *, date_place: int, time_place: int | None) -> None:
        """Take one row into account."""
        what = held(row, place=date_place)
        text = cell(row, place=date_place)
        if what is not None and isinstance(what.value, date):
            if not _shows_time(what.value, what.number_format) and not _has_time(row, time_place):
                self.first_without_time = self.first_without_time or (row.number, text)
            return
        if not text:
            return
        date_text, time_text = moment_parts(text)
        if date_text not in self.seen:
            if len(self.seen) >= REMEMBERED_TEXTS:
                self.seen.clear()
            self.seen.add(date_text)
            written = written_date(date_text)
            if written is None:
                return
            self.dates.add(written, text=date_text, row=row.number)
        if not time_text and self.first_without_time is None and not _has_time(row, time_place):
            written = written_date(date_text)
            if written is not None and not (written.serial or 0) % 1:
                self.first_without_time = (row.number, text)


def _has_time(row: Row, time_place: int | None) -> bool:
    return bool(cell(row, place=time_place))


def _shows_time(value: date, number_format: str) -> bool:
    """A workbook's midnight is a time only where its format shows one."""
    if not isinstance(value, datetime):
        return False
    return value.time() != time() or "h" in number_format.casefold()


def time_of_day_question(found: tuple[int, str]) -> Question:
    """Ask for the time at which counters were read, where rows name only a day."""
    row, text = found
    return Question(
        key="time_of_day",
        text=_(
            "“%(text)s” in row %(row)d names a day but no time. At what time were the counters "
            "read (for example 06:00)?"
        )
        % {"text": text, "row": row},
    )


@dataclass(slots=True)
class MomentReader:
    """Reads the instant of each row, as decided for the whole column.

    Parameters
    ----------
    decision : DateDecision
        Order of day and month.
    zone : ZoneInfo
        The plant's; times without offset are wall times there.
    answers : mapping
        "time_of_day", "at_for_all", "clock_twice", "clock_never" and "clock:<row>".
    settled : dict of (int, int) to datetime
        Instants of times that come twice, where the file's order settled them, by row and place
        of the value.
    """

    decision: DateDecision
    zone: ZoneInfo
    answers: Mapping[str, str]
    settled: dict[tuple[int, int], datetime] = field(default_factory=dict)
    days: dict[str, Day | Problem] = field(default_factory=dict)
    times: dict[str, int | None] = field(default_factory=dict)
    days_by_date: dict[date, Day] = field(default_factory=dict)

    def wall(
        self, row: Row, *, date_place: int | None, time_place: int | None
    ) -> Wall | datetime | Problem:
        """Local date and time of a row, an instant where it has its own offset, or why neither."""
        if date_place is None:
            return self._for_all()
        what = held(row, place=date_place)
        text = cell(row, place=date_place)
        if what is not None:
            if isinstance(what.value, date):
                return self._of_workbook(
                    row, value=what.value, format_=what.number_format, time_place=time_place
                )
            if what.flaw in {Flaw.ERROR, Flaw.NOT_CALCULATED}:
                return flaw_problem(what.flaw, text=text)
        if not text:
            return _refused(_("This row names no date."))
        date_text, time_text = moment_parts(text)
        day = self.days.get(date_text)
        if day is None:
            day = self._day(date_text)
        if isinstance(day, Problem):
            return day
        if time_text:
            seconds = self.times.get(time_text)
            if seconds is None:
                found = self._seconds(time_text, text=text)
                if not isinstance(found, int):
                    return found
                seconds = found
            return Wall(day, seconds)
        written = written_date(date_text)
        if written is not None and written.serial and written.serial % 1:
            return Wall(day, round(written.serial % 1 * DAY_SECONDS))
        return self._with_time_cell(row, day=day, time_place=time_place)

    def instant(self, wall: Wall, *, row: int, place: int) -> datetime | Problem:
        """The instant of a local date and time."""
        day, seconds = wall
        if seconds is None:
            return Problem(
                verdict=Verdict.NEEDS_ANSWER,
                reason=_("This row names a day but no time; say when counters were read."),
            )
        if day.is_plain:
            return day.midnight + timedelta(seconds=seconds)
        found = self.instants(wall)
        if isinstance(found, datetime):
            return found
        settled = self.settled.get((row, place))
        if settled is not None:
            return settled
        if isinstance(found, Twice):
            answer = self.answers.get(f"clock:{row}", self.answers.get("clock_twice"))
            known = {"first": found.first, "second": found.second}
        else:
            answer = self.answers.get(f"clock:{row}", self.answers.get("clock_never"))
            known = {"moved_on": found.moved_on, "moved_back": found.moved_back}
        if answer in known:
            return known[answer]
        return _clock_problem(found, wall=wall, zone=self.zone)

    def instants(self, wall: Wall) -> datetime | Twice | Never:
        """The instant of a local time that may come twice or never."""
        midnight = datetime.combine(wall.day.date, time())
        return instant_of(midnight + timedelta(seconds=wall.seconds or 0), zone=self.zone)

    def _for_all(self) -> Wall | datetime | Problem:
        text = self.answers.get("at_for_all", "")
        instant = with_offset(text)
        if instant is not None:
            return instant.astimezone(UTC)
        try:
            moment = datetime.fromisoformat(text)
        except ValueError:
            return Problem(
                verdict=Verdict.NEEDS_ANSWER, reason=_("Nothing says when this row was read.")
            )
        return Wall(self._on(moment.date()), moment.hour * 3600 + moment.minute * 60)

    def _of_workbook(
        self, row: Row, *, value: date, format_: str, time_place: int | None
    ) -> Wall | datetime | Problem:
        on = value.date() if isinstance(value, datetime) else value
        day = self._on(on)
        if isinstance(value, datetime) and _shows_time(value, format_):
            since = value - datetime.combine(on, time())
            return Wall(day, int(since.total_seconds()))
        return self._with_time_cell(row, day=day, time_place=time_place)

    def _with_time_cell(
        self, row: Row, *, day: Day, time_place: int | None
    ) -> Wall | datetime | Problem:
        what = held(row, place=time_place)
        text = cell(row, place=time_place)
        if what is not None:
            value = what.value
            if isinstance(value, datetime):
                value = value.time()
            if isinstance(value, time):
                return Wall(day, value.hour * 3600 + value.minute * 60 + value.second)
            if isinstance(value, timedelta) and 0 <= value.total_seconds() <= DAY_SECONDS:
                return Wall(day, int(value.total_seconds()))
        if not text:
            answer = self.answers.get("time_of_day")
            return Wall(day, seconds_of_day(answer) if answer else None)
        found = self._seconds(text, text=text)
        return Wall(day, found) if isinstance(found, int) else found

    def _seconds(self, time_text: str, *, text: str) -> int | datetime | Problem:
        seconds = self.times.get(time_text)
        if seconds is None:
            seconds = seconds_of_day(time_text)
            if seconds is None:
                instant = with_offset(text)
                if instant is not None:
                    return instant.astimezone(UTC)
                return _refused(_("“%(text)s” is not a time.") % {"text": time_text})
            self.times[time_text] = seconds
        return seconds

    def _day(self, date_text: str) -> Day | Problem:
        if len(self.days) >= REMEMBERED_TEXTS:
            self.days.clear()
        written = written_date(date_text)
        day: Day | Problem
        if written is None:
            day = _refused(_("“%(text)s” is not a date.") % {"text": date_text})
        else:
            found = date_from(written, decision=self.decision, text=date_text)
            waits = (written.parts is not None and self.decision.order is None) or (
                written.serial is not None and self.decision.serial_epoch is None
            )
            if not isinstance(found, str):
                day = self._on(found)
            elif waits:
                day = Problem(verdict=Verdict.NEEDS_ANSWER, reason=found)
            else:
                day = _refused(found)
        self.days[date_text] = day
        return day

    def _on(self, on: date) -> Day:
        day = self.days_by_date.get(on)
        if day is None:
            day = self.days_by_date[on] = day_of(on, zone=self.zone)
        return day


def flaw_problem(flaw: Flaw, *, text: str) -> Problem:
    """Why a workbook's cell cannot be used."""
    reason = {
        Flaw.ERROR: _("The cell holds the error “%(text)s”."),
        Flaw.NOT_CALCULATED: _(
            "The cell holds a formula whose result was not saved. Open the workbook in a "
            "spreadsheet and save it."
        ),
        Flaw.TOO_LONG: _(
            "“%(text)s” is longer than the 15 digits that a spreadsheet keeps; the last may be "
            "lost. Enter it as text."
        ),
    }[flaw]
    return _refused(reason % {"text": text})


def _refused(reason: str) -> Problem:
    return Problem(verdict=Verdict.REFUSED, reason=reason)


def _clock_problem(found: Twice | Never, *, wall: Wall, zone: ZoneInfo) -> Problem:
    at = datetime.combine(wall.day.date, time()) + timedelta(seconds=wall.seconds or 0)
    shown = {"at": at.isoformat(sep=" ", timespec="minutes")}
    if isinstance(found, Twice):
        reason = _("%(at)s comes twice: the clock is put back that night.") % shown
        instants = {"first": found.first, "second": found.second}
    else:
        reason = _("%(at)s does not exist: the clock is put forward over it.") % shown
        instants = {"moved_on": found.moved_on, "moved_back": found.moved_back}
    return Problem(
        verdict=Verdict.NEEDS_ANSWER,
        reason=reason,
        proposals=tuple(
            Proposal(value=value, text=_local(instant, zone=zone))
            for value, instant in instants.items()
        ),
    )


def clock_question(found: Twice | Never, *, wall: Wall, row: int, zone: ZoneInfo) -> Question:
    """Ask which instant a time that comes twice or never is, for all such rows."""
    problem = _clock_problem(found, wall=wall, zone=zone)
    return Question(
        key="clock_twice" if isinstance(found, Twice) else "clock_never",
        text=_("Row %(row)d: %(reason)s Which time was it?")
        % {"row": row, "reason": problem.reason},
        choices=tuple(
            Choice(value=proposal.value, text=proposal.text) for proposal in problem.proposals
        ),
    )


def _local(instant: datetime, *, zone: ZoneInfo) -> str:
    local = instant.astimezone(zone)
    return f"{local:%Y-%m-%d %H:%M} {local.tzname()}"


class Reading(NamedTuple):
    """One reading of a night on which the clock is changed."""

    row: int
    place: int
    instants: tuple[datetime, ...]
    value: int | None


def settled_by_order(readings: list[Reading]) -> dict[tuple[int, int], datetime]:
    """Which of two instants each reading of one counter on one night was, where only one will do.

    Parameters
    ----------
    readings : list of Reading
        In the file's order.

    Returns
    -------
    dict of (int, int) to datetime
        By row and place, those that are settled.

    Notes
    -----
    Values that never fall show that the file runs forward in time, values that never rise that it
    runs backward. Then each reading must be later than the one before it (or at the same instant,
    where the values are the same). The earliest and the latest series of instants that obey this
    are laid; where both give a reading the same instant, that is it.
    """
    values = [reading.value for reading in readings if reading.value is not None]
    pairs = list(zip(values, values[1:], strict=False))
    rises = all(first <= second for first, second in pairs)
    falls = all(first >= second for first, second in pairs)
    if rises == falls or len(values) != len(readings):
        return {}
    ordered = readings if rises else readings[::-1]
    earliest = _series(ordered, is_forward=True)
    latest = _series(ordered[::-1], is_forward=False)
    if earliest is None or latest is None:
        return {}
    return {
        (reading.row, reading.place): first
        for reading, first, last in zip(ordered, earliest, latest[::-1], strict=True)
        if first == last and len(reading.instants) > 1
    }


def _series(ordered: list[Reading], *, is_forward: bool) -> list[datetime] | None:
    series: list[datetime] = []
    for place, reading in enumerate(ordered):
        possible = list(reading.instants)
        if series:
            is_same = reading.value == ordered[place - 1].value
            last = series[-1]
            possible = [
                instant
                for instant in possible
                if (instant > last if is_forward else instant < last)
                or (is_same and instant == last)
            ]
        if not possible:
            return None
        series.append(min(possible) if is_forward else max(possible))
    return series
