"""What these tests share: molds of ours, and readings from a text in one call."""

from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from moldcare.feeds.tables import Matcher, Plan, ReadingRow, Verdict, matcher, open_table
from moldcare.feeds.tables.readings import read_readings

BERLIN = ZoneInfo("Europe/Berlin")
EXAMPLES = Path(__file__).resolve().parents[3] / "fixtures" / "readings"
OURS: Matcher = matcher(
    [*((number, f"{number:04d}") for number in range(1, 100)), (417, "0417"), (1417, "417")]
)


def plan_of(
    content: str | bytes,
    *,
    answers: dict[str, str] | None = None,
    match: Matcher | None = OURS,
    encoding: str | None = None,
    delimiter: str | None = None,
    sheet: str | None = None,
    **more: Any,
) -> Plan:
    """Read a file given as a text or as bytes."""
    table = open_table(
        content.encode() if isinstance(content, str) else content,
        name="readings.csv",
        encoding=encoding,
        delimiter=delimiter,
        sheet=sheet,
    )
    return read_readings(table, zone=BERLIN, answers=answers, match_mold=match, **more)


def rows_of(content: str | bytes, **options: Any) -> list[ReadingRow]:
    """Give all readings of a file."""
    return list(plan_of(content, **options).rows())


def values_of(content: str | bytes, **options: Any) -> list[int | None]:
    """Give the values of all readings of a file."""
    return [row.value for row in rows_of(content, **options)]


def verdicts_of(content: str | bytes, **options: Any) -> list[Verdict | None]:
    """Give the verdicts of all readings, None where the counter's judge decides."""
    return [row.problem and row.problem.verdict for row in rows_of(content, **options)]


def example(name: str) -> bytes:
    """Give the bytes of an example file."""
    return (EXAMPLES / name).read_bytes()
