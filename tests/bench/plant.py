"""The bench plant: an invented plant of a given size, put straight into the tables.

Its history is what a plant leaves behind in three years: every press is read at the end of each
shift, molds come and go, are serviced when they come out, and now and then a value is typed wrong
and set aside the next day. Nothing is derived here.
"""

import random
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from pathlib import Path
from zoneinfo import ZoneInfo

from django.db import transaction

from moldcare.bulk import insert, insert_values
from moldcare.care import models as care
from moldcare.core.chain import EntryForm, genesis_hash, prepare_entry
from moldcare.counters import models as counters
from moldcare.logbook import models as logbook
from moldcare.molds import models as molds
from moldcare.plant import models as plants

SHIFT = timedelta(hours=8)
ZONE = ZoneInfo("Europe/Berlin")
RULES_A_MOLD = 12
# of 1,000 readings
MISSED = 15
READING_COLUMNS = ("id", "counter", "at", "value", "source", "person", "note", "written_at")


@dataclass(frozen=True, kw_only=True, slots=True)
class Size:
    """How large a bench plant is.

    `shifts` is how many shifts back its readings go; every press is read once in each. `mistyped`
    is how many of 1,000 values are typed wrong.
    """

    molds: int
    presses: int
    shifts: int
    mistyped: int = 2


FULL = Size(molds=2_000, presses=677, shifts=3_300)
QUICK = Size(molds=100, presses=34, shifts=3_300)


@dataclass(slots=True)
class Stay:
    """A mold's time in a press that goes on."""

    mold: int
    left: int


