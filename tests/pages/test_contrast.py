"""Contrast of the face, computed from its tokens.

Source: W3C, WCAG 2.2, success criteria 1.4.3, 1.4.6 and 1.4.11, and "relative luminance" and
"contrast ratio" of its glossary.
"""

import re
from pathlib import Path

import pytest

CSS = Path(__file__).resolve().parents[2] / "static" / "css"
TOKENS = (CSS / "tokens.css").read_text()

LIGHT = r":root \{\n  color-scheme: light;(.*?)\n\}"
DARK_BY_DEVICE = r':root:not\(\[data-theme="light"\]\) \{\n    color-scheme: dark;(.*?)\n  \}'
DARK_BY_HAND = r':root\[data-theme="dark"\] \{\n  color-scheme: dark;(.*?)\n\}'


def colors_of(pattern: str) -> dict[str, str]:
    """Return the colors of one block of tokens.css by name."""
    block = re.search(pattern, TOKENS, re.DOTALL)
    assert block, pattern
    return dict(re.findall(r"--([a-z0-9-]+): (#[0-9a-f]{6});", block.group(1)))


THEMES = {"light": colors_of(LIGHT), "dark": colors_of(DARK_BY_HAND)}

# text and ground; everything a person reads on Shift and the task sheet needs 7:1
TEXT = [
    (text, ground)
    for text in ("ink", "ink-2", "press", "press-2", "rust")
    for ground in ("paper", "sheet", "sheet-2")
] + [
    ("on-press", "press"),
    ("on-press", "press-2"),
    ("plate-ink", "plate-light"),
    ("plate-ink", "plate-mid"),
    ("plate-ink", "plate-dark"),
]
# what must be found but not read: borders of controls, marks on the strip
MARKS = [
    ("control", "sheet"),
    ("control", "paper"),
    ("ink", "groove"),
    ("rust", "groove"),
    ("press", "sheet"),
]


def luminance(color: str) -> float:
    channels = [int(color[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_contrast_is_computed_as_published() -> None:
    # WCAG 2.2: white to black is 21:1; #767676 on white is W3C's example of just over 4.5:1
    assert contrast("#ffffff", "#000000") == pytest.approx(21.0)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


def test_both_ways_into_the_dark_give_the_same_colors() -> None:
    assert colors_of(DARK_BY_DEVICE) == THEMES["dark"]


def test_both_themes_name_the_same_colors() -> None:
    assert THEMES["light"].keys() == THEMES["dark"].keys()


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize(("text", "ground"), TEXT)
def test_text_has_seven_to_one(theme: str, text: str, ground: str) -> None:
    assert contrast(THEMES[theme][text], THEMES[theme][ground]) >= 7.0


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize(("mark", "ground"), MARKS)
def test_marks_and_controls_have_three_to_one(theme: str, mark: str, ground: str) -> None:
    assert contrast(THEMES[theme][mark], THEMES[theme][ground]) >= 3.0


def test_no_color_is_written_outside_the_tokens() -> None:
    stray = {
        sheet.name: found
        for sheet in CSS.rglob("*.css")
        if sheet.name not in {"tokens.css", "print.css"}
        and (found := re.findall(r"#[0-9a-fA-F]{3,8}\b(?=[;,\s)])", sheet.read_text()))
    }
    assert stray == {}


def test_every_token_that_is_used_exists() -> None:
    css = {sheet.name: sheet.read_text() for sheet in CSS.rglob("*.css")}
    defined = set(re.findall(r"(--[a-z0-9-]+):", "".join(css.values())))
    used = {name for text in css.values() for name in re.findall(r"var\((--[a-z0-9-]+)", text)}
    assert used <= defined


def test_nothing_is_fetched_from_elsewhere() -> None:
    for sheet in CSS.rglob("*.css"):
        for address in re.findall(r"url\(([^)]*)\)", sheet.read_text()):
            target = (sheet.parent / address.strip("\"'")).resolve()
            assert target.is_file(), (sheet.name, address)
