"""Measure: `python -m tests.bench [NAME ...] [--quick]`. One JSON line a result.

Every bench is a ratio to a baseline that is measured in the same run, so that the answer depends
little on the machine. Time is the processor's, so that it depends little on what else runs there;
only one_reading, which waits for the disk, goes by the clock. The exit code is 1 when a limit does
not hold. --quick takes a twentieth of
the bench plant: 100 molds and 110,000 readings in place of 2,000 and 2.2 million.

Each step runs in a process of its own: what it holds in memory is its own too.
"""

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any

from tests.bench.measuring import Result

ROOT = Path(__file__).resolve().parent.parent.parent
MOST_QUERIES = 15
FEW_MOLDS = 200


class Steps:
    """Runs steps in the folders of one run, each with a database of its own."""

    def __init__(self, folder: Path, *, is_quick: bool) -> None:
        self.folder = folder
        self.is_quick = is_quick

    def run(self, step: str, *, on: str, **arguments: Any) -> dict[str, Any]:
        """Run one step in a new process on a database; return what it says."""
        print(f"{step} on {on}", file=sys.stderr, flush=True)
        where = self.folder / on
        where.mkdir(exist_ok=True)
        done = subprocess.run(
            [sys.executable, "-m", "tests.bench.steps", step, json.dumps(arguments)],
            cwd=ROOT,
            env={
                **os.environ,
                "MOLDCARE_BENCH_FOLDER": str(where),
                "DATABASE_URL": "",
                "DJANGO_SETTINGS_MODULE": "tests.bench.settings",
            },
            stdout=subprocess.PIPE,
            check=True,
        )
        answer: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
        return answer

    @cache  # noqa: B019 - lives as long as the run
    def plant(self) -> dict[str, Any]:
        """Build the bench plant, derive everything once, and say how that went."""
        self.run("build", on="plant", is_quick=self.is_quick)
        return self.run("rebuild", on="plant")

    @cache  # noqa: B019
    def shift(self, molds: int) -> dict[str, Any]:
        """Build a plant of so many molds, and say how its Shift page does."""
        where = f"shift-{molds}"
        self.run("build_shift", on=where, molds=molds)
        return self.run("shift", on=where)

    @property
    def many_molds(self) -> int:
        """The molds of the larger of two plants whose Shift pages are compared."""
        return 1_000 if self.is_quick else 20_000


def shift_queries(steps: Steps) -> Iterator[Result]:
    """The Shift page asks as often in a large plant as in a small one, and not often."""
    few, many = steps.shift(FEW_MOLDS), steps.shift(steps.many_molds)
    yield Result(
        bench="shift_queries",
        value=many["queries"],
        unit="queries",
        limit=MOST_QUERIES,
    )
    yield Result(
        bench="shift_queries_same",
        value=many["queries"],
        unit="queries",
        baseline=few["queries"],
        against=f"{FEW_MOLDS} molds; measured with {steps.many_molds}",
        limit=1,
    )


def shift_time(steps: Steps) -> Iterator[Result]:
    """The Shift page of a large plant takes little longer than that of a small one."""
    few, many = steps.shift(FEW_MOLDS), steps.shift(steps.many_molds)
    yield Result(
        bench="shift_time",
        value=many["page_ms"],
        unit="ms",
        clock_s=many["clock_s"],
        baseline=few["page_ms"],
        against=f"{FEW_MOLDS} molds; measured with {steps.many_molds}",
        limit=1.5,
    )


def one_reading(steps: Steps) -> Iterator[Result]:
    """A reading with all that follows from it, against a bare insert; both durable."""
    steps.plant()
    measured = steps.run("one_reading", on="plant", times=60 if steps.is_quick else 300)
    yield Result(
        bench="one_reading",
        value=1 / measured["act_s"],
        unit="readings/s",
        baseline=1 / measured["bare_s"],
        against="bare durable insert into the same table",
        limit=0.02,
        is_least=True,
    )


def bulk_import(steps: Steps) -> Iterator[Result]:
    """All readings from a file, counted, against writing the same rows and nothing else."""
    steps.run("build_import", on="import", is_quick=steps.is_quick)
    shutil.copytree(steps.folder / "import", steps.folder / "bare")
    imported = steps.run("import", on="import")
    bare = steps.run("bare", on="bare", rows_of=str(steps.folder / "import"))
    yield Result(
        bench="bulk_import",
        value=imported["seconds"],
        unit="s",
        clock_s=imported["clock_s"],
        baseline=bare["seconds"],
        against=f"bare executemany of the same {bare['rows']:,} readings",
        limit=15,
    )
    yield Result(bench="bulk_import_memory", value=imported["peak_mb"], unit="MB", limit=500)


