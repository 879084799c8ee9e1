"""The floors of the house: what may import what."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

from tests.conventions.source import PACKAGE, ROOT, imports_of, named, python_files, tree_of

CORE = PACKAGE / "core"
ORACLES = ROOT / "tests" / "core" / "oracles"


def test_floors_import_downwards_only() -> None:
    # in a process of its own: the linter sets up logging anew and silences every logger there is
    found = subprocess.run(
        [Path(sys.executable).with_name("lint-imports"), "--no-cache"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert found.returncode == 0, found.stdout


def test_every_package_has_its_floor() -> None:
    import tomllib

    settings = tomllib.loads((ROOT / "pyproject.toml").read_text())
    layers = settings["tool"]["importlinter"]["contracts"][0]["layers"]
    listed = {name.strip() for layer in layers for name in layer.split("|")}
    packages = {f"moldcare.{path.parent.name}" for path in PACKAGE.glob("*/__init__.py")}
    assert packages <= listed


@pytest.mark.parametrize("path", list(python_files(CORE)), ids=named)
def test_core_knows_no_django_no_file_no_network(path: Path) -> None:
    forbidden = {"django", "os", "pathlib", "io", "socket", "subprocess", "time", "random", "uuid"}
    assert not {name.split(".")[0] for name in imports_of(path)} & forbidden
    opened = [
        node.lineno
        for node in ast.walk(tree_of(path))
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Name)
        and node.func.id in {"open", "print", "input"}
    ]
    assert not opened


# the clock is read in pages, commands and listeners only, once, and handed down as an argument
CLOCKLESS = ("core", "plant", "files", "handin", "logbook", "molds", "counters", "production")
CLOCKLESS += ("care", "work", "acts", "paper")


@pytest.mark.parametrize("package", CLOCKLESS)
def test_below_the_pages_nothing_reads_the_clock(package: str) -> None:
    readers = [
        f"{named(path)}:{node.lineno}"
        for path in python_files(PACKAGE / package)
        for node in ast.walk(tree_of(path))
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and (
            (node.func.attr in {"utcnow", "today", "localdate"})
            or (
                node.func.attr == "now"
                and isinstance(node.func.value, ast.Name)
                and node.func.value.id in {"datetime", "timezone"}
            )
        )
    ]
    assert not readers


@pytest.mark.parametrize("path", list(python_files(ORACLES)), ids=named)
def test_an_oracle_shares_nothing_but_values_with_what_it_checks(path: Path) -> None:
    for name in imports_of(path):
        top = name.split(".")[0]
        if top == "moldcare":
            assert name.split(".")[-1] == "values", f"{named(path)} imports {name}"
        elif top != "__future__":
            assert top in sys.stdlib_module_names, f"{named(path)} imports {name}"


def test_only_acts_and_what_is_derived_write_rows() -> None:
    """A page, a query or a paper that writes goes round rights, hand-ins and the logbook."""
    writers = {"create", "bulk_create", "bulk_update", "get_or_create", "update_or_create"}
    found = [
        f"{named(path)}:{node.lineno}"
        for package in ("pages", "paper")
        for path in python_files(PACKAGE / package)
        for node in ast.walk(tree_of(path))
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and node.func.attr in writers
        and isinstance(node.func.value, ast.Attribute)
        and node.func.value.attr == "objects"
    ]
    assert not found