@dataclass(kw_only=True, slots=True)
class History:
    """What happens in the plant, shift by shift; facts beside the readings gather in lists.

    Numbers of molds, presses, and of counters (molds' first, then presses') begin at 1.
    """

    size: Size
    now: datetime
    are_known_first: bool = False
    chance: random.Random = field(default_factory=lambda: random.Random(20_261_125))
    run_events: list[molds.RunEvent] = field(default_factory=list)
    moves: list[molds.Move] = field(default_factory=list)
    decisions: list[counters.ReadingDecision] = field(default_factory=list)
    services: list[tuple[int, datetime]] = field(default_factory=list)
    newest: int = 0

    @property
    def begun_at(self) -> datetime:
        """When the records of readings begin."""
        return self.now - self.size.shifts * SHIFT

    @property
    def entered_at(self) -> datetime:
        """When the molds were entered, some time before the first reading."""
        return self.begun_at - timedelta(days=300)

    @property
    def after_reading(self) -> int:
        """The newest reading that a fact written now knows."""
        return 0 if self.are_known_first else self.newest

    def cycle_s(self, mold: int) -> int:
        """Return a mold's standard cycle [s]."""
        return 10 + mold * 7 % 45

    def counter_of(self, mold: int, *, press: int) -> int:
        """Return the counter that is read: every sixth press has one, other molds their own."""
        return self.size.molds + press if press % 6 == 0 else mold

    def rack(self, mold: int) -> int:
        """Return the number of a mold's rack; spots are presses, then 20 benches, then racks."""
        return self.size.presses + 21 + mold % 40

    def readings(self) -> Iterator[tuple[int, int, datetime, int]]:
        """Give (number, counter, instant, value) in the order of arrival."""
        size, chance = self.size, self.chance
        turns = {
            press: [mold for mold in range(1, size.molds + 1) if mold % size.presses + 1 == press]
            for press in range(1, size.presses + 1)
        }
        for mold in range(1, size.molds + 1):
            self._move(mold, to=self.rack(mold), at=self.entered_at)
            self.services.append((mold, self.begun_at - timedelta(days=chance.randint(1, 250))))
        stays: dict[int, Stay | None] = dict.fromkeys(turns)
        shown = dict.fromkeys(range(1, size.molds + size.presses + 1), 0)
        to_decide: dict[int, list[int]] = {}
        for shift in range(size.shifts):
            begins = self.begun_at + shift * SHIFT
            for number in to_decide.pop(shift, ()):
                self._set_aside(number, at=begins)
            for press, stay in stays.items():
                if stay is None:
                    # the one that was longest in the rack
                    mold = turns[press].pop(0)
                    turns[press].append(mold)
                    stay = stays[press] = Stay(mold, chance.randint(12, 60))
                    self._run_event(mold, press=press, act="set", at=begins + timedelta(minutes=40))
                    self._move(mold, to=press, at=begins + timedelta(minutes=40))
                counter = self.counter_of(stay.mold, press=press)
                cycles = int(27_000 / self.cycle_s(stay.mold) * chance.uniform(0.55, 1.0))
                shown[counter] += cycles
                at = begins + timedelta(hours=7, minutes=50, seconds=chance.randint(0, 500))
                luck = chance.randrange(1_000)
                if luck >= MISSED:
                    self.newest += 1
                    value = shown[counter]
                    if luck < MISSED + size.mistyped:
                        value += 90_000
                        if not self.are_known_first:
                            to_decide.setdefault(shift + 3, []).append(self.newest)
                    yield self.newest, counter, at, value
                stay.left -= 1
                if stay.left == 0:
                    self._pull(stay.mold, press=press, at=begins + SHIFT + timedelta(minutes=5))
                    stays[press] = None

    def _pull(self, mold: int, *, press: int, at: datetime) -> None:
        self._run_event(mold, press=press, act="pulled", at=at)
        if self.chance.random() < 0.4:
            self._move(mold, to=self.size.presses + 1 + mold % 20, at=at)
            at += timedelta(hours=5)
            self.services.append((mold, at))
        self._move(mold, to=self.rack(mold), at=at + timedelta(minutes=10))

    def _run_event(self, mold: int, *, press: int, act: str, at: datetime) -> None:
        self.run_events.append(
            molds.RunEvent(
                mold_id=mold,
                press_id=press,
                act=act,
                at=at,
                person_id=1,
                after_reading=self.after_reading,
                written_at=at,
            )
        )

    def _move(self, mold: int, *, to: int, at: datetime) -> None:
        self.moves.append(molds.Move(mold_id=mold, spot_id=to, at=at, person_id=1, written_at=at))

    def _set_aside(self, reading: int, *, at: datetime) -> None:
        self.decisions.append(
            counters.ReadingDecision(
                reading_id=reading,
                kind="set_aside",
                reason="mistyped, the counter was looked at again",
                person_id=1,
                after_reading=self.after_reading,
                written_at=at,
            )
        )


def build(size: Size, *, now: datetime) -> None:
    """Put a whole plant with its readings into the empty tables."""
    history = History(size=size, now=now)
    with transaction.atomic():
        _records(history)
        insert_values(
            counters.Reading,
            READING_COLUMNS,
            (_reading_values(row) for row in history.readings()),
        )
        _facts(history)


def build_for_import(size: Size, *, now: datetime, file: Path) -> None:
    """Put a plant without readings into the empty tables, and its readings into a file."""
    history = History(size=size, now=now, are_known_first=True)
    with transaction.atomic():
        _records(history)
        with file.open("w", encoding="utf-8", newline="") as lines:
            lines.write("Date;Time;Counter;Reading\r\n")
            for _number, counter, at, value in history.readings():
                wall = at.astimezone(ZONE)
                lines.write(f"{wall:%Y-%m-%d;%H:%M:%S};{label_of(counter)};{value}\r\n")
        _facts(history)


def label_of(counter: int) -> str:
    """Return what a counter is called."""
    return f"Z-{counter:05}"


def _reading_values(row: tuple[int, int, datetime, int]) -> tuple[object, ...]:
    number, counter, at, value = row
    stored = at.strftime("%Y-%m-%d %H:%M:%S")
    return number, counter, stored, value, "typed", 1, "", stored


