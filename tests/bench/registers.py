"""A register of molds and its maintenance sheet as workbooks: the files of the import bench."""

from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from pathlib import Path

from openpyxl import Workbook

RULES_A_MOLD = 12
REGISTER, SHEET = "register.xlsx", "sheet.xlsx"
HEADINGS = (
    *("Mold no.", "Name", "Class", "Cavities", "Mass A (kg)", "Mass B (kg)", "Owner", "Resin"),
    *("Finish", "Cycle time (s)", "Storage place", "Circuits", "Life count", "Counted on"),
)
TASKS = (
    "Clean vents",
    "Grease leader pins",
    "Check mold locks",
    "Inspect parting line",
    "Clean ejector pins",
    "Check ejector plate",
    "Descale water lines",
    "Grease slides",
    "Inspect O-rings",
    "Polish cavity",
    "Check hot runner",
    "Rust protection",
)
COUNTED_ON = date(2026, 11, 20)


def write_register(path: Path, *, molds: int) -> None:
    """Write a register of so many molds, all of them new."""
    _write(path, headings=HEADINGS, rows=_molds(molds))


def write_sheet(path: Path, *, molds: int) -> None:
    """Write a maintenance sheet of these molds: twelve tasks each, by count, some by date too."""
    headings = ("Mold no.", "Task", "Every (cycles)", "Every (months)", "Last done", "At count")
    _write(path, headings=headings, rows=_tasks(molds))


def _molds(molds: int) -> Iterator[Sequence[object]]:
    for n in range(1, molds + 1):
        yield (
            f"M-{n:05}",
            f"part {n % 400}, {10 + n % 90} mm",
            str(101 + n % 5),
            2 ** (n % 5),
            100 + n % 800,
            90 + n % 700,
            f"Customer {n % 40}",
            ("PP", "ABS", "POM", "PA66")[n % 4],
            ("A-2", "B-1", "C-1")[n % 3],
            10 + n % 45,
            f"R-{n % 120:03}",
            "A1, A2, B1, B2",
            _life(n),
            COUNTED_ON,
        )


def _tasks(molds: int) -> Iterator[Sequence[object]]:
    for n in range(1, molds + 1):
        for place, task in enumerate(TASKS):
            every = 5_000 * (1 + (n + place) % 40)
            since = (n * 7 + place * 13) % every
            yield (
                f"M-{n:05}",
                task,
                every,
                (3, 6, 12)[place % 3] if place % 2 else None,
                COUNTED_ON - timedelta(days=(n + place * 11) % 300),
                max(0, _life(n) - since),
            )


def _life(n: int) -> int:
    return n * 1_237 % 900_000


def _write(path: Path, *, headings: Sequence[str], rows: Iterator[Sequence[object]]) -> None:
    book = Workbook(write_only=True)
    sheet = book.create_sheet("list")
    sheet.append(list(headings))
    for row in rows:
        sheet.append(list(row))
    book.save(path)
