"""Which half of a mold a row is about, where each half has a row of its own.

The words are common practice in toolrooms, in English, German and Spanish; no source lists them.
Core and cavity are none of them: either may be in the fixed half.
"""

from typing import Final

from moldcare.feeds.tables.text import words_of

#: A is the fixed half, at the nozzle; B the moving one, with the ejectors.
A, B, BOTH = "a", "b", "ab"

_BESIDE: Final = frozenset(
    [
        *("half", "side", "plate", "mold", "mould", "tool"),
        *("seite", "halfte", "werkzeughalfte", "formhalfte", "werkzeugseite"),
        *("mitad", "lado", "parte", "molde"),
    ]
)
_WORDS: Final = {
    **dict.fromkeys(["a", "fixed", "fix", "stationary", "cover", "nozzle", "injection"], A),
    **dict.fromkeys(["fs", "ds", "fest", "feste", "dusenseite", "duse", "spritzseite"], A),
    **dict.fromkeys(["fijo", "fija", "inyeccion", "boquilla"], A),
    **dict.fromkeys(["b", "moving", "movable", "ejector", "ejection", "clamping"], B),
    **dict.fromkeys(["bs", "as", "beweglich", "bewegliche", "auswerferseite", "auswerfer"], B),
    **dict.fromkeys(["schliessseite", "movil", "expulsion", "expulsor", "expulsora"], B),
    **dict.fromkeys(["both", "beide", "ambas", "ambos", "whole", "complete", "komplett"], BOTH),
    **dict.fromkeys(["gesamt", "completo", "total"], BOTH),
}


def half_in(text: str) -> str | None:
    """Give the half that a text names: "a", "b", or "ab" for both; None where it names none.

    Examples
    --------
    >>> half_in("moving half"), half_in("Düsenseite"), half_in("Lado fijo"), half_in("core")
    ('b', 'a', 'a', None)
    """
    words = words_of(text).split()
    found = {_WORDS[word] for word in words if word in _WORDS}
    rest = [word for word in words if word not in _WORDS and word not in _BESIDE]
    if found == {A, B} and not rest and {"a", "b"} <= set(words):
        return BOTH
    return next(iter(found)) if len(found) == 1 and not rest else None
