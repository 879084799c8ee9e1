"""Run all tests: `python -m tests`. Says what was skipped and why, and fails when a test fails.

Four parts, one after the other: the core, which needs no database; what else is quick, on SQLite;
what is slow, needs a browser or the spreadsheet; and what uses a database once more, on a
throw-away PostgreSQL server, without a browser.

`python -m tests quick` leaves out the slow tests, the browser and PostgreSQL. What follows after
`--` is handed to pytest.

MOLDCARE_NO_SKIPS=1 makes a failure of whatever this machine cannot run.
MOLDCARE_TESTS_COVERAGE=core records which lines and branches the first part runs, =all those of
the first two.
"""

import argparse
import os
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
POSTGRES = ROOT / ".ci" / "postgres"
NOT_INSTALLED = 69
NO_TESTS_COLLECTED = 5
CORE = ("tests/core", "moldcare/core")
QUICK = "not slow and not browser and not calc"


@dataclass(frozen=True, kw_only=True)
class Part:
    """One run of pytest."""

    title: str
    marks: str
    on_postgres: bool = False
    folders: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()
    workers: int
    covered_by: frozenset[str] = frozenset()


def is_set(name: str) -> bool:
    """Return whether a variable asks for something."""
    return os.environ.get(name, "") not in {"", "0"}


def parts(*, is_quick: bool, workers: int) -> list[Part]:
    """Return what there is to run."""
    quick = [
        Part(
            title="the core",
            marks=QUICK,
            folders=CORE,
            workers=workers,
            covered_by=frozenset({"core", "all"}),
        ),
        Part(
            title="what else is quick, on SQLite",
            marks=QUICK,
            left_out=CORE,
            workers=workers,
            covered_by=frozenset({"all"}),
        ),
    ]
    if is_quick:
        return quick
    # the core's tests touch no database (the floors forbid it), and pages ask the database by what
    # the acts' and the packages' tests ask it by: of theirs, what hands it junk is tried again
    stored = (
        *(
            str(path.relative_to(ROOT))
            for path in sorted((ROOT / "tests").iterdir())
            if path.name not in {"core", "bench", "calc", "pages", "demo", "browser"}
            and (path.name.startswith("test_") or (path.is_dir() and any(path.rglob("test_*.py"))))
        ),
        "tests/pages/test_junk.py",
        "tests/pages/test_query_counts.py",
    )
    return [
        *quick,
        Part(
            title="slow ones, browser and spreadsheet",
            marks="slow or browser or calc",
            workers=workers,
        ),
        Part(
            title="once more on PostgreSQL",
            marks="stored and not browser and not calc and not once",
            on_postgres=True,
            folders=stored,
            workers=workers,
        ),
    ]


def command(part: Part, *, is_covered: bool, rest: list[str]) -> list[str]:
    """Return the command line of a part."""
    run = [sys.executable, "-m"]
    run += ["coverage", "run", "-m", "pytest"] if is_covered else ["pytest"]
    run += ["-q", "-m", part.marks, *(rest or part.folders)]
    run += [f"--ignore={folder}" for folder in part.left_out]
    if part.workers > 1:
        # a file stays with one worker: its tests share what is costly to build. Files are taken in
        # the order of tests/conftest.py, not by how many tests they have
        run += ["-n", str(part.workers), "--dist", "loadfile", "--no-loadscope-reorder"]
    return [str(POSTGRES), *run] if part.on_postgres else run


def split_at_dashes(words: list[str]) -> tuple[list[str], list[str]]:
    """Return the words before a lone -- and those after it."""
    place = words.index("--") if "--" in words else len(words)
    return words[:place], words[place + 1 :]


def main() -> int:
    """Run the parts and return 0 when all of them passed."""
    arguments = argparse.ArgumentParser(prog="python -m tests", description=__doc__)
    arguments.add_argument("which", nargs="?", default="all", choices=["all", "quick"])
    arguments.add_argument("--workers", type=int, default=min(os.cpu_count() or 1, 4))
    own, rest = split_at_dashes(sys.argv[1:])
    chosen = arguments.parse_args(own)
    strict = is_set("MOLDCARE_NO_SKIPS")
    environment = {**os.environ, "PYTHONHASHSEED": "0"}
    results = []
    for part in parts(is_quick=chosen.which == "quick", workers=chosen.workers):
        print(f"\n== {part.title}", flush=True)
        is_covered = os.environ.get("MOLDCARE_TESTS_COVERAGE", "") in part.covered_by
        begun = time.monotonic()
        status = subprocess.run(
            command(part, is_covered=is_covered, rest=rest),
            cwd=ROOT,
            env=environment,
            check=False,
        ).returncode
        took = f"{time.monotonic() - begun:.0f} s"
        if part.on_postgres and status == NOT_INSTALLED:
            said = "FAILED: may not be skipped" if strict else "skipped"
            results.append((not strict, f"{said}: PostgreSQL's server is not installed"))
        elif status == NO_TESTS_COLLECTED and rest:
            results.append((True, "nothing was chosen"))
        elif status == NO_TESTS_COLLECTED:
            results.append((False, "FAILED: found no test"))
        else:
            results.append((status == 0, f"{'passed' if status == 0 else 'FAILED'}, {took}"))
        results[-1] = (results[-1][0], f"{part.title}: {results[-1][1]}")
    print("\n== all together")
    for _, line in results:
        print(f"  {line}")
    return 0 if all(passed for passed, _ in results) else 1


if __name__ == "__main__":
    sys.exit(main())
