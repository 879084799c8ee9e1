"""Every page in a language that nobody speaks: what still reads as English escaped translation."""

import re
from html.parser import HTMLParser
from typing import Any

import pytest
from django.apps import apps
from django.db import models
from django.utils import translation

from tests.pages.routes import routes, sample_path, signed_in
from tests.pages.small_world import World, enlarge, small_world

pytestmark = [pytest.mark.slow, pytest.mark.once]

PLAIN = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ"
STRANGE = "ⓐⓑⓒⓓⓔⓕⓖⓗⓘⓙⓚⓛⓜⓝⓞⓟⓠⓡⓢⓣⓤⓥⓦⓧⓨⓩⒶⒷⒸⒹⒺⒻⒼⒽⒾⒿⓀⓁⓂⓃⓄⓅⓆⓇⓈⓉⓊⓋⓌⓍⓎⓏ"
LETTERS = str.maketrans(PLAIN, STRANGE)
KEPT = re.compile(r"(%\(\w+\)[sd]|%[sd%]|\{\w*\}|<[^>]+>|&\w+;)")
WORD = re.compile(r"[A-Za-z]{2,}")
# what scripts fill in; names of files; how a step says what it asks for; the digits of a hash
NO_WORD = re.compile(r"\{\w+\}|[\w-]+\.(?:csv|xlsx)\b|\[[^]]*\]|(?:\b[0-9a-f]{4}\b ?){4,}")
SENTENCE = re.compile(r"[.?!]")
# said the same in every language: the program, forms of files, units, what is stamped on molds
SAME = {
    *("moldcare", "pdf", "csv", "xlsx", "json", "pin", "qr", "css", "svg", "nl"),
    *("in", "out", "mm", "cm", "kg", "kn", "lb", "min", "ms", "gpm", "us", "psi", "bar"),
    *("spi", "vdi", "en", "de", "es", "english", "deutsch", "espa", "ol", "utc", "iso"),
}
SAID_BY = ("aria-label", "title", "placeholder", "alt")


def strange(text: str) -> str:
    """The text in letters that no data has; what is filled in stays."""
    return "".join(
        part if place % 2 else part.translate(LETTERS)
        for place, part in enumerate(KEPT.split(text))
    )


@pytest.fixture
def strange_language(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever is translated, is in strange letters."""
    trans: Any = translation._trans  # type: ignore[attr-defined]
    for name in ("gettext", "pgettext", "ngettext", "npgettext"):
        plain = getattr(trans, name)

        def said(*args: Any, plain: Any = plain) -> str:
            return strange(str(plain(*args)))

        monkeypatch.setattr(trans, name, said)


class Said(HTMLParser):
    """Collects what a page says: texts, names of controls, sentences that scripts show."""

    def __init__(self) -> None:
        super().__init__()
        self.texts: list[str] = []
        self.inside: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in {"script", "style", "template"}:
            self.inside.append(tag)
        values = {name: value or "" for name, value in attrs}
        self.texts += [values[name] for name in SAID_BY if name in values]
        if tag in {"button", "input"} and values.get("type") in {"submit", "button"}:
            self.texts.append(values.get("value", "") if tag == "input" else "")
        self.texts += [
            value
            for name, value in values.items()
            if name.startswith("data-") and SENTENCE.search(value) and " " in value.strip()
        ]

    def handle_endtag(self, tag: str) -> None:
        if self.inside and self.inside[-1] == tag:
            self.inside.pop()

    def handle_data(self, data: str) -> None:
        if not self.inside:
            self.texts.append(data)


def words_of_the_plant() -> set[str]:
    """Every word that stands in the database: what people wrote is said as they wrote it."""
    found: set[str] = set()
    for model in apps.get_models():
        if model._meta.app_label in {"auth", "contenttypes", "sessions", "admin"}:
            continue
        names = [
            field.attname
            for field in model._meta.concrete_fields
            if isinstance(field, models.CharField | models.TextField | models.JSONField)
        ]
        for row in model._base_manager.values_list(*names) if names else ():
            for value in row:
                found |= {word.casefold() for word in WORD.findall(str(value or ""))}
    return found


def test_no_page_says_what_no_language_can(db: None, strange_language: None) -> None:
    world: World = small_world()
    enlarge(world, by=1)
    known = words_of_the_plant() | SAME
    escaped: dict[str, list[str]] = {}
    for route in routes():
        if route.is_admin:
            continue
        answer = signed_in("manager", world=world).get(sample_path(route, world=world))
        kind = answer.headers.get("Content-Type", "")
        if answer.status_code >= 400 or not kind.startswith("text/html"):
            continue
        page = Said()
        page.feed(answer.getvalue().decode())
        found = [
            " ".join(text.split())[:90]
            for text in page.texts
            if {word.casefold() for word in WORD.findall(NO_WORD.sub("", text))} - known
        ]
        if found:
            escaped[route.name] = sorted(set(found))
    assert not escaped


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("Take %(n)d", "Ⓣⓐⓚⓔ %(n)d"),
        ("<b>due</b> {value}&nbsp;%%", "<b>ⓓⓤⓔ</b> {value}&nbsp;%%"),
    ],
)
def test_the_strange_language_keeps_what_is_filled_in(text: str, said: str) -> None:
    assert strange(text) == said
