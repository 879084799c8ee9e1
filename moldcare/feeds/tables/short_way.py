"""The short way for the many plain rows of a long text table."""

from collections.abc import Iterable, Iterator
from datetime import timedelta
from typing import Final

from moldcare.feeds.tables.reading_rows import ReadingRow
from moldcare.feeds.tables.rows import Row
from moldcare.feeds.tables.text import clean, unguarded
from moldcare.feeds.tables.verdicts import Problem
from moldcare.feeds.tables.walk import Named, Walk

#: Stands for a column that the table does not have.
_NONE: Final = -1
_NO_NAME: Final[Named] = ("", None, None)


def readings_of(walk: Walk, *, rows: Iterable[Row]) -> Iterator[ReadingRow]:
    """Read all rows, plain ones by look-ups alone, all others the long way.

    Parameters
    ----------
    walk : Walk
        How everything is read, and what was met before.
    rows : iterable of Row
        In the file's order.

    Notes
    -----
    A row is plain where its names, its date and its time of day were met before and read without
    any problem, its date has no clock change, and its value is whole. Both ways give the same; a
    test compares them.
    """
    if not walk.can_be_short():
        for row in rows:
            yield from walk.readings(row)
        return
    value_place, letter = walk.values[0].place, walk.values[0].letter
    date_place, time_place, mold_place, counter_place, press_place, note_place, reader_place = (
        _NONE if place is None else place
        for place in (
            walk.date_place,
            walk.time_place,
            walk.mold_place,
            walk.counter_place,
            walk.press_place,
            walk.note_place,
            walk.reported_by_place,
        )
    )
    needed = max(
        *(value_place, date_place, time_place, mold_place),
        *(counter_place, press_place, note_place, reader_place),
    )
    molds, counters, presses = (walk.named[kind] for kind in ("mold", "counter", "press"))
    at_most = len(walk.layout.columns) if walk.cells_at_most is None else walk.cells_at_most
    days, times = walk.moments.days, walk.moments.times
    whole = walk.numbers.whole
    is_estimated = False
    for row in rows:
        number, cells, held = row
        if held is None and needed < len(cells) <= at_most:
            value = whole(cells[value_place])
            date_text = cells[date_place]
            if time_place >= 0:
                time_text = cells[time_place]
            elif date_text[10:11] == "T":
                date_text, time_text = date_text[:10], date_text[11:]
            else:
                date_text, _blank, time_text = date_text.partition(" ")
            day = days.get(date_text)
            seconds = times.get(time_text)
            mold = molds.get(cells[mold_place]) if mold_place >= 0 else _NO_NAME
            counter = counters.get(cells[counter_place]) if counter_place >= 0 else _NO_NAME
            press = presses.get(cells[press_place]) if press_place >= 0 else _NO_NAME
            note = cells[note_place] if note_place >= 0 else ""
            if (
                value is not None
                and seconds is not None
                and mold is not None
                and counter is not None
                and press is not None
                and day is not None
                and not isinstance(day, Problem)
                and day.is_plain
                and (mold[0] or counter[0])
                and note.isascii()
            ):
                yield ReadingRow(
                    number,
                    letter,
                    mold[0],
                    counter[0],
                    press[0],
                    mold[1],
                    counter[1],
                    press[1],
                    day.midnight + timedelta(seconds=seconds),
                    value,
                    is_estimated,
                    unguarded(note.strip()),
                    clean(cells[reader_place]) if reader_place >= 0 else "",
                    None,
                )
                continue
        for reading in walk.readings(row):
            yield reading
            if reading.problem is None and held is None:
                walk.remember(reading, cells=cells)