def build_empty() -> None:
    """Put a plant with its shifts and people into the empty tables, and nothing else."""
    with transaction.atomic():
        _plant_and_people(on_the_hour())


def _plant_and_people(entered_at: datetime) -> None:
    plants.Plant.objects.create(pk=1, name="Bench plant", zone=ZONE.key)
    pattern = plants.ShiftPattern.objects.create(valid_from=date(2020, 1, 1), written_at=entered_at)
    plants.ShiftSlot.objects.bulk_create(
        plants.ShiftSlot(
            pattern=pattern, weekday=weekday, name=name, starts=time(starts), ends=time(ends)
        )
        for weekday in range(7)
        for name, starts, ends in (("early", 6, 14), ("late", 14, 22), ("night", 22, 6))
    )
    for number, role in enumerate(("lead", "technician", "feed"), start=1):
        plants.Person.objects.create(
            pk=number, username=f"{role}1", name=f"Bench {role}", role=role, password="!"
        )


def _records(history: History) -> None:
    size, entered_at = history.size, history.entered_at
    _plant_and_people(entered_at)
    insert([plants.Spot(kind="press", number=str(n + 1)) for n in range(size.presses)])
    insert([plants.Spot(kind="bench", number=str(n + 1)) for n in range(20)])
    insert([plants.Spot(kind="rack", number=str(n + 1)) for n in range(40)])
    insert([molds.Owner(name=f"Customer {n}") for n in range(1, 11)])
    numbers = range(1, size.molds + 1)
    insert([logbook.Chain(kind="mold", label=f"M-{n}") for n in numbers])
    rows = [
        molds.Mold(
            number=f"M-{n}",
            number_key=molds.name_key(f"M-{n}"),
            sort_key=molds.sort_key(f"M-{n}"),
            name="lid, 38 mm",
            chain_id=n,
            cavity_count=4,
            owner_id=1 + n % 10,
            opening_at=entered_at,
            entered_at=entered_at,
        )
        for n in numbers
    ]
    insert(rows)
    insert([molds.Cavity(mold_id=n, ident=str(each)) for n in numbers for each in range(1, 5)])
    insert(
        [
            counters.Counter(label=label_of(n + 1), digits=7)
            for n in range(size.molds + size.presses)
        ]
    )
    _rules(history)


def _rules(history: History) -> None:
    """Write every mold's rules: by count, by count and calendar, by calendar, hours and event."""
    terms: list[dict[str, object]] = [
        {"name": "Clean the vents", "count_base": 20_000},
        {"name": "Clean the parting faces", "count_base": 8_000},
        {"name": "Grease the ejector pins", "count_base": 30_000, "hard_count": 45_000},
        {"name": "Grease the guide pins", "count_base": 30_000, "period_n": 3},
        {"name": "Grease the slides", "count_base": 15_000, "factor_filler": Decimal("0.8")},
        {"name": "Check the springs", "count_base": 250_000, "count_basis": "cycles"},
        {"name": "Clean the hot runner tips", "count_base": 60_000, "period_n": 6},
        {"name": "Check the circuits' flow", "count_base": 100_000, "period_n": 12},
        {"name": "Descale the circuits", "period_n": 12, "calendar_counts": "waits_while_stored"},
        {"name": "Look over the lifting eyes", "period_n": 12},
        {"name": "Check the heaters", "hours_limit": 600},
        {"name": "Preserve the cavities", "event": "end_of_run"},
    ]
    care.Family.objects.create(key="vents", name="vents")
    care.Family.objects.create(key="inspection", name="inspection", is_inspection=True)
    insert(
        [
            care.CareRule(
                mold_id=mold,
                family_id=2 if place == 9 else 1,
                reason="a starting value",
                entered_at=history.entered_at,
                **({"period_unit": "month"} if "period_n" in each else {}),
                **each,
            )
            for mold in range(1, history.size.molds + 1)
            for place, each in enumerate(terms)
        ]
    )


