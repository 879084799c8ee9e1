"""What a first page takes over a hall's wifi: style sheets in one, pages compressed."""

import gzip
from collections.abc import Callable
from pathlib import Path

import pytest
from django.test import Client

from moldcare.light_scripts import light
from moldcare.light_styles import STYLES, all_styles
from tests import factories

STATIC = Path(__file__).resolve().parents[2] / "static"
# what the task sheet's page asks for of our own; draw.js comes with the first photo
SHEET_SCRIPTS = (
    "theme", "store", "outbox", "drop", "net", "once", "focus", "wheel", "pad", "idle", "scan",
    "sheet_number", "photo", "watch", "sheet",
)  # fmt: skip
MOST_OWN_SCRIPT_BYTES = 20_000


def test_every_style_sheet_is_among_those_of_all_pages() -> None:
    lie = {str(path.relative_to(STATIC)) for path in (STATIC / "css").rglob("*.css")}
    assert set(STYLES) == lie


def test_collected_style_sheets_are_one_in_the_same_order(tmp_path: Path) -> None:
    for name in STYLES:
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text(f"/* {name} */")
    assert all_styles(tmp_path).splitlines() == [f"/* {name} */" for name in STYLES]


@pytest.mark.django_db
def test_a_page_is_sent_compressed(
    client_of: Callable[[str], Client],
) -> None:
    factories.plant()
    page = client_of("lead").get("/", headers={"Accept-Encoding": "gzip"})
    assert page.headers["Content-Encoding"] == "gzip"
    assert b"</html>" in gzip.decompress(page.content)


def test_own_scripts_of_the_task_sheet_stay_small() -> None:
    scripts = [(STATIC / f"js/{name}.js").read_text() for name in SHEET_SCRIPTS]
    sent = [len(gzip.compress(light(script).encode(), 9)) for script in scripts]
    assert sum(sent) <= MOST_OWN_SCRIPT_BYTES