def register_import(steps: Steps) -> Iterator[Result]:
    """A plant moves in, against writing the same rows of all tables and nothing else."""
    molds = 250 if steps.is_quick else 5_000
    steps.run("build_registers", on="register", molds=molds)
    looked, brought, bare = [], [], []
    for kind in ("molds", "rules"):
        where = f"bare-{kind}"
        shutil.copytree(steps.folder / "register", steps.folder / where)
        looked.append(steps.run("look_at_registers", on="register", kind=kind))
        brought.append(steps.run("move_in", on="register", kind=kind))
        written = brought[-1]["written"]
        rows_of = str(steps.folder / "register")
        bare.append(steps.run("bare_rows", on=where, rows_of=rows_of, written=written))
    yield Result(
        bench="register_import",
        value=sum(each["seconds"] for each in brought),
        unit="s",
        clock_s=sum(each["clock_s"] for each in brought),
        baseline=sum(each["seconds"] for each in bare),
        against=f"bare executemany of the same {sum(each['rows'] for each in bare):,} rows",
        limit=25,
    )
    yield Result(
        bench="register_preview_memory",
        value=max(each["peak_mb"] for each in looked),
        unit="MB",
        limit=400,
    )


def rebuild(steps: Steps) -> Iterator[Result]:
    """Deriving everything again, against reading every row once."""
    measured = steps.plant()
    yield Result(
        bench="rebuild",
        value=measured["seconds"],
        unit="s",
        clock_s=measured["clock_s"],
        baseline=measured["read_s"],
        against=f"plain cursor over all {measured['rows']:,} rows",
        limit=10,
    )
    yield Result(bench="rebuild_memory", value=measured["peak_mb"], unit="MB", limit=1_000)


def due_against_sheet(steps: Steps) -> Iterator[Result]:
    """Where rules stand, against a spreadsheet that computes the same rows."""
    measured = steps.run("due", on="due", rows=1_500 if steps.is_quick else 24_000)
    yield Result(
        bench="due_against_sheet",
        value=measured["due_s"],
        unit="s",
        clock_s=measured["clock_s"],
        baseline=measured["sheet_s"],
        against="recalculation of the same rows by LibreOffice",
        limit=0.1,
    )


def month_pdf(steps: Steps) -> Iterator[Result]:
    """The month of a plant on paper, against a bare canvas that draws the same lines."""
    measured = steps.run("month_pdf", on="paper", entries=200 if steps.is_quick else 2_600)
    yield Result(
        bench="month_pdf",
        value=measured["pages"] / measured["print_s"],
        unit="pages/s",
        clock_s=measured["clock_s"],
        baseline=measured["pages"] / measured["bare_s"],
        against=f"bare canvas that draws the same lines on {measured['pages']} pages",
        limit=0.5,
        is_least=True,
    )


BENCHES: dict[str, Callable[[Steps], Iterator[Result]]] = {
    each.__name__: each
    for each in (
        shift_queries,
        shift_time,
        rebuild,
        one_reading,
        bulk_import,
        register_import,
        due_against_sheet,
        month_pdf,
    )
}


def main() -> int:
    """Run the chosen benches; 1 when a limit does not hold."""
    arguments = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    arguments.add_argument("names", nargs="*", metavar="NAME", help=", ".join(BENCHES))
    arguments.add_argument("--quick", action="store_true", help="a twentieth of the bench plant")
    chosen = arguments.parse_args()
    unknown = [name for name in chosen.names if name not in BENCHES]
    if unknown:
        arguments.error(f"no bench is called {', '.join(unknown)}; there are {', '.join(BENCHES)}")
    hold = True
    with tempfile.TemporaryDirectory(prefix="moldcare-bench-") as folder:
        steps = Steps(Path(folder), is_quick=chosen.quick)
        for name in chosen.names or BENCHES:
            for result in BENCHES[name](steps):
                print(json.dumps(result.line()), flush=True)
                hold = hold and result.holds
    return 0 if hold else 1


if __name__ == "__main__":
    sys.exit(main())
