"""Bringing in many readings at once: the bulk path of the same rules."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any, NamedTuple, Protocol

from django.db import connection
from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing, once
from moldcare.acts.entries import plant_entry
from moldcare.acts.locks import lock_chain
from moldcare.acts.refresh import refresh_counts, refresh_readings
from moldcare.acts.rights import Right, require
from moldcare.bulk import insert_values, which_are_there
from moldcare.core.counting import check_entry
from moldcare.core.errors import ReadingRefused
from moldcare.counters.convert import microseconds, setup_of
from moldcare.counters.models import Counter, Reading, ReadingDecision, Unassigned
from moldcare.counters.queries import (
    judged_in_batch,
    lock_counters,
    newest_instants,
    newest_reading_number,
    taken_back_among,
)
from moldcare.counters.sitting import Sitting
from moldcare.logbook.append import plant_chain
from moldcare.plant.queries import the_plant

#: Different instants whose form for the database is kept.
INSTANTS_KEPT = 20_000

_COLUMNS = ("counter", "at", "value", "source", "person", "batch_id", "note", "written_at")
_NAMES = ("counter", "at", "value")


class FileReading(NamedTuple):
    """A reading as a file brings it, its counter known."""

    counter: int
    at: datetime
    value: int
    source: str = Reading.Source.FILE
    note: str = ""


class Duplicate(NamedTuple):
    """The reading was there already, or came earlier in the same file."""


class Anew(NamedTuple):
    """The reading was there, set aside with an import that was taken back: it is judged anew."""


class Refused(NamedTuple):
    """The reading cannot be one at all, and why."""

    reason: str


Taken = Duplicate | Anew | Refused | None
"""What became of a reading at the door; None where it is stored."""

_DUPLICATE, _ANEW = Duplicate(), Anew()


class Intake:
    """Takes in readings in the order of a file, many at a time, inside one transaction.

    Everything that it looks at is read once: counters, where they sat, their newest readings. All
    counters are locked until the transaction ends.
    """

    def __init__(self, doing: Doing, *, batch: int) -> None:
        self.doing = doing
        self.batch = batch
        self.counters = Counter.objects.in_bulk()
        lock_counters(self.counters)
        self.sitting = Sitting()
        self.before = self.last = newest_reading_number()
        self.fresh: set[int] = set()
        #: Arrival numbers of readings that are judged anew, with their counters.
        self.anew: dict[int, int] = {}
        self.stored = 0
        self._clock_error = timedelta(seconds=the_plant().clock_error_s)
        self._latest = doing.now + self._clock_error
        self._wraps = {key: setup_of(row).wrap for key, row in self.counters.items()}
        self._newest: dict[int, datetime | None] = {}
        self._ready: dict[datetime, Any] = {}
        self._longest = Reading._meta.get_field("note").max_length or 0

    def take(self, readings: Sequence[FileReading]) -> list[Taken]:
        """Store readings and return what became of each, in their order."""
        self._look_up({reading.counter for reading in readings})
        taken: list[Taken] = [None] * len(readings)
        older: list[int] = []
        for place, reading in enumerate(readings):
            reason = self.reason_against(reading)
            if reason is not None:
                taken[place] = Refused(reason)
                continue
            newest = self._newest[reading.counter]
            if newest is None or reading.at > newest:
                self._newest[reading.counter] = reading.at
            else:
                older.append(place)
        if older:
            self._find_duplicates(readings, older=older, taken=taken)
        now = self.ready(self.doing.now)
        person = self.doing.person.pk
        rows = [
            (
                reading.counter,
                self.ready(reading.at),
                reading.value,
                reading.source,
                person,
                self.batch,
                reading.note,
                now,
            )
            for reading, became in zip(readings, taken, strict=True)
            if became is None
        ]
        self.stored += insert_values(Reading, _COLUMNS, rows)
        self.fresh.update(row[0] for row in rows)
        return taken

    def reason_against(self, reading: FileReading) -> str | None:
        """Return why a reading cannot be one at all; None where it can."""
        wrap = self._wraps[reading.counter]
        first = self.sitting.first_fitted.get(reading.counter)
        if len(reading.note) > self._longest:
            return _("The note has %(n)d signs; at most %(most)d fit.") % {
                "n": len(reading.note),
                "most": self._longest,
            }
        if (
            (wrap is None or reading.value < wrap)
            and reading.at <= self._latest
            and (first is None or reading.at >= first)
            and "\0" not in reading.note
        ):
            return None
        if "\0" in reading.note:
            return _("The note holds a zero byte, which cannot be stored.")
        try:
            check_entry(
                reading.value,
                at_us=microseconds(reading.at),
                received_us=microseconds(self.doing.now),
                setup=setup_of(self.counters[reading.counter]),
                fitted_from_us=None if first is None else microseconds(first),
                clock_error_us=self._clock_error // timedelta(microseconds=1),
            )
        except ReadingRefused as error:
            return str(error)
        return None

    def find(self, readings: Sequence[FileReading]) -> dict[int, int]:
        """Return the arrival numbers of readings that are stored, by place in the sequence."""
        return which_are_there(Reading, _NAMES, [self._key(reading) for reading in readings])

    def leave(self, rows: Sequence[tuple[str, datetime | None, str]]) -> None:
        """Keep values of what is not ours: (subject, read at, value); known ones only once."""
        subjects = {row[0] for row in rows}
        known = set(
            Unassigned.objects.filter(subject__in=subjects).values_list("subject", "at", "value")
        )
        fresh = [row for row in dict.fromkeys(rows) if row not in known]
        now = self.ready(self.doing.now)
        insert_values(
            Unassigned,
            ("subject", "at", "value", "source", "batch_id", "person", "written_at"),
            [
                (
                    subject,
                    None if at is None else self.ready(at),
                    value,
                    Reading.Source.FILE,
                    self.batch,
                    self.doing.person.pk,
                    now,
                )
                for subject, at, value in fresh
            ],
        )

    def judge_anew(self) -> None:
        """Let readings be judged anew that were set aside with an import and are here again."""
        if not self.anew:
            return
        now = self.ready(self.doing.now)
        kind, reason = ReadingDecision.Kind.JUDGE_ANEW, "brought in again"
        insert_values(
            ReadingDecision,
            ("reading", "kind", "reason", "person", "batch_id", "after_reading", "written_at"),
            [
                (number, kind.value, reason, self.doing.person.pk, self.batch, self.last, now)
                for number in self.anew
            ],
        )
        refresh_counts(counters=self.anew.values())

    def ready(self, at: datetime) -> Any:
        """Return an instant as the database wants it."""
        found = self._ready.get(at)
        if found is None:
            if len(self._ready) >= INSTANTS_KEPT:
                self._ready.clear()
            found = self._ready[at] = connection.ops.adapt_datetimefield_value(at)
        return found

    def _key(self, reading: FileReading) -> tuple[int, Any, int]:
        return reading.counter, self.ready(reading.at), reading.value

    def _look_up(self, counters: set[int]) -> None:
        unknown = counters - self._newest.keys()
        if unknown:
            self._newest.update(dict.fromkeys(unknown))
            self._newest.update(newest_instants(unknown))

    def _find_duplicates(
        self, readings: Sequence[FileReading], *, older: list[int], taken: list[Taken]
    ) -> None:
        """Find readings that are stored already, or stand further up among these."""
        stored = which_are_there(Reading, _NAMES, [self._key(readings[place]) for place in older])
        there = {older[place]: number for place, number in stored.items()}
        taken_back = taken_back_among(there.values())
        suspected = set(older)
        met: set[tuple[int, datetime, int]] = set()
        for place, reading in enumerate(readings):
            if isinstance(taken[place], Refused):
                continue
            key = (reading.counter, reading.at, reading.value)
            number = there.get(place)
            if number is not None and number in taken_back and number not in self.anew:
                taken[place] = _ANEW
                self.anew[number] = reading.counter
            elif number is not None or (place in suspected and key in met):
                taken[place] = _DUPLICATE
            met.add(key)


class ImportAnswer(NamedTuple):
    """What an import came to: the batch, its entry, and how many rows by verdict."""

    batch_id: int
    entry_id: int | None
    counts: dict[str, int]


class Source(Protocol):
    """Where readings come from: a file that is walked once."""

    def begin(self) -> int:
        """Give the number that the readings are to carry."""

    def walk(self, intake: Intake) -> dict[str, int]:
        """Give all readings to the intake and keep what cannot be taken.

        Return how many rows had which verdict, beside those that counting decides.
        """

    def end(self, intake: Intake, counts: Mapping[str, int]) -> None:
        """Do what is left once everything is judged."""


def import_readings(
    doing: Doing,
    *,
    name: str,
    sha256: str,
    body: Mapping[str, Any],
    source: Source,
    is_trial: bool = False,
) -> ImportAnswer:
    """Take in the readings of a file, in one transaction.

    Parameters
    ----------
    doing : Doing
        Who does it; needs the right to import.
    name, sha256 : str
        The file's name and the hash of its bytes.
    body : mapping
        What else the answer depends on, for a hand-in that comes twice.
    source : Source
        Walks the file.
    is_trial : bool
        True where the caller rolls everything back: then no entry is made.
    """
    require(doing.person, Right.IMPORT)

    def do() -> dict[str, Any]:
        intake = Intake(doing, batch=source.begin())
        counts = dict(source.walk(intake))
        intake.last = newest_reading_number()
        if not is_trial:
            lock_chain(plant_chain())
        intake.judge_anew()
        refresh_readings(intake.fresh)
        judged = judged_in_batch(intake.batch, after=intake.before, anew=intake.anew)
        for word, number in judged.items():
            counts[word] = counts.get(word, 0) + number
        entry = None
        if not is_trial:
            entry = _entry(doing, name=name, sha256=sha256, intake=intake, counts=counts)
        source.end(intake, counts)
        return {"batch_id": intake.batch, "entry_id": entry, "counts": counts}

    answer = once(doing, "import_readings", {"sha256": sha256, **body}, do)
    return ImportAnswer(**answer)


def _entry(
    doing: Doing, *, name: str, sha256: str, intake: Intake, counts: Mapping[str, int]
) -> int:
    said = ", ".join(f"{number} {word.replace('_', ' ')}" for word, number in counts.items())
    entry = plant_entry(
        doing,
        kind="readings imported",
        sentence=f"Readings brought in from the file {name}: {said or 'nothing in it'}.",
        facts={
            "file": name,
            "sha256": sha256,
            "batch": intake.batch,
            "stored": intake.stored,
            "judged_anew": len(intake.anew),
            "counts": dict(counts),
        },
    )
    return entry.pk
