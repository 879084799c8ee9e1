"""One step of a bench, in a process of its own: `python -m tests.bench.steps STEP ARGUMENTS`.

The arguments come as JSON, and the last line of the output is what the step says, as JSON.
"""

import json
import sqlite3
import sys
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from statistics import median
from typing import Any
from uuid import uuid4

import django
from django.core.management import call_command

django.setup()

from django.conf import settings  # noqa: E402
from django.db import connection, transaction  # noqa: E402
from django.test import Client  # noqa: E402
from django.test.utils import CaptureQueriesContext  # noqa: E402
from django.utils import timezone  # noqa: E402

from moldcare.acts.doing import Doing  # noqa: E402
from moldcare.acts.readings import ReadingEntry, record_readings  # noqa: E402
from moldcare.acts.rebuild import rebuild as rebuild_all  # noqa: E402
from moldcare.acts.starting_sets import load_starting_sets  # noqa: E402
from moldcare.counters.models import Counter as CounterRow  # noqa: E402
from moldcare.counters.models import CounterTotal, Reading  # noqa: E402
from moldcare.feeds.bring_in import bring_in  # noqa: E402
from moldcare.feeds.looks import look_first  # noqa: E402
from moldcare.feeds.reading_files import open_reading_file  # noqa: E402
from moldcare.feeds.register.bring_in import bring_in_register  # noqa: E402
from moldcare.feeds.register_files import RegisterFile, open_register_file  # noqa: E402
from moldcare.feeds.tables import RowVerdict  # noqa: E402
from moldcare.feeds.uploads import keep_upload  # noqa: E402
from moldcare.molds.models import CycleTime  # noqa: E402
from moldcare.plant.models import Person  # noqa: E402
from tests.bench import plant, registers  # noqa: E402
from tests.bench.measuring import peak_mb, read_all_rows, rows_by_table, took  # noqa: E402

Answer = dict[str, Any]
FILE = "readings.csv"


def build(*, is_quick: bool) -> Answer:
    """Build the bench plant."""
    call_command("migrate", verbosity=0)
    plant.build(plant.QUICK if is_quick else plant.FULL, now=plant.on_the_hour())
    return {}


def rebuild() -> Answer:
    """Derive everything; then read everything."""
    derived = took(rebuild_all)
    peak = peak_mb()
    file = Path(connection.settings_dict["NAME"])
    connection.close()
    rows = read_all_rows(file)
    read = [took(lambda: read_all_rows(file)).processor_s for _ in range(3)]
    return {
        "seconds": derived.processor_s,
        "clock_s": derived.clock_s,
        "peak_mb": peak,
        "read_s": median(read),
        "rows": rows,
    }


@dataclass(kw_only=True, slots=True)
class Reader:
    """A counter that is read shift by shift."""

    counter: CounterRow
    at: datetime
    value: int
    cycles: int


def _totals_on_molds() -> Iterable[CounterTotal]:
    """Return where counters on molds stand, those that were read last."""
    return (
        CounterTotal.objects.filter(is_resumable=True, counter__fittings__mold__isnull=False)
        .select_related("counter")
        .order_by("-newest_at")[:30]
    )


def _reader_of(total: CounterTotal) -> Reader:
    standard_s = CycleTime.objects.get(mold__counter_fittings__counter=total.counter).standard_s
    if total.newest_at is None or total.newest_value is None or standard_s is None:
        raise RuntimeError(f"Counter {total.counter} was never read.")
    return Reader(
        counter=total.counter,
        at=total.newest_at,
        value=total.newest_value,
        cycles=int(22_000 / standard_s),
    )


def one_reading(*, times: int) -> Answer:
    """Take in readings one by one, each in its own transaction, and insert as many bare rows."""
    lead = Person.objects.get(role="lead")
    readers = [_reader_of(total) for total in _totals_on_molds()]

    def enter(reader: Reader) -> None:
        """Hand in the reading of the next shift."""
        reader.at += timedelta(hours=8)
        reader.value += reader.cycles
        (answer,) = record_readings(
            Doing(person=lead, now=reader.at, hand_in=uuid4()),
            [ReadingEntry(counter=reader.counter, at=reader.at, value=reader.value)],
        )
        if answer.verdict != "accepted":
            raise RuntimeError(f"A plain reading was not accepted: {answer}")

    # a counter that nothing follows from, so that the bare rows disturb no act
    idle = CounterRow.objects.filter(fittings__isnull=True, readings__isnull=True).values_list(
        "id", flat=True
    )[0]
    statement = (
        "INSERT INTO counters_reading (counter_id, at, value, source, person_id, note, written_at) "
        "VALUES (?, ?, ?, 'typed', 1, '', ?)"
    )

    def insert(bare: sqlite3.Connection, place: int) -> None:
        at = f"2001-01-01 00:00:{place % 60:02}"
        bare.execute(statement, (idle, at, place, at))

    for reader in readers:
        enter(reader)
    # as the product opens its database: write-ahead log, every commit waits for the disk
    bare = sqlite3.connect(connection.settings_dict["NAME"], isolation_level=None, timeout=20)
    for each in settings.DATABASES["default"]["OPTIONS"]["init_command"].split(";"):
        bare.execute(each)
    acts, inserts = [], []
    for place in range(times):
        acts.append(took(partial(enter, readers[place % len(readers)])).clock_s)
        inserts.append(took(partial(insert, bare, place)).clock_s)
    bare.close()
    return {"act_s": median(acts), "bare_s": median(inserts)}


