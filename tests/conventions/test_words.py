"""What no file of the project holds: places of one machine, notes to self, waiting by the clock."""

import ast
import re

import pytest

from tests.conventions.source import PACKAGE, ROOT, named, python_files, texts, tree_of

# put together here, so that this file does not hold them itself
FORBIDDEN = {
    "a folder of one machine": r"/work/(main|shared)|/home/\w|/Users/\w",
    "a package registry": "|".join(
        ("pypi" + r"\.org", "python" + r"hosted", "registry" + r"\.npmjs", "deb" + r"\.debian")
    ),
    "a note to self": r"\b(TO" + r"DO|FIX" + r"ME|XX" + r"X)\b",
    "a number of a tracker": r"(fix(es|ed)?|close[sd]?|issue|ticket) #\d",
    "where the work came from": "|".join(
        (
            "shared" + "/design",
            "design" + r" docu" + "ment",
            "tran" + "script",
            "seed docu" + "ment",
        )
    ),
    "a leftover of a merge": r"^(<<<<<<<|>>>>>>>) ",
}


@pytest.mark.parametrize("what", FORBIDDEN)
def test_no_file_names(what: str) -> None:
    pattern = re.compile(FORBIDDEN[what], re.IGNORECASE | re.MULTILINE)
    found = [
        f"{name}:{text[: match.start()].count(chr(10)) + 1}: {match.group()}"
        for name, text in texts().items()
        for match in pattern.finditer(text)
        # the first of these is a Spanish word
        if not (what == "a note to self" and name.startswith("moldcare/locale/es/"))
    ]
    assert not found


def test_one_spelling_of_the_trade_s_word() -> None:
    """US spelling: mold. The other spelling is a locale's, and a heading in files people bring."""
    found = [
        name
        for name, text in texts().items()
        if name.startswith(("moldcare/", "tests/", "templates/"))
        and "locale/" not in name
        and "feeds/" not in name
        and re.search(r"\bmould" + r"s?\b", text, re.IGNORECASE)
    ]
    assert not found


def test_no_file_is_named_for_nothing() -> None:
    empty_names = {"utils", "util", "helpers", "helper", "manager", "managers", "misc", "common"}
    found = [named(path) for path in python_files(PACKAGE) if path.stem in empty_names]
    assert not found


def test_tests_do_not_wait_by_the_clock() -> None:
    found = [
        f"{named(path)}:{node.lineno}"
        for path in python_files(ROOT / "tests")
        for node in ast.walk(tree_of(path))
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and node.func.attr in {"sleep", "wait_for_timeout"}
    ]
    assert not found


def test_no_test_folder_is_named_for_nothing() -> None:
    """Tests mirror what they test: every folder of tests/core names a part of the core."""
    folders = {path.name for path in (ROOT / "tests" / "core").iterdir() if path.is_dir()}
    parts = {path.stem for path in (PACKAGE / "core").iterdir()}
    assert folders - {"oracles", "__pycache__"} <= parts


def test_every_pinned_requirement_says_why_it_is_there() -> None:
    for name in ("requirements.txt", "tests/requirements.txt"):
        for line in (ROOT / name).read_text().splitlines():
            if line and not line.startswith(("#", "-r")):
                assert re.match(r"[A-Za-z0-9_.\[\]-]+==\S+", line), f"{name}: {line} is not pinned"
                assert "#" in line, f"{name}: {line} does not say why"
