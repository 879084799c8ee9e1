"""Templates and what they bring along: nothing inline, nothing from elsewhere, one heading."""

import re
from pathlib import Path

import pytest

from tests.conventions.source import ROOT, TEMPLATES, named, own_files

PAGES = sorted(TEMPLATES.rglob("*.html"))
# a name space is a name, not an address; licences name where they come from
NAME_SPACES = {"http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"}
each_page = pytest.mark.parametrize("path", PAGES, ids=named)


def markup(path: Path) -> str:
    """A template without its comments."""
    text = re.sub(r"{#.*?#}", "", path.read_text())
    return re.sub(r"{% comment.*?%}.*?{% endcomment %}", "", text, flags=re.S)


def test_there_are_templates() -> None:
    assert {"base.html", "404.html"} <= {path.name for path in PAGES}


@each_page
def test_nothing_is_inline(path: Path) -> None:
    """The policy that is sent with every page would silence it."""
    text = markup(path)
    assert not re.search(r"<style\b", text, re.I)
    assert not re.search(r"\sstyle\s*=", text, re.I)
    assert not re.search(r"[\s\"']on[a-z]+\s*=\s*[\"']", text, re.I)
    assert not re.search(r"\shx-on\b|hx-vals\s*=\s*[\"']js:|javascript:", text, re.I)
    assert not re.search(r"<script\b(?![^>]*\bsrc\s*=)", text, re.I)


@each_page
def test_every_form_that_writes_carries_its_token(path: Path) -> None:
    for form in re.findall(r"<form\b[^>]*\bmethod=\"post\".*?</form>", markup(path), re.S | re.I):
        assert "{% csrf_token %}" in form


@each_page
def test_every_picture_says_what_it_shows(path: Path) -> None:
    for picture in re.findall(r"<img\b[^>]*>", markup(path), re.S | re.I):
        assert re.search(r"\salt=", picture), picture


@each_page
def test_at_most_one_first_heading(path: Path) -> None:
    assert len(re.findall(r"<h1\b", markup(path), re.I)) <= 1


@each_page
def test_a_page_that_translates_loads_what_it_needs(path: Path) -> None:
    text = markup(path)
    if re.search(r"{% (translate|blocktranslate|trans|blocktrans)\b", text):
        assert "{% load i18n" in text or re.search(r"{% load [^%]*\bi18n\b", text)


def test_nothing_comes_from_elsewhere() -> None:
    found = []
    for path in own_files():
        name = named(path)
        if not name.startswith(("templates/", "static/")):
            continue
        if "vendor/" in name or path.suffix not in {".html", ".css", ".js", ".svg", ".json"}:
            continue
        addresses = re.findall(r"(?:https?:)?//[\w.-]+\.[a-z]{2,}[^\s\"'<)]*", path.read_text())
        found += [f"{name}: {each}" for each in addresses if each not in NAME_SPACES]
    assert not found


def test_what_was_taken_over_has_its_licence_and_version_beside_it() -> None:
    for folder in (ROOT / "static" / "vendor", ROOT / "static" / "fonts"):
        for path in folder.rglob("*"):
            if path.suffix in {".woff2", ".ttf", ".otf"} or path.name.endswith(".min.js"):
                beside = [other.name.upper() for other in path.parent.iterdir()]
                assert any("LICEN" in name for name in beside), named(path)
                assert "VERSIONS" in beside, named(path)