def build_import(*, is_quick: bool) -> Answer:
    """Build the bench plant without readings, and a file of them."""
    call_command("migrate", verbosity=0)
    size = plant.QUICK if is_quick else plant.FULL
    plant.build_for_import(size, now=plant.on_the_hour(), file=_folder() / FILE)
    rebuild_all()
    return {}


def import_() -> Answer:
    """Bring in the file through the act that people use; count what becomes of its rows."""
    lead = Person.objects.get(role="lead")
    counts: Counter[str] = Counter()

    def tell(row: RowVerdict) -> None:
        counts[row.verdict] += 1

    def bring() -> None:
        with (_folder() / FILE).open("rb") as stream:
            file = open_reading_file(stream, name=FILE, zone=plant.ZONE, answers={})
            if file.plan.open_questions:
                raise RuntimeError(f"The file leaves questions open: {file.plan.open_questions}")
            bring_in(Doing(person=lead, now=timezone.now()), file=file, tell=tell)

    brought = took(bring)
    stored = Reading.objects.count()
    if not stored or counts["accepted"] < 0.99 * stored:
        raise RuntimeError(f"The readings were not brought in: {dict(counts)}")
    return {
        "seconds": brought.processor_s,
        "clock_s": brought.clock_s,
        "peak_mb": peak_mb(),
    }


def bare(*, rows_of: str) -> Answer:
    """Write the readings that another database holds, in one transaction, and nothing else."""
    connection.ensure_connection()
    source = sqlite3.connect(Path(rows_of) / Path(connection.settings_dict["NAME"]).name)
    columns = [str(each.column) for each in Reading._meta.concrete_fields]
    rows = source.execute(f"SELECT {', '.join(columns)} FROM counters_reading").fetchall()
    places = ", ".join("?" * len(columns))
    statement = f"INSERT INTO counters_reading ({', '.join(columns)}) VALUES ({places})"
    with connection.cursor() as cursor:
        # the imported rows name their batch and hand-in, which the bare database does not hold
        cursor.execute("PRAGMA foreign_keys = OFF")

    def write() -> None:
        with transaction.atomic():
            connection.connection.executemany(statement, rows)

    return {"seconds": took(write).processor_s, "rows": len(rows)}


def build_registers(*, molds: int) -> Answer:
    """Make an empty plant, and the files that it moves in with."""
    call_command("migrate", verbosity=0)
    plant.build_empty()
    load_starting_sets(Doing(person=_lead(), now=timezone.now()))
    registers.write_register(_folder() / registers.REGISTER, molds=molds)
    registers.write_sheet(_folder() / registers.SHEET, molds=molds)
    return {}


def look_at_registers(*, kind: str) -> Answer:
    """Take one of the files in and judge every row, as the page does before anything is written."""
    doing = Doing(person=_lead(), now=timezone.now())
    name = _file_of(kind)
    content = (_folder() / name).read_bytes()
    counts: dict[str, int] = {}

    def look() -> None:
        upload = keep_upload(doing, name=name, content=content, kind=kind)
        counts.update(look_first(doing, upload=upload, zone=plant.ZONE).counts)

    looked = took(look)
    if set(counts) != {"accepted"}:
        raise RuntimeError(f"Not every row is good: {counts}")
    return {
        "seconds": looked.processor_s,
        "clock_s": looked.clock_s,
        "peak_mb": peak_mb(),
        "counts": counts,
    }


def move_in(*, kind: str) -> Answer:
    """Bring one of the files in through the act that people use; say how many rows it wrote."""
    counts: Counter[str] = Counter()

    def bring() -> None:
        with _register(kind) as file:
            doing = Doing(person=_lead(), now=timezone.now())
            bring_in_register(doing, file=file, tell=lambda row: counts.update([row.verdict]))

    before = rows_by_table(_database())
    brought = took(bring)
    if set(counts) != {"accepted"}:
        raise RuntimeError(f"Not every row was brought in: {dict(counts)}")
    after = rows_by_table(_database())
    written = {name: (before[name], after[name]) for name in after if after[name] > before[name]}
    return {
        "seconds": brought.processor_s,
        "clock_s": brought.clock_s,
        "peak_mb": peak_mb(),
        "written": written,
    }


