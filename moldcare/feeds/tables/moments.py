"""When each row was read: date and time of its cells as one instant, with few look-ups."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from moldcare.feeds.tables.clock import Day, Never, Twice, day_of, instant_of
from moldcare.feeds.tables.clock_changes import Wall, clock_problem
from moldcare.feeds.tables.date_order import DateDecision, DateEvidence, date_from
from moldcare.feeds.tables.dates import moment_parts, seconds_of_day, with_offset, written_date
from moldcare.feeds.tables.problems import flawed, refused, too_long, waiting
from moldcare.feeds.tables.questions import Question
from moldcare.feeds.tables.rows import LONGEST_FACT, Flaw, Row, cell, held
from moldcare.feeds.tables.verdicts import Problem

#: Texts kept in a memory of look-ups; beyond, it starts afresh so that it stays bounded.
REMEMBERED_TEXTS: Final = 100_000
DAY_SECONDS: Final = 86_400


@dataclass(slots=True)
class MomentEvidence:
    """What the date cells of a table say, gathered before any is read."""

    dates: DateEvidence = field(default_factory=DateEvidence)
    first_without_time: tuple[int, str] | None = None
    seen: set[str] = field(default_factory=set)
    dates_met: set[str] = field(default_factory=set)
    seen_too_many: bool = False

    def add(self, row: Row, *, date_place: int, time_place: int | None) -> None:
        """Take one row into account."""
        what = held(row, place=date_place)
        text = cell(row, place=date_place)
        if what is not None and isinstance(what.value, date):
            if not _shows_time(what.value, what.number_format) and not _has_time(row, time_place):
                self.first_without_time = self.first_without_time or (row.number, text)
            return
        if not text or len(text) > LONGEST_FACT:
            return
        date_text, time_text = moment_parts(text)
        if date_text not in self.seen:
            if len(self.seen) >= REMEMBERED_TEXTS:
                self.seen.clear()
                self.dates_met.clear()
                self.seen_too_many = True
            self.seen.add(date_text)
            written = written_date(date_text)
            if written is not None:
                self.dates.add(written, text=date_text, row=row.number)
                self.dates_met.add(date_text)
        if not time_text and self.first_without_time is None and not _has_time(row, time_place):
            written = written_date(date_text)
            if written is not None and not (written.serial or 0) % 1:
                self.first_without_time = (row.number, text)


def _has_time(row: Row, time_place: int | None) -> bool:
    return bool(cell(row, place=time_place))


def _shows_time(value: date, number_format: str) -> bool:
    """Take a workbook's midnight for a time only where its format shows one."""
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


def day_written(text: str, *, decision: DateDecision) -> date | Problem:
    """Read a date as decided for its column, or say why it is none or what it waits for."""
    written = written_date(text)
    if written is None:
        return refused(_("“%(text)s” is not a date.") % {"text": text})
    found = date_from(written, decision=decision, text=text)
    if isinstance(found, date):
        return found
    waits = (written.parts is not None and decision.order is None) or (
        written.serial is not None and decision.serial_epoch is None
    )
    return waiting(found) if waits else refused(found)


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
        """Read date and time of a row: local, or an instant with its offset, or why neither."""
        if date_place is None:
            return self.for_all()
        what = held(row, place=date_place)
        text = cell(row, place=date_place)
        if what is not None:
            if isinstance(what.value, date):
                return self._of_workbook(
                    row, value=what.value, format_=what.number_format, time_place=time_place
                )
            if what.flaw in {Flaw.ERROR, Flaw.NOT_CALCULATED}:
                return flawed(what.flaw, text=text)
        if not text:
            return refused(_("This row names no date."))
        if len(text) > LONGEST_FACT:
            return too_long(_("date"))
        date_text, time_text = moment_parts(text)
        day = self.days.get(date_text)
        if day is None:
            day = self.day(date_text)
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
        """Give the instant of a local date and time."""
        day, seconds = wall
        if seconds is None:
            return waiting(_("This row names a day but no time; say when counters were read."))
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
        return clock_problem(found, wall=wall, zone=self.zone)

    def is_plain_day(self, text: str) -> bool:
        """Say whether a date, with or without a time, is known to have no clock change."""
        day = self.days.get(moment_parts(text)[0])
        return day is not None and not isinstance(day, Problem) and day.is_plain

    def instants(self, wall: Wall) -> datetime | Twice | Never:
        """Give the instant of a local time that may come twice or never."""
        midnight = datetime.combine(wall.day.date, time())
        return instant_of(midnight + timedelta(seconds=wall.seconds or 0), zone=self.zone)

    def for_all(self) -> Wall | datetime | Problem:
        """Read the one instant that a person gave for all rows."""
        text = self.answers.get("at_for_all", "")
        instant = with_offset(text)
        if instant is not None:
            return instant.astimezone(UTC)
        try:
            moment = datetime.fromisoformat(text)
        except ValueError:
            return waiting(_("Nothing says when this row was read."))
        since = moment - datetime.combine(moment.date(), time())
        return Wall(self.on(moment.date()), int(since.total_seconds()))

    def _of_workbook(
        self, row: Row, *, value: date, format_: str, time_place: int | None
    ) -> Wall | datetime | Problem:
        on = value.date() if isinstance(value, datetime) else value
        day = self.on(on)
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
        if len(text) > LONGEST_FACT:
            return too_long(_("time"))
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
                return refused(_("“%(text)s” is not a time.") % {"text": time_text})
            if len(self.times) >= REMEMBERED_TEXTS:
                self.times.clear()
            self.times[time_text] = seconds
        return seconds

    def day(self, date_text: str) -> Day | Problem:
        """Read a date, and keep it for the next row that has it."""
        if len(self.days) >= REMEMBERED_TEXTS:
            self.days.clear()
        found = day_written(date_text, decision=self.decision)
        day = found if isinstance(found, Problem) else self.on(found)
        self.days[date_text] = day
        return day

    def on(self, on: date) -> Day:
        """Give a local date with its midnight, looked up once."""
        day = self.days_by_date.get(on)
        if day is None:
            day = self.days_by_date[on] = day_of(on, zone=self.zone)
        return day
