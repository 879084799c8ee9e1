"""The catalogs of German and Spanish: whole, true to their placeholders, compiled as they stand."""

import os
import re
import shutil
import subprocess
import sys
from gettext import GNUTranslations
from pathlib import Path

import pytest
from babel.messages import Catalog, Message
from babel.messages.pofile import read_po
from django.conf import settings

from tests.conventions.source import PACKAGE, ROOT, TEMPLATES

LANGUAGES = [code for code, _name in settings.LANGUAGES if code != "en"]
# placeholders of Python and of scripts, marks of HTML
HELD = re.compile(r"%\(\w+\)[sd]|%[sd%]|\{\w+\}|</?\w+[^>]*>|&\w+;")
Key = tuple[str | None, tuple[str, ...]]


def folder(language: str) -> Path:
    return PACKAGE / "locale" / language / "LC_MESSAGES"


def catalog_in(path: Path, *, language: str) -> Catalog:
    with path.open("rb") as file:
        return read_po(file, locale=language)


def messages_of(catalog: Catalog) -> dict[Key, Message]:
    return {(message.context, forms(message.id)): message for message in catalog if message.id}


def forms(text: object) -> tuple[str, ...]:
    return tuple(str(form) for form in text) if isinstance(text, (list, tuple)) else (str(text),)


@pytest.fixture(scope="module")
def said(tmp_path_factory: pytest.TempPathFactory) -> set[Key]:
    """Every message that pages, acts and paper can say, read from the source."""
    if shutil.which("xgettext") is None:
        pytest.skip("gettext is not installed (Debian: apt-get install gettext)")
    place = tmp_path_factory.mktemp("messages")
    shutil.copytree(PACKAGE, place / "moldcare", ignore=shutil.ignore_patterns("locale"))
    shutil.copytree(TEMPLATES, place / "templates")
    (place / "locale").mkdir()
    subprocess.run(
        [sys.executable, "-m", "django", "makemessages", "-l", "de", "--no-location", "-v", "0"],
        cwd=place,
        # without the settings of the tests: it reads files, not the program
        env={name: text for name, text in os.environ.items() if name != "DJANGO_SETTINGS_MODULE"},
        check=True,
        capture_output=True,
    )
    found = place / "locale" / "de" / "LC_MESSAGES" / "django.po"
    return set(messages_of(catalog_in(found, language="de")))


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_message_is_there_and_none_that_nobody_says(language: str, said: set[Key]) -> None:
    kept = set(messages_of(catalog_in(folder(language) / "django.po", language=language)))
    assert not sorted(map(str, said - kept)), "run makemessages, see DEVELOPERS.md"
    assert not sorted(map(str, kept - said)), "run makemessages --no-obsolete"


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_message_is_translated_and_by_nobody_s_guess(language: str) -> None:
    catalog = catalog_in(folder(language) / "django.po", language=language)
    open_ones = [
        message.id
        for message in messages_of(catalog).values()
        if message.fuzzy or not all(form.strip() for form in forms(message.string))
    ]
    assert not open_ones
    assert not catalog.obsolete


@pytest.mark.parametrize("language", LANGUAGES)
def test_translations_hold_what_is_filled_in(language: str) -> None:
    """The singular may leave its number out; everything else is there as often as it was."""
    faults = []
    for message in messages_of(
        catalog_in(folder(language) / "django.po", language=language)
    ).values():
        asked, given = forms(message.id), forms(message.string)
        most = set(HELD.findall(asked[-1]))
        for place, form in enumerate(given):
            held = HELD.findall(form)
            is_singular = len(given) > 1 and place == 0
            wanted = set(HELD.findall(asked[min(place, len(asked) - 1)]))
            fits = set(held) <= most | wanted if is_singular else set(held) == wanted
            edges = (asked[0][:1].isspace(), asked[0][-1:].isspace())
            if not fits or edges != (form[:1].isspace(), form[-1:].isspace()):
                faults.append((asked[0], form))
    assert not faults


@pytest.mark.parametrize("language", LANGUAGES)
def test_what_is_compiled_is_what_is_written(language: str) -> None:
    """The program reads the compiled one; a fresh machine need not have what compiles it."""
    with (folder(language) / "django.mo").open("rb") as file:
        compiled = GNUTranslations(file)
    catalog = messages_of(catalog_in(folder(language) / "django.po", language=language))
    differ = []
    for (context, _id), message in catalog.items():
        singular, *plural = forms(message.id)
        name = f"{context}\x04{singular}" if context else singular
        for number, form in zip((1, 2), forms(message.string), strict=False):
            got = compiled.ngettext(name, plural[0], number) if plural else compiled.gettext(name)
            if got != form:
                differ.append(singular)
    assert not differ, "run compilemessages, see DEVELOPERS.md"


@pytest.mark.parametrize("language", LANGUAGES)
def test_quotes_are_those_of_the_language(language: str) -> None:
    wrong = {"de": re.compile("“[^“]*”|[«»]"), "es": re.compile("[„“”]")}[language]
    catalog = messages_of(catalog_in(folder(language) / "django.po", language=language))
    found = [form for each in catalog.values() for form in forms(each.string) if wrong.search(form)]
    assert not found


def test_the_catalogs_are_those_of_the_settings() -> None:
    assert sorted(path.name for path in (PACKAGE / "locale").iterdir() if path.is_dir()) == sorted(
        LANGUAGES
    )
    assert LANGUAGES
    assert (ROOT / "moldcare" / "locale") in [Path(each) for each in settings.LOCALE_PATHS]
