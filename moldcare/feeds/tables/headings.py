"""What columns mean, by the words of their headings in English, German and Spanish."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from django.utils.translation import gettext as _

from moldcare.feeds.tables.text import without_brackets, words_of


class Meaning(StrEnum):
    """What a column of counter readings can mean.

    `AT` holds date and time together. `REST` is a column that is left alone.
    """

    MOLD = "mold"
    COUNTER = "counter"
    AT = "at"
    DATE = "date"
    TIME = "time"
    VALUE = "value"
    PRESS = "press"
    NOTE = "note"
    REPORTED_BY = "reported_by"
    ESTIMATED = "estimated"
    REST = "rest"


#: Headings by meaning, the plainest first: where two columns answer to one meaning, the earlier
#: word is proposed. "Counter" stands under both counter and value; the rest of the table settles
#: which.
HEADINGS: Final[Mapping[Meaning, tuple[str, ...]]] = {
    Meaning.MOLD: (
        *("mold", "mould", "mold name", "mould name", "tool", "tool name", "die", "mold id"),
        *("werkzeug", "werkzeugnummer", "wkz", "form", "formnummer", "spritzgießwerkzeug"),
        *("molde", "código de molde", "herramienta", "utillaje"),
    ),
    Meaning.COUNTER: (
        *("counter", "counter label", "counter name", "counter serial"),
        *("zähler", "zählwerk", "zählernummer", "zählerbezeichnung"),
        *("contador",),
    ),
    Meaning.AT: (
        *("date time", "datetime", "date and time", "timestamp", "time stamp", "read at", "at"),
        *("zeitpunkt", "zeitstempel", "datum uhrzeit", "datum zeit", "datum und uhrzeit"),
        *("abgelesen am", "ablesezeitpunkt"),
        *("fecha hora", "fecha y hora", "marca de tiempo", "momento"),
    ),
    Meaning.DATE: (
        *("date", "day", "reading date", "date read", "read on"),
        *("datum", "tag", "ablesedatum"),
        *("fecha", "día", "fecha de lectura"),
    ),
    Meaning.TIME: (
        *("time", "clock", "hour", "time of day"),
        *("uhrzeit", "zeit", "ablesezeit"),
        *("hora",),
    ),
    Meaning.VALUE: (
        *("reading", "counter reading", "value", "count", "counter value", "meter reading"),
        *("cycles", "cycle count", "total cycles", "shots", "shot count", "total shots"),
        *("counter", "total count"),
        *("zählerstand", "stand", "ablesung", "wert", "zyklen", "zyklenzahl", "zykluszähler"),
        *("schuss", "schüsse", "schusszahl", "schußzahl", "hübe", "takte", "zähler"),
        *("lectura", "lectura del contador", "valor", "ciclos", "disparos", "golpes"),
        *("inyectadas", "contador"),
    ),
    Meaning.PRESS: (
        *("press", "machine", "imm", "press name", "machine name"),
        *("presse", "maschine", "spritzgießmaschine", "sgm", "masch"),
        *("prensa", "máquina", "inyectora"),
    ),
    Meaning.NOTE: (
        *("note", "notes", "remark", "remarks", "comment", "comments"),
        *("bemerkung", "bemerkungen", "notiz", "kommentar", "anmerkung", "hinweis"),
        *("nota", "notas", "observación", "observaciones", "comentario"),
    ),
    Meaning.REPORTED_BY: (
        *("read by", "reported by", "by", "operator", "person", "badge", "initials"),
        *("abgelesen von", "von", "bediener", "mitarbeiter", "kürzel", "name"),
        *("leído por", "por", "operario", "nombre"),
    ),
    Meaning.ESTIMATED: (
        *("estimated", "estimate", "is estimated"),
        *("geschätzt", "schätzung", "schätzwert"),
        *("estimado", "estimada", "estimación"),
    ),
}

_BY_WORDS: Final[dict[str, list[tuple[Meaning, int]]]] = {}
for _meaning, _words in HEADINGS.items():
    for _rank, _word in enumerate(_words):
        _known = _BY_WORDS.setdefault(words_of(_word), [])
        if all(_meaning is not _other for _other, _ in _known):
            _known.append((_meaning, _rank))


@dataclass(frozen=True, kw_only=True, slots=True)
class Guess:
    """What a heading may mean, and why.

    Parameters
    ----------
    meanings : tuple of (Meaning, int)
        Each with its rank; 0 is the plainest word for it. Empty where the heading is unknown.
    reason : str
        Why, for the preview.
    """

    meanings: tuple[tuple[Meaning, int], ...] = ()
    reason: str = ""


def guessed(heading: str, *, remembered: Mapping[str, Meaning] | None = None) -> Guess:
    """Say what one heading may mean.

    Parameters
    ----------
    heading : str
        As it stands in the file.
    remembered : mapping of str to Meaning, or None
        What headings meant in earlier files, by `words_of` the heading.

    Examples
    --------
    >>> [meaning.value for meaning, _rank in guessed("Werkzeug-Nr.").meanings]
    ['mold']
    >>> [meaning.value for meaning, _rank in guessed("Zähler").meanings]
    ['counter', 'value']
    """
    words = words_of(heading)
    if remembered and words in remembered:
        return Guess(meanings=((remembered[words], -1),), reason=_("as in an earlier file"))
    for tried in (words, words_of(without_brackets(heading))):
        if tried in _BY_WORDS:
            return Guess(
                meanings=tuple(_BY_WORDS[tried]),
                reason=_("by its heading “%(heading)s”") % {"heading": heading},
            )
    return Guess()


def guess_meanings(
    headings: Sequence[str],
    *,
    answered: Mapping[int, Meaning] | None = None,
    remembered: Mapping[str, Meaning] | None = None,
) -> tuple[dict[int, tuple[Meaning, str]], dict[Meaning, tuple[int, ...]]]:
    """One meaning a column, at most one column a meaning.

    Parameters
    ----------
    headings : sequence of str
        All headings, in order; may be empty texts.
    answered : mapping of int to Meaning, or None
        What a person said, by place from 0; it overrides everything.
    remembered : mapping of str to Meaning, or None
        What headings meant in earlier files.

    Returns
    -------
    taken : dict of int to (Meaning, str)
        Meaning and reason by place.
    rivals : dict of Meaning to tuple of int
        Where several columns answer to one meaning: their places, the plainest word first.
    """
    answered = dict(answered or {})
    taken = {place: (meaning, _("as answered")) for place, meaning in answered.items()}
    settled: set[Meaning] = {
        meaning for meaning in answered.values() if meaning is not Meaning.REST
    }
    guesses = {
        place: guessed(heading, remembered=remembered)
        for place, heading in enumerate(headings)
        if place not in answered and heading
    }
    rivals: dict[Meaning, tuple[int, ...]] = {}
    # Headings with one meaning settle what those with two can still mean.
    for several in (False, True):
        for meaning in Meaning:
            if meaning in settled:
                continue
            found = sorted(
                (rank, place)
                for place, guess in guesses.items()
                if place not in taken and (len(guess.meanings) > 1) is several
                for one, rank in guess.meanings
                if one is meaning and (not several or _is_open(one, guess, settled))
            )
            if not found:
                continue
            settled.add(meaning)
            places = tuple(place for _rank, place in found)
            taken[places[0]] = (meaning, guesses[places[0]].reason)
            if len(places) > 1 and meaning is not Meaning.NOTE:
                rivals[meaning] = places
    return taken, rivals


def _is_open(meaning: Meaning, guess: Guess, settled: set[Meaning]) -> bool:
    """Let a heading with two meanings take value first: a table without values is no use."""
    if meaning is Meaning.VALUE or Meaning.VALUE in settled:
        return True
    return all(other is not Meaning.VALUE for other, _rank in guess.meanings)
