"""The style sheets of all pages, in the order they build on one another.

Served as they lie, each is a file of its own. Collected, they are one: a tablet asks once, and what
repeats from sheet to sheet is compressed away.
"""

from pathlib import Path

STYLES = (
    "css/fonts.css",
    "css/tokens.css",
    "css/base.css",
    "css/components/bar.css",
    "css/components/button.css",
    "css/components/find.css",
    "css/components/plate.css",
    "css/components/strip.css",
    "css/components/tag.css",
    "css/components/ledger.css",
    "css/components/note.css",
    "css/components/form.css",
    "css/components/sheet.css",
    "css/components/caution.css",
    "css/components/plain.css",
    "css/components/mold.css",
    "css/components/water.css",
    "css/components/round.css",
    "css/components/setup.css",
    "css/components/wall.css",
    "css/print.css",
)
ALL_STYLES = "css/all.css"


def all_styles(root: Path) -> str:
    """Return all style sheets as one; their addresses must be those of a sheet in css."""
    return "\n".join((root / name).read_text() for name in STYLES)
