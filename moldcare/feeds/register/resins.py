"""What a resin does to steel, by its name: the group it belongs to, and whether it is filled.

Which resin belongs to which group is common practice in molding; no source.
"""

import re
from typing import Final

from moldcare.feeds.tables.text import words_of

_GROUPS: Final = {
    "mild": "pe hdpe ldpe lldpe pp ppc pph ps gpps hips eva tpe tps pehd peld polypropylene "
    "polyethylene polystyrene polypropylen polyethylen polystyrol polipropileno polietileno "
    "poliestireno",
    "medium": "abs pc pa pa6 pa66 pa12 pa11 pa46 pbt pet pmma san asa tpu psu pes pei peek pps ppa "
    "nylon polycarbonate polyamide polycarbonat polyamid policarbonato poliamida acrylic",
    "gassy": "pom acetal pomc pomh polyoxymethylene poliacetal regrind recycled mahlgut regenerat "
    "rezyklat reciclado",
    "corrosive": "pvc upvc cpvc fr v0 flammgeschutzt halogen ignifugo",
}
_ORDER: Final = ("corrosive", "gassy", "medium", "mild")
_FILLED: Final = re.compile(
    r"\b(?:(?:gf|gb|gk|md|mf|cf|tv|td|mx|t)\s?[0-9]{1,2}|[0-9]{1,2}\s?(?:gf|gb|gk|md|cf|tv|glass|glas)|"
    r"gf|glass|glas|glasfaser|glasgefullt|vidrio|mineral|talc|talkum|talco|carbon|fv)\b"
)
_UNFILLED: Final = re.compile(r"\b(?:none|unfilled|keine|keiner|ohne|ungefullt|sin|ninguno|no|0)\b")
_GROUP_WORDS: Final = {
    "mild": "mild unfilled",
    "medium": "medium mittel medio",
    "gassy": "gassy gasend ausgasend gaseoso",
    "corrosive": "corrosive korrosiv corrosivo",
}


def resin_group_of(text: str) -> str:
    """Give the group of a resin, the harshest where a text names several; empty where unknown.

    Examples
    --------
    >>> resin_group_of("PA66-GF30"), resin_group_of("PP / POM"), resin_group_of("XQ-7")
    ('medium', 'gassy', '')
    """
    words = set(words_of(text).split())
    for group in _ORDER:
        if words & set(_GROUP_WORDS[group].split()):
            return group
    for group in _ORDER:
        if words & set(_GROUPS[group].split()):
            return group
    return ""


def filler_of(text: str) -> str:
    """Give the filler that a resin's name speaks of: "glass" or "none"; empty where unknown.

    Examples
    --------
    >>> filler_of("PA66-GF30"), filler_of("PP T20"), filler_of("PP"), filler_of("?")
    ('glass', 'glass', 'none', '')
    """
    words = words_of(text)
    if _FILLED.search(words):
        return "glass"
    if _UNFILLED.search(words) or resin_group_of(text):
        return "none"
    return ""