def bare_rows(*, rows_of: str, written: dict[str, list[int]]) -> Answer:
    """Write the rows that another database was given, in one transaction, and nothing else."""
    connection.ensure_connection()
    source = sqlite3.connect(Path(rows_of) / _database().name)
    tables = []
    for name, (before, _after) in written.items():
        columns = [each[1] for each in source.execute(f'PRAGMA table_info("{name}")')]
        rows = source.execute(
            f'SELECT {", ".join(columns)} FROM "{name}" ORDER BY rowid LIMIT -1 OFFSET ?', [before]
        ).fetchall()
        places = ", ".join("?" * len(columns))
        tables.append((f'INSERT INTO "{name}" ({", ".join(columns)}) VALUES ({places})', rows))
    with connection.cursor() as cursor:
        # rows name others that this database does not hold
        cursor.execute("PRAGMA foreign_keys = OFF")

    def write() -> None:
        with transaction.atomic():
            for statement, rows in tables:
                connection.connection.executemany(statement, rows)

    return {"seconds": took(write).processor_s, "rows": sum(len(rows) for _, rows in tables)}


@contextmanager
def _register(kind: str) -> Iterator[RegisterFile]:
    name = _file_of(kind)
    with (_folder() / name).open("rb") as stream:
        file = open_register_file(stream, name=name, kind=kind, zone=plant.ZONE, answers={})
        if file.plan.open_questions:
            raise RuntimeError(f"The file leaves questions open: {file.plan.open_questions}")
        yield file


def _file_of(kind: str) -> str:
    return registers.REGISTER if kind == "molds" else registers.SHEET


def _lead() -> Person:
    return Person.objects.get(role="lead")


def build_shift(*, molds: int) -> Answer:
    """Build a plant of so many molds, with readings of the last days, and derive everything."""
    call_command("migrate", verbosity=0)
    # so many slips that the small plant too has as many held readings as its page can show
    size = plant.Size(molds=molds, presses=molds // 3, shifts=30, mistyped=50)
    plant.build(size, now=plant.on_the_hour())
    rebuild_all()
    return {}


def shift() -> Answer:
    """Open the Shift page."""
    client = Client()
    client.force_login(Person.objects.get(role="lead"))

    def open_page() -> None:
        answer = client.get("/", headers={"host": "localhost"})
        if answer.status_code != 200:
            raise RuntimeError(f"The Shift page answers {answer.status_code}.")

    open_page()
    with CaptureQueriesContext(connection) as queries:
        open_page()
    asked = len(queries)
    times = [took(open_page) for _ in range(30)]
    return {
        "queries": asked,
        "page_ms": 1_000 * median(each.processor_s for each in times),
        "clock_s": median(each.clock_s for each in times),
    }


def due(*, rows: int) -> Answer:
    """Compute where rules stand, here and in a spreadsheet."""
    from tests.calc.sheet import recalculate, write_due_sheet
    from tests.calc.test_due_sheet import random_rows, standing_of

    made = random_rows()
    made = [made[place % len(made)] for place in range(rows)]
    path = _folder() / "due.xlsx"
    write_due_sheet(made, path)
    computed = took(lambda: [standing_of(row) for row in made])
    return {
        "sheet_s": took(lambda: recalculate(path)).processor_s,
        "due_s": computed.processor_s,
        "clock_s": computed.clock_s,
    }


def month_pdf(*, entries: int) -> Answer:
    """Print a month of the whole plant; then draw the same lines on a bare canvas."""
    from reportlab.lib.pagesizes import A4

    from moldcare.paper.frame import PaperSize
    from moldcare.paper.logbook import logbook_pdf
    from tests.bench.canvas import draw_bare, watched
    from tests.paper.samples import plant_month

    month = plant_month(entries_count=entries)
    # once beforehand: faces are read once a process
    with watched() as drawn:
        pages = logbook_pdf(month, paper_size=PaperSize.A4).pages
    printed = [took(lambda: logbook_pdf(month, paper_size=PaperSize.A4)) for _ in range(3)]
    bare_s = [took(lambda: draw_bare(drawn, size=A4)).processor_s for _ in range(3)]
    return {
        "pages": pages,
        "print_s": median(each.processor_s for each in printed),
        "clock_s": median(each.clock_s for each in printed),
        "bare_s": median(bare_s),
    }


def _database() -> Path:
    return Path(connection.settings_dict["NAME"])


def _folder() -> Path:
    return _database().parent


STEPS: dict[str, Callable[..., Answer]] = {
    "build": build,
    "rebuild": rebuild,
    "one_reading": one_reading,
    "build_import": build_import,
    "import": import_,
    "bare": bare,
    "build_registers": build_registers,
    "look_at_registers": look_at_registers,
    "move_in": move_in,
    "bare_rows": bare_rows,
    "build_shift": build_shift,
    "shift": shift,
    "due": due,
    "month_pdf": month_pdf,
}

if __name__ == "__main__":
    print(json.dumps(STEPS[sys.argv[1]](**json.loads(sys.argv[2]))), flush=True)
