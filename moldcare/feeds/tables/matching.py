"""Which of ours a text in a file names, without ever dropping a zero."""

import re
import unicodedata
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from moldcare.feeds.tables.text import clean

#: A number that a spreadsheet has turned into a power of ten. "12E5" has no sign and stays text.
_DAMAGED: Final = re.compile(r"[0-9](?:[.,][0-9]+)?E\+[0-9]+", re.IGNORECASE)


@dataclass(frozen=True, kw_only=True, slots=True)
class Match:
    """One of ours: its key in our records and its name as we write it."""

    key: int
    label: str


#: One of ours, several that it might be, or None.
Matched = Match | tuple[Match, ...] | None
Matcher = Callable[[str], Matched]


def matcher(
    ours: Iterable[tuple[int, str]], *, assigned: Mapping[str, int] | None = None
) -> Matcher:
    r"""Give a function that finds which of ours a text names.

    Parameters
    ----------
    ours : iterable of (int, str)
        Key and name of each.
    assigned : mapping of str to int, or None
        Texts that a person has assigned to one of ours, with its key; they win.

    Notes
    -----
    Names are compared in NFC without blanks at their ends, first as they are, then without regard
    to case where only one of ours is left. Zeros are part of a name: 417 is not 0417.

    Examples
    --------
    >>> find = matcher([(1, "0417"), (2, "417"), (3, "K-12"), (4, "k-12")])
    >>> find("\u00a00417"), find("0417.0")
    (Match(key=1, label='0417'), None)
    >>> find("k-12").key, find("K-12").key
    (4, 3)
    """
    exact: dict[str, list[Match]] = {}
    folded: dict[str, list[Match]] = {}
    by_key: dict[int, Match] = {}
    for key, label in ours:
        one = by_key[key] = Match(key=key, label=label)
        exact.setdefault(clean(label), []).append(one)
        folded.setdefault(_folded(clean(label)), []).append(one)

    by_hand = {clean(text): by_key[key] for text, key in (assigned or {}).items() if key in by_key}

    def find(text: str) -> Matched:
        text = clean(text)
        if text in by_hand:
            return by_hand[text]
        found = exact.get(text) or folded.get(_folded(text)) or []
        if not found:
            return None
        return found[0] if len(found) == 1 else tuple(found)

    return find


def is_damaged_name(text: str) -> bool:
    """Tell a name that a spreadsheet has turned into a power of ten.

    Examples
    --------
    >>> is_damaged_name("1.20E+06"), is_damaged_name("12E5")
    (True, False)
    """
    return _DAMAGED.fullmatch(text) is not None


def _folded(text: str) -> str:
    return unicodedata.normalize("NFC", text.casefold())
