"""Scripts go to the tablet without remarks and indentation, and are the same scripts."""

from pathlib import Path

import pytest
from playwright.sync_api import Page

from moldcare.light_scripts import light

SCRIPTS = sorted((Path(__file__).resolve().parents[2] / "static" / "js").glob("*.js"))
each_script = pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: str(path.name))


@each_script
def test_no_text_runs_over_lines_that_would_be_changed(path: Path) -> None:
    for line in path.read_text().splitlines():
        assert line.count("`") % 2 == 0, line


@each_script
def test_only_remarks_and_indentation_go(path: Path) -> None:
    script = path.read_text()
    kept = light(script).splitlines()
    assert light(light(script)) == light(script)
    own = [line.strip() for line in script.splitlines()]
    assert set(kept) <= set(own)
    assert not [line for line in kept if line.startswith(("//", "/*"))]


def test_every_light_script_can_be_read_by_a_browser(page: Page) -> None:
    for path in SCRIPTS:
        read = "(text) => { new Function(text.replace('importScripts(STORE);', '')); }"
        page.evaluate(read, light(path.read_text()))
