"""What the bytes beyond ASCII say about their encoding: Windows-1252 or code page 850.

Both give every letter of German and Spanish a byte, but not the same, and nearly every byte is
something in both. What tells them apart is which of the two makes usual letters inside words.
"""

import re
from collections import Counter
from collections.abc import Iterable
from typing import Final

#: Letters of German, Spanish, French, Portuguese and Italian, small and large.
_SMALL: Final = frozenset("äöüßéèêëáàâíîïóòôúùûñçãõ")
_LARGE: Final = frozenset("ÄÖÜÉÈÊÁÀÂÍÎÓÒÔÚÙÑÇÃÕ")
#: Signs that stand in lists of a toolroom, beside letters or not.
_SIGNS: Final = frozenset("°µ§²³½¼×±ØøÅ€–„“”’")
_VOWELS: Final = frozenset(bytes([vowel]) for vowel in b"aeiouyAEIOUY")
_BEYOND: Final = re.compile(rb"[\x80-\xff]")
#: Bytes of a file that are looked at, at most: enough words to tell.
BYTES_AT_MOST: Final = 2_000_000

CODECS: Final = ("cp1252", "cp850")


def letter_scores(chunks: Iterable[bytes]) -> dict[str, int]:
    """Score how well each of `CODECS` turns the bytes of a text into usual letters.

    Parameters
    ----------
    chunks : iterable of bytes
        The file in pieces; a letter at the seam of two is passed over.

    Examples
    --------
    >>> letter_scores(["Gehäuse".encode("cp850")]), letter_scores(["Maß".encode("cp850")])
    ({'cp1252': 0, 'cp850': 2}, {'cp1252': 0, 'cp850': 2})
    """
    met: Counter[tuple[bytes, bytes, bytes]] = Counter()
    read = 0
    for chunk in chunks:
        read += len(chunk)
        for found in _BEYOND.finditer(chunk):
            at = found.start()
            met[chunk[max(at - 1, 0) : at], found[0], chunk[at + 1 : at + 2]] += 1
        if read >= BYTES_AT_MOST:
            break
    scores = dict.fromkeys(CODECS, 0)
    for (before, byte, after), count in met.items():
        for codec in CODECS:
            letter = byte.decode(codec, errors="ignore")
            scores[codec] += count * _score(letter, before=before, after=after)
    return scores


def _score(letter: str, *, before: bytes, after: bytes) -> int:
    if letter in _SIGNS and before.isascii() and not (before.isalpha() and after.isalpha()):
        return 2
    if not (before.isalpha() or after.isalpha()):
        return 0
    if letter == "ß":
        # it stands behind vowels only; á, the same byte, hardly ever does
        return 2 if before in _VOWELS else 0
    if letter == "á" and before in _VOWELS:
        return 0
    if letter in _SMALL and letter not in "äöü" and not before.isalpha():
        # "último" begins small in one of the two, "éltimo" in the other
        return 1
    if letter in _SMALL:
        return 0 if before.isupper() and after.isupper() else 2
    if letter in _LARGE:
        if before.islower():
            return 0
        return 2 if before.isupper() or after.isupper() else 1
    return 0
