"""Columns headed by a task: its interval, or when it was last done."""

import re
from collections.abc import Mapping, Sequence
from typing import Final

from django.utils.translation import gettext as _

from moldcare.feeds.register.intervals import Interval, read_interval
from moldcare.feeds.register.tasks import family_of
from moldcare.feeds.register.words import CARE
from moldcare.feeds.tables import Meaning, Row, words_of
from moldcare.feeds.tables.heading_row import is_date
from moldcare.feeds.tables.numbers import Signs
from moldcare.feeds.tables.rows import LONGEST_FACT, cell

#: What a column that is headed by a task can hold.
OF_A_TASK: Final = frozenset(
    [
        *(Meaning.INTERVAL, Meaning.COUNT_INTERVAL, Meaning.PERIOD),
        *(Meaning.LAST_DONE, Meaning.LAST_COUNT),
    ]
)
EVERY: Final = frozenset(
    [
        "interval",
        "intervall",
        "intervalo",
        "every",
        "alle",
        "cada",
        "frequency",
        "turnus",
        "frecuencia",
        "haufigkeit",
        "rhythmus",
        "frist",
    ]
)
_LAST: Final = frozenset(
    [
        "last",
        "done",
        "letzte",
        "letzter",
        "letztes",
        "letzten",
        "zuletzt",
        "ultimo",
        "ultima",
        "erledigt",
        "serviced",
        "performed",
        "realizado",
        "hecho",
        "hecha",
        "vez",
    ]
)
_DATED: Final = frozenset(["date", "datum", "fecha", "am", "on", "el"])
_COUNTED: Final = frozenset(
    [
        "count",
        "shots",
        "cycles",
        "schuss",
        "zyklen",
        "zahlerstand",
        "stand",
        "ciclos",
        "disparos",
        "contador",
        "at",
        "bei",
        "a",
        "los",
        "inyectadas",
    ]
)
_CALENDAR: Final = frozenset(
    [
        "days",
        "months",
        "weeks",
        "years",
        "tage",
        "monate",
        "wochen",
        "jahre",
        "dias",
        "meses",
        "semanas",
        "anos",
    ]
)
_NEXT: Final = frozenset(
    [
        *("next", "due", "planned", "fallig", "falligkeit", "nachste", "nachster", "nachstes"),
        *("geplant", "proximo", "proxima", "vence", "vencimiento", "previsto"),
    ]
)
_INSIDE: Final = re.compile(
    r"\(([^()]*)\)|\[([^\[\]]*)\]|\b((?:every|alle|cada)\s+.*[0-9].*)$", re.I
)
_WORD: Final = re.compile(r"[\w'’\-]+")


def interval_in_heading(heading: str) -> tuple[str, Interval | None]:
    """Part an interval from the heading of a task's column, such as "Vents (every 50,000)".

    Examples
    --------
    >>> task, interval = interval_in_heading("Grease (weekly)")
    >>> task, interval.period_n
    ('Grease', 1)
    """
    for found in _INSIDE.finditer(heading) if len(heading) <= LONGEST_FACT else ():
        text = next(group for group in found.groups() if group is not None)
        interval = read_interval(text, signs=Signs.THOUSANDS)
        if isinstance(interval, Interval):
            return f"{heading[: found.start()]} {heading[found.end() :]}".strip(), interval
    return heading, None


def task_and_facet(heading: str) -> tuple[str, Meaning | None]:
    """Part a heading into the task it names and what of it the column holds.

    Examples
    --------
    >>> task_and_facet("Vents: last done"), task_and_facet("Intervall Entlüftung")
    (('Vents', <Meaning.LAST_DONE: 'last_done'>), ('Entlüftung', <Meaning.INTERVAL: 'interval'>))
    >>> task_and_facet("Grease guides")
    ('Grease guides', None)
    """
    heading, _interval = interval_in_heading(heading)
    found = [(word, words_of(word)) for word in _WORD.findall(heading)]
    plain = {bare for _word, bare in found}
    facet: Meaning | None = None
    if plain & _LAST:
        is_count = bool(plain & _COUNTED) and not plain & _DATED
        facet = Meaning.LAST_COUNT if is_count else Meaning.LAST_DONE
    elif plain & EVERY:
        facet = Meaning.INTERVAL
        if plain & _COUNTED:
            facet = Meaning.COUNT_INTERVAL
        elif plain & _CALENDAR:
            facet = Meaning.PERIOD
    elif plain & _DATED:
        facet = Meaning.LAST_DONE
    elif plain & _CALENDAR:
        facet = Meaning.PERIOD
    if facet is None:
        return " ".join(heading.split()), None
    gone = EVERY | _LAST | _DATED | _COUNTED | _CALENDAR
    return " ".join(word for word, bare in found if bare not in gone), facet


def speaks_of_next(heading: str) -> bool:
    """Say whether a heading is about when a task comes next, not about when it was done.

    Examples
    --------
    >>> speaks_of_next("Nächste Wartung"), speaks_of_next("Letzte Wartung")
    (True, False)
    """
    return bool(_NEXT & set(words_of(heading).split()))


def columns_by_task(
    headings: Sequence[str],
    *,
    taken: dict[int, tuple[Meaning, str]],
    answered: Mapping[int, Meaning],
    below: Sequence[Row],
) -> dict[int, str]:
    """Find the columns that are headed by a task, and enter what they hold in `taken`.

    Parameters
    ----------
    headings : sequence of str
        All headings, in order.
    taken : dict of int to (Meaning, str)
        Meaning and reason by place, as far as known; changed.
    answered : mapping of int to Meaning
        What a person said.
    below : sequence of Row
        The first rows, to tell dates from intervals.

    Returns
    -------
    dict of int to str
        The task by place.
    """
    found: dict[int, tuple[str, Meaning]] = {}
    for place, heading in enumerate(headings):
        said = answered.get(place)
        if not 0 < len(heading) <= LONGEST_FACT or (said is not None and said not in OF_A_TASK):
            continue
        if said is None and words_of(heading) in CARE.by_words:
            continue
        if said is None and speaks_of_next(heading):
            continue
        task, facet = task_and_facet(heading)
        if not any(map(str.isalpha, task)):
            continue
        if said is None and facet is None and not family_of(task):
            continue
        found[place] = (task, said or facet or _facet_by_content(place, heading, below=below))
    with_interval = {
        words_of(task)
        for place, (task, facet) in found.items()
        if facet not in (Meaning.LAST_DONE, Meaning.LAST_COUNT)
    }
    tasks: dict[int, str] = {}
    for place, (task, facet) in found.items():
        if place in answered or family_of(task) or words_of(task) in with_interval:
            tasks[place] = task
            if place not in answered:
                taken[place] = (
                    facet,
                    _("%(facet)s of “%(task)s”, by its heading")
                    % {"facet": facet.words, "task": task},
                )
    return tasks


def _facet_by_content(place: int, heading: str, *, below: Sequence[Row]) -> Meaning:
    """Tell dates from intervals where the heading names the task alone."""
    texts = [text for row in below if (text := cell(row, place=place))]
    dates = sum(is_date(text) for text in texts)
    if dates * 2 > len(texts) or interval_in_heading(heading)[1] is not None:
        return Meaning.LAST_DONE
    return Meaning.INTERVAL
