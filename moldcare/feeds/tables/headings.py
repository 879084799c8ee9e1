"""What columns mean, by the words of their headings in English, German and Spanish."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from django.utils.translation import gettext as _

from moldcare.feeds.tables.meanings import Meaning
from moldcare.feeds.tables.text import without_brackets, words_of

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


@dataclass(frozen=True, kw_only=True, slots=True)
class Vocabulary:
    """The words by which the columns of one kind of table are known.

    Parameters
    ----------
    meanings : tuple of Meaning
        What its columns can mean, `Meaning.REST` last.
    by_words : mapping of str to tuple of (Meaning, int)
        By `words_of` a heading: what it may mean, each with the rank of the word.
    is_loose : bool
        True where a heading is also known by a word of the trade inside it.
    as_whole : frozenset of Meaning
        What is known by the whole heading alone: its words stand inside others' headings, too.
    """

    meanings: tuple[Meaning, ...]
    by_words: Mapping[str, tuple[tuple[Meaning, int], ...]]
    is_loose: bool = False
    as_whole: frozenset[Meaning] = frozenset()


def vocabulary(
    headings: Mapping[Meaning, tuple[str, ...]],
    *,
    is_loose: bool = False,
    as_whole: frozenset[Meaning] = frozenset(),
) -> Vocabulary:
    """Give a vocabulary from headings by meaning, the plainest word first."""
    by_words: dict[str, tuple[tuple[Meaning, int], ...]] = {}
    for meaning, words in headings.items():
        for rank, word in enumerate(words):
            known = by_words.get(words_of(word), ())
            if all(meaning is not other for other, _rank in known):
                by_words[words_of(word)] = (*known, (meaning, rank))
    return Vocabulary(
        meanings=(*headings, Meaning.REST),
        by_words=by_words,
        is_loose=is_loose,
        as_whole=as_whole,
    )


READINGS: Final = vocabulary(HEADINGS)
#: The rank from which a meaning was found inside a heading, not as the whole of it.
LOOSE_RANK: Final = 100
#: Shorter words say too little inside a longer heading.
SHORTEST_WORD_INSIDE: Final = 5
#: A heading of more words is a sentence, and known by none of them.
WORDS_AT_MOST: Final = 12


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


def guessed(
    heading: str,
    *,
    remembered: Mapping[str, Meaning] | None = None,
    known: Vocabulary = READINGS,
) -> Guess:
    """Say what one heading may mean.

    Parameters
    ----------
    heading : str
        As it stands in the file.
    remembered : mapping of str to Meaning, or None
        What headings meant in earlier files, by `words_of` the heading.
    known : Vocabulary
        Of the kind of table.

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
        if tried in known.by_words:
            return Guess(
                meanings=known.by_words[tried],
                reason=_("by its heading “%(heading)s”") % {"heading": heading},
            )
    return _by_word_inside(heading, known=known) if known.is_loose else Guess()


def _by_word_inside(heading: str, *, known: Vocabulary) -> Guess:
    """Take the longest run of known words inside a heading, if only one thing is meant by it."""
    words = words_of(without_brackets(heading)).split()
    if len(words) > WORDS_AT_MOST:
        return Guess()
    for length in range(len(words) - 1, 0, -1):
        runs = [" ".join(words[at : at + length]) for at in range(len(words) - length + 1)]
        found: dict[tuple[Meaning, ...], str] = {}
        for run in runs:
            meanings = tuple(meaning for meaning, _rank in known.by_words.get(run, ()))
            if not known.as_whole.issuperset(meanings):
                found.setdefault(meanings, run)
        if len(found) > 1:
            return Guess()
        for run in found.values():
            if len(run) >= SHORTEST_WORD_INSIDE:
                return Guess(
                    meanings=tuple(
                        (meaning, rank + LOOSE_RANK) for meaning, rank in known.by_words[run]
                    ),
                    reason=_("by “%(word)s” in its heading") % {"word": run},
                )
    return Guess()


def guess_meanings(
    headings: Sequence[str],
    *,
    answered: Mapping[int, Meaning] | None = None,
    remembered: Mapping[str, Meaning] | None = None,
    known: Vocabulary = READINGS,
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
    known : Vocabulary
        Of the kind of table.

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
        place: guessed(heading, remembered=remembered, known=known)
        for place, heading in enumerate(headings)
        if place not in answered and heading
    }
    rivals: dict[Meaning, tuple[int, ...]] = {}
    # Headings with one meaning settle what those with two can still mean.
    for several in (False, True):
        for meaning in known.meanings:
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
