"""What a bench says: a measured value, what it was measured against, and whether that holds."""

import resource
import sqlite3
import sys
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any


@dataclass(frozen=True, kw_only=True, slots=True)
class Result:
    """One line of the output.

    `ratio` is the value over the baseline, both in the same unit. It must not be above the
    limit; where more is better (`is_least`), not below it. Without a baseline the value itself
    is compared. Values in seconds of the processor have the seconds by the clock beside them.
    """

    bench: str
    value: float
    unit: str
    baseline: float | None = None
    against: str = ""
    limit: float
    is_least: bool = False
    clock_s: float | None = None

    @property
    def ratio(self) -> float | None:
        """The value over the baseline."""
        return None if self.baseline is None else self.value / self.baseline

    @property
    def holds(self) -> bool:
        """Whether the limit holds."""
        measured = self.value if self.ratio is None else self.ratio
        return measured >= self.limit if self.is_least else measured <= self.limit

    def line(self) -> dict[str, Any]:
        """Return the line as plain values."""
        line = {key: value for key, value in asdict(self).items() if key != "is_least"}
        line |= {"ratio": self.ratio, "limit_is": "least" if self.is_least else "most"}
        line["holds"] = self.holds
        return {
            key: float(f"{value:.4g}") if isinstance(value, float) else value
            for key, value in line.items()
        }


@dataclass(frozen=True, kw_only=True, slots=True)
class Took:
    """How long something took [s]: by the clock, and by the processor."""

    clock_s: float
    processor_s: float


def took(do: Callable[[], object]) -> Took:
    """Do something and say how long it took.

    The processor's time is that of this process and of programs it started and waited for. It
    leaves out what else goes on on the machine, and waiting for the disk.
    """
    clock, processor = time.perf_counter(), _processor_s()
    do()
    return Took(clock_s=time.perf_counter() - clock, processor_s=_processor_s() - processor)


def _processor_s() -> float:
    used = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return sum(each.ru_utime + each.ru_stime for each in used)


def peak_mb() -> float:
    """Return the most memory that this process ever held [MB]."""
    status = Path("/proc/self/status")
    if status.exists():
        for line in status.read_text().splitlines():
            if line.startswith("VmHWM:"):
                return int(line.split()[1]) / 1024
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / (1024 * 1024 if sys.platform == "darwin" else 1024)


def read_all_rows(file: Path) -> int:
    """Read every row of every table through a plain cursor; return how many there are."""
    count = 0
    connection = sqlite3.connect(file)
    try:
        names = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall()
        for (name,) in names:
            rows = connection.execute(f'SELECT * FROM "{name}"')
            while some := rows.fetchmany(5_000):
                count += len(some)
    finally:
        connection.close()
    return count


def rows_by_table(file: Path) -> dict[str, int]:
    """Count the rows of every table through a plain cursor."""
    connection = sqlite3.connect(file)
    try:
        names = connection.execute(
            "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'"
        ).fetchall()
        return {
            name: connection.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0]
            for (name,) in names
        }
    finally:
        connection.close()
