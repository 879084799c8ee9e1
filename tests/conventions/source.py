"""The project's own files, as the convention tests read them."""

import ast
import subprocess
from collections.abc import Iterator
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "moldcare"
TEMPLATES = ROOT / "templates"


def python_files(*folders: Path) -> Iterator[Path]:
    """Every Python file below the folders, migrations left out."""
    for folder in folders:
        for path in sorted(folder.rglob("*.py")):
            if "migrations" not in path.parts:
                yield path


@cache
def tree_of(path: Path) -> ast.Module:
    """A Python file's syntax tree."""
    return ast.parse(path.read_text(), filename=str(path))


def imports_of(path: Path) -> set[str]:
    """The full names of the modules that a file imports, wherever it does so."""
    found: set[str] = set()
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{named(path)} imports relatively"
            found.add(node.module or "")
    return found


def named(path: Path) -> str:
    """A path as people say it."""
    return path.relative_to(ROOT).as_posix()


@cache
def own_files() -> tuple[Path, ...]:
    """Every file that is the project's: what git knows or would, else what is there."""
    listed = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard", "-z"],
        cwd=ROOT,
        capture_output=True,
        check=False,
    )
    if listed.returncode == 0 and listed.stdout:
        paths = [ROOT / name for name in listed.stdout.decode().split("\0") if name]
    else:
        paths = [
            path
            for path in ROOT.rglob("*")
            if not any(part in {".venv", ".git", "data"} for part in path.parts)
        ]
    return tuple(sorted(path for path in paths if path.is_file()))


@cache
def texts() -> dict[str, str]:
    """The project's text files by name; pictures, fonts, sheets and vendored files left out."""
    found = {}
    for path in own_files():
        if "vendor" in path.parts or "fonts" in path.parts:
            continue
        try:
            text = path.read_text(encoding="utf-8")
        except UnicodeDecodeError:
            continue
        if "\0" not in text:
            found[named(path)] = text
    return found
