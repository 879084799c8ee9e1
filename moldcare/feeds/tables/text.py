"""Text of cells without what one cannot see."""

import re
import unicodedata
from functools import lru_cache
from typing import Final

# what our exports put before texts that look like formulas is taken away where they are read
from moldcare.feeds.export.guard import unguarded as unguarded

#: Marks without width that copying leaves in cells: zero-width blank and joiners, direction
#: marks, word joiner, soft hyphen, byte-order mark; and control signs, such as the NUL with which
#: old programs fill their fields, that no database takes.
INVISIBLE: Final = dict.fromkeys(
    [
        *(0x00AD, 0x180E, 0x200B, 0x200C, 0x200D, 0x200E, 0x200F, 0x2060, 0xFEFF),
        *(sign for sign in range(0x20) if chr(sign) not in "\t\n\v\f\r"),
        0x7F,
    ]
)
#: Longer texts are no headings, and not worth remembering.
LONGEST_REMEMBERED: Final = 100
REPLACEMENT_MARK: Final = "\N{REPLACEMENT CHARACTER}"
_NOT_A_WORD: Final = re.compile(r"[\W_]+")
_IN_BRACKETS: Final = re.compile(r"[(\[][^()\[\]]*[)\]]")
_FILL_WORDS: Final = frozenset(
    [
        *("no", "nr", "number", "num", "numero", "nbr", "id", "nummer", "n", "o"),
        *("of", "the", "der", "des", "die", "das", "de", "del", "la", "el"),
    ]
)


def clean(text: str) -> str:
    r"""Give text in NFC without blanks at its ends and without marks one cannot see.

    Examples
    --------
    >>> clean("\u00a00417\u200b "), clean("0417\0\0")
    ('0417', '0417')
    """
    if text.isascii():
        return text.strip() if text.isprintable() else text.translate(INVISIBLE).strip()
    return unicodedata.normalize("NFC", text.translate(INVISIBLE)).strip()


def words_of(heading: str) -> str:
    """Give a heading reduced to its words: case, accents, signs and filling words gone.

    Examples
    --------
    >>> words_of("Werkzeug-Nr."), words_of("Número de molde"), words_of("ZÄHLERSTAND ")
    ('werkzeug', 'molde', 'zahlerstand')
    """
    return _words_of(heading) if len(heading) > LONGEST_REMEMBERED else _remembered(heading)


def _words_of(heading: str) -> str:
    decomposed = unicodedata.normalize("NFKD", clean(heading).casefold())
    plain = "".join(sign for sign in decomposed if not unicodedata.combining(sign))
    words = [word for word in _NOT_A_WORD.split(plain) if word]
    kept = [word for word in words if word not in _FILL_WORDS]
    return " ".join(kept or words)


_remembered: Final = lru_cache(maxsize=10_000)(_words_of)


def without_brackets(heading: str) -> str:
    """Give a heading without what stands in brackets, such as a unit."""
    return _IN_BRACKETS.sub(" ", heading)


def letter_of(index: int) -> str:
    """Give a column's letter as spreadsheets name it, from its place counted from 0.

    Examples
    --------
    >>> letter_of(0), letter_of(25), letter_of(26)
    ('A', 'Z', 'AA')
    """
    letters = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters
