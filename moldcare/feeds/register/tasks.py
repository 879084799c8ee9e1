"""Which care family the name of a task speaks of, and where a cell names two tasks.

The words are common practice in toolrooms, in English, German and Spanish; no source lists them.
"""

import re
from collections.abc import Iterator
from functools import lru_cache
from typing import Final

from moldcare.feeds.tables.text import clean, words_of

#: Words that say what is done, by family: beginnings of words, a closing "$" for whole words.
_DONE: Final = {
    "lubrication": (
        "greas lubric oil$ oiling$ schmier abschmier fett$ fetten$ einfett nachfett olen$ einolen$ "
        "engras lubricac aceit"
    ),
    "finish": "polish repolish buff polier nachpolier pulid pulir repulid",
    "descaling": "descal entkalk kalk$ descalc desincrust flush spulen$ durchspul",
    "leak_test": "leak dichtheit dichtpruf druckpruf fuga estanque",
    "rust_protection": "rust antirust konserv rostschutz korrosion oxid anticorros conserv",
}
#: Words that say what it is done to.
_DONE_TO: Final = {
    "vents": "vent vents venting entluft venteo respirader",
    "finish": "finish politur surface oberflach acabado gloss glanz brillo textur",
    "bubblers_and_baffles": (
        "bubbler baffle fountain steigrohr umlenkblech trennblech umlenk sprudel deflector "
        "tabique burbuj surtidor"
    ),
    "seals_and_hoses": (
        "seal o-ring oring ring$ rings$ hose coupling dichtung schlauch schlauche kupplung "
        "junta manguera torica acople acoplamiento"
    ),
    "wear_parts": (
        "spring feder wear verschlei desgaste muelle resorte bushing buchse casquillo interlock "
        "zentrier leader guide fuhrung guia pillar saule columna"
    ),
    "hot_runner": (
        "hot-runner hotrunner heisskanal heiss heater heizung nozzle duse manifold tip$ tips$ "
        "valve nadel zone$ zones$ zonen boquilla camara colector resistencia"
    ),
    "ejection_and_slides": (
        "eject auswerf expuls slide$ slides$ schieber corredera lifter schragauswerf "
        "schragschieber elevador"
    ),
    "counter_check": "counter zahler contador",
}
#: Words that leave it to others where one of those is named too.
_WEAK: Final = {
    "descaling": (
        "circuit circuito kuhlkreis kreis$ kreise$ cooling kuhlung kuhl wasser water agua "
        "refrigerac flow durchfluss caudal"
    ),
    "inspection": (
        "inspect inspekt inspecc inspeccion check checking checked pruf sichtpruf kontroll "
        "revis comprob visual look"
    ),
}
_WORDS_TOGETHER: Final = {
    "hot runner": "hot-runner",
    "canal caliente": "hot-runner",
    "camara caliente": "hot-runner",
    "salida aire": "venteo",
    "salidas aire": "venteo",
    "pressure test": "leak",
    "prueba presion": "leak",
}
#: Texts that are remembered: a sheet repeats the same few tasks for every mold.
MEMORY: Final = 5000
_LEVELS: Final = ((3, _DONE), (2, _DONE_TO), (1, _WEAK))
_PARTS: Final = re.compile(r"\s*(?P<sign>\r?\n|\+|;|&|,|/|\s(?:and|und|y)\s)\s*", re.IGNORECASE)
#: What stands between two tasks for certain, whether or not both are known.
_CERTAIN: Final = frozenset(["\n", "\r\n", "+", ";"])


@lru_cache(maxsize=MEMORY)
def family_of(name: str) -> str:
    """Give the key of the family that a task's name speaks of, empty where it cannot be told.

    Notes
    -----
    What is done goes before what it is done to: "grease slides" is lubrication. Where two
    families are named alike it is left open.

    Examples
    --------
    >>> family_of("Grease slides"), family_of("Entlüftungen reinigen"), family_of("odd jobs")
    ('lubrication', 'vents', '')
    """
    named = _named(name)
    if not named:
        return ""
    best = max(named.values())
    families = [family for family, level in named.items() if level == best]
    if len(families) > 1 and best == 1 and "inspection" in families:
        families.remove("inspection")
    return families[0] if len(families) == 1 else ""


@lru_cache(maxsize=MEMORY)
def tasks_in(text: str) -> tuple[str, ...]:
    """Part a cell into the tasks it names.

    Notes
    -----
    A comma, a slash or an "and" parts two tasks only where what follows is a task by itself:
    "grease slides, lifters" is one task, "vents, polish" are two. Line ends, plus signs and
    semicolons part whatever stands between them, unless it only lists more of the same.

    Examples
    --------
    >>> tasks_in("grease + inspect"), tasks_in("vents / polish")
    (('grease', 'inspect'), ('vents', 'polish'))
    >>> tasks_in("Vent clean, inserts out")
    ('Vent clean, inserts out',)
    """
    whole = clean(text)
    parts: list[str] = []
    begin = 0
    for found in _PARTS.finditer(whole):
        before, after = whole[begin : found.start()], whole[found.end() :]
        following = _PARTS.split(after, maxsplit=1)[0]
        if before and following and _parts_two(before, following, sign=found["sign"].casefold()):
            parts.append(before)
            begin = found.end()
    parts.append(whole[begin:])
    return tuple(" ".join(part.split()) for part in parts if any(map(str.isalpha, part)))


def _parts_two(before: str, after: str, *, sign: str) -> bool:
    first, second = _named(before), _named(after)
    lists_more = _has_action(first) and bool(second) and not _has_action(second)
    if lists_more:
        return False
    if sign in _CERTAIN:
        return any(map(str.isalpha, before)) and any(map(str.isalpha, after))
    families = family_of(before), family_of(after)
    return all(families) and families[0] != families[1]


def _has_action(named: dict[str, int]) -> bool:
    return 3 in named.values() or "inspection" in named


def _named(name: str) -> dict[str, int]:
    """Families that a name speaks of, each with how strongly."""
    named: dict[str, int] = {}
    words = words_of(name)
    for together, word in _WORDS_TOGETHER.items():
        words = re.sub(rf"\b{together}\b", word, words)
    for word in words.split():
        for family, level in _families_of_word(word):
            named[family] = max(level, named.get(family, 0))
    return named


def _families_of_word(word: str) -> Iterator[tuple[str, int]]:
    for level, families in _LEVELS:
        for family, beginnings in families.items():
            for beginning in beginnings.split():
                whole = beginning.endswith("$")
                if word == beginning.rstrip("$") or (not whole and word.startswith(beginning)):
                    yield family, level