def _facts(history: History) -> None:
    """Write what happened beside the readings."""
    insert(_counter_fittings(history))
    insert(history.moves)
    insert(history.run_events)
    insert(history.decisions)
    services: dict[int, list[datetime]] = {}
    for mold, at in history.services:
        services.setdefault(mold, []).append(at)
    entries: list[logbook.Entry] = []
    cycle_times: list[molds.CycleTime] = []
    completions: list[care.Completion] = []
    for mold in range(1, history.size.molds + 1):
        chain = f"M-{mold}"
        previous = genesis_hash(chain_kind="mold", chain_label=chain)
        instants = [history.entered_at, *services.get(mold, [])]
        for number, at in enumerate(instants, start=1):
            done = [n for n in range(RULES_A_MOLD) if number % (n // 4 + 1) == 0]
            previous = _entry(entries, mold=mold, number=number, at=at, done=done, after=previous)
            if number > 1:
                completions += [
                    care.Completion(
                        rule_id=(mold - 1) * RULES_A_MOLD + n + 1,
                        happened_at=at,
                        grade="light",
                        minutes=15,
                        order_number=len(entries),
                        person_id=2,
                        entry_id=len(entries),
                        written_at=at,
                    )
                    for n in done
                ]
                continue
            cycle_times.append(
                molds.CycleTime(
                    mold_id=mold,
                    standard_s=Decimal(history.cycle_s(mold)),
                    valid_from=at,
                    reason="as quoted",
                    entry_id=len(entries),
                    after_reading=0,
                    written_at=at,
                )
            )
    insert(entries)
    insert(cycle_times)
    insert(completions)


def _counter_fittings(history: History) -> list[counters.CounterFitting]:
    size = history.size
    return [
        counters.CounterFitting(
            counter_id=number,
            mold_id=number if number <= size.molds else None,
            press_id=None if number <= size.molds else number - size.molds,
            at=history.begun_at,
            act="fitted",
            value_shown=0,
            person_id=1,
            after_reading=0,
            written_at=history.begun_at,
        )
        for number in range(1, size.molds + size.presses + 1)
        if _is_read(number, size=size)
    ]


def _is_read(counter: int, *, size: Size) -> bool:
    """Return whether anything counts with it: molds of presses with a counter have none."""
    if counter > size.molds:
        return (counter - size.molds) % 6 == 0
    return (counter % size.presses + 1) % 6 != 0


def _entry(
    entries: list[logbook.Entry],
    *,
    mold: int,
    number: int,
    at: datetime,
    done: list[int],
    after: str,
) -> str:
    """Add an entry to the list and return its hash."""
    prepared = prepare_entry(
        EntryForm(
            chain_kind="mold",
            chain_label=f"M-{mold}",
            number=number,
            kind="order signed",
            happened_at=at,
            written_at=at,
            author_id=2,
            author_name="Bench technician",
            meaning="done",
            sentence=f"Service of mold M-{mold}: {len(done)} tasks done, as found light.",
            facts={"tasks": [{"rule": n, "grade": "light", "minutes": 15} for n in done]},
            previous_hash=after,
        )
    )
    entries.append(
        logbook.Entry(
            chain_id=mold,
            number=number,
            form=prepared.entry.form,
            kind=prepared.entry.kind,
            happened_at=at,
            written_at=at,
            author_id=2,
            author_name=prepared.entry.author_name,
            meaning="done",
            sentence=prepared.entry.sentence,
            facts=prepared.facts_text,
            previous_hash=after,
            hash=prepared.hash,
            canonical=prepared.canonical.decode(),
        )
    )
    return prepared.hash


def on_the_hour() -> datetime:
    """Return the full hour before now: the plant's newest readings are from the last shift."""
    return datetime.now(UTC).replace(minute=0, second=0, microsecond=0)
