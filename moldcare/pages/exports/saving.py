"""Lists and archives as answers to be saved, streamed a few rows at a time."""

import tempfile
from collections.abc import Iterable, Iterator
from datetime import datetime
from typing import IO
from zoneinfo import ZoneInfo

from django.http import FileResponse, StreamingHttpResponse
from django.utils import translation

from moldcare.feeds.archive import write_archive
from moldcare.feeds.export.delimited import Dialect, csv_lines
from moldcare.feeds.export.shapes import Asked, ListShape, Queried
from moldcare.feeds.export.workbook import write_workbook

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
#: What a page writes as a workbook before whoever waits gives up; a command takes any number.
MOST_ROWS_OF_A_WORKBOOK = 200_000
#: What is kept in memory before it goes to a file of its own.
IN_MEMORY_BYTES = 4 << 20


def as_csv(
    shape: ListShape, *, asked: Asked, zone: ZoneInfo, dialect: Dialect
) -> StreamingHttpResponse:
    """Answer with a list as CSV, written while it is sent."""
    lines = csv_lines(shape, rows=shape.rows(asked), zone=zone, dialect=dialect)
    response = StreamingHttpResponse(
        _in_language(lines, language=translation.get_language() or "en"),
        content_type="text/csv; charset=utf-8",
    )
    name = _file_name(shape.name, asked=asked, zone=zone)
    response.headers["Content-Disposition"] = f'attachment; filename="{name}.csv"'
    return response


def as_workbook(shape: ListShape, *, asked: Asked, zone: ZoneInfo) -> FileResponse:
    """Answer with a list as a workbook, from a file that is gone when it was sent."""
    out = _scratch()
    write_workbook(out, shape=shape, rows=shape.rows(asked), zone=zone, made_at=asked.now)
    out.seek(0)
    name = _file_name(shape.name, asked=asked, zone=zone)
    return FileResponse(out, as_attachment=True, filename=f"{name}.xlsx", content_type=XLSX)


def as_archive(*, now: datetime, zone: ZoneInfo) -> FileResponse:
    """Answer with the plant's archive."""
    out = _scratch()
    write_archive(out, made_at=now)
    out.seek(0)
    name = f"plant-{now.astimezone(zone):%Y-%m-%d}.zip"
    return FileResponse(out, as_attachment=True, filename=name, content_type="application/zip")


def is_too_long(shape: ListShape, *, asked: Asked) -> bool:
    """Return whether a list has more rows than a page writes as a workbook."""
    if not shape.is_long or not isinstance(shape.rows, Queried):
        return False
    rows = shape.rows.query(asked).order_by().values("pk")
    return bool(rows[MOST_ROWS_OF_A_WORKBOOK : MOST_ROWS_OF_A_WORKBOOK + 1].exists())


def _in_language(lines: Iterable[bytes], *, language: str) -> Iterator[bytes]:
    """Give lines that are written in a language, also after the page that asked has ended."""
    each = iter(lines)
    while True:
        with translation.override(language):
            line = next(each, None)
        if line is None:
            return
        yield line


def _scratch() -> IO[bytes]:
    return tempfile.SpooledTemporaryFile(max_size=IN_MEMORY_BYTES)


def _file_name(name: str, *, asked: Asked, zone: ZoneInfo) -> str:
    return f"{name}-{asked.now.astimezone(zone):%Y-%m-%d}"
