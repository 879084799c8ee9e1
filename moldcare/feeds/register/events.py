"""Events at which a task falls due, as people write them in the place of an interval.

The words are common practice in toolrooms, in English, German and Spanish; no source lists them.
"""

from functools import lru_cache
from typing import Final

from moldcare.care.models.terms import RuleTermsEvent as Event
from moldcare.feeds.tables.text import words_of

#: A longer text is a sentence, and no event is read out of it.
WORDS_AT_MOST: Final = 7
#: What happens, by the word for it; words as `words_of` leaves them.
_HAPPENS: Final = {
    **dict.fromkeys(["run", "runs", "production", "lauf", "produktionslauf", "laufende"], "run"),
    **dict.fromkeys(["produktion", "serie", "produktionsende", "serienende", "corrida"], "run"),
    **dict.fromkeys(["batch", "lot", "produccion", "lote", "tirada"], "run"),
    **dict.fromkeys(["set", "setup", "setting", "mounting", "mounted", "installation"], "set"),
    **dict.fromkeys(
        ["change", "changeover", "moldchange", "rusten", "einbau", "aufspannen"], "set"
    ),
    **dict.fromkeys(["werkzeugwechsel", "formwechsel", "rustvorgang", "aufrusten"], "set"),
    **dict.fromkeys(["montaje", "cambio", "montar"], "set"),
    **dict.fromkeys(["storage", "storing", "einlagerung", "einlagern", "lagerung"], "storage"),
    **dict.fromkeys(["almacenar", "almacenamiento", "almacenaje"], "storage"),
    **dict.fromkeys(["auslagerung", "auslagern"], "out of storage"),
    **dict.fromkeys(["opened", "opening", "offnen", "offnung", "geoffnet"], "opened"),
    **dict.fromkeys(["abrir", "apertura", "abra"], "opened"),
    **dict.fromkeys(["service", "servicing", "maintenance", "pm", "wartung"], "service"),
    **dict.fromkeys(["instandhaltung", "mantenimiento", "servicio"], "service"),
}
_BEFORE: Final = frozenset(["before", "vor", "antes", "prior", "previo"])
_AFTER: Final = frozenset(
    [
        *("after", "nach", "tras", "despues", "following", "end", "ende", "final", "finish"),
        *("laufende", "produktionsende", "serienende"),
    ]
)
_OUT: Final = frozenset(["from", "out", "aus", "back", "desde"])
_AT_EACH: Final = frozenset(
    [
        *("each", "every", "jede", "jedem", "jeden", "jeder", "jedes", "cada", "per", "pro", "por"),
        *("at", "on", "bei", "beim", "en", "al", "when", "whenever", "wenn", "am", "im"),
        *("once", "any", "zum", "zur", "into", "cuando", "upon"),
        *("with", "mit", "con"),
    ]
)
#: What may stand beside: who it happens to, and words that say nothing more.
_BESIDE: Final = frozenset(
    [
        *("mold", "mould", "tool", "die", "molde", "werkzeug", "werkzeugs", "form", "is", "was"),
        *("it", "goes", "being", "wird", "einem", "einer", "eines", "jeweils", "dem", "den", "se"),
        *("time", "been", "in", "to", "up", "machine", "press", "wurde", "lo", "un", "una"),
        *("las", "a"),
    ]
)
#: By what happens and when; a time that is not here is no event that a rule knows.
_EVENTS: Final = {
    ("run", "at"): Event.END_OF_RUN,
    ("run", "after"): Event.END_OF_RUN,
    ("run", "before"): Event.BEFORE_SET,
    ("set", "at"): Event.SET,
    ("set", "after"): Event.SET,
    ("set", "before"): Event.BEFORE_SET,
    ("storage", "at"): Event.INTO_STORAGE,
    ("storage", "before"): Event.INTO_STORAGE,
    ("storage", "after"): Event.BACK_FROM_STORAGE,
    ("out of storage", "at"): Event.BACK_FROM_STORAGE,
    ("out of storage", "after"): Event.BACK_FROM_STORAGE,
    ("opened", "at"): Event.MOLD_OPENED,
    ("opened", "after"): Event.MOLD_OPENED,
    ("service", "at"): Event.EACH_SERVICE,
}


@lru_cache(maxsize=1000)
def event_in(text: str) -> str:
    """Give the event that a text names, empty where it names none, or more than that.

    Parameters
    ----------
    text : str
        As the cell shows it.

    Returns
    -------
    str
        A value of the event of a rule.

    Notes
    -----
    A run ends once: "each run" is taken for its end. A time without an event, and an event
    without a time, are none: "last service" and "storage" say nothing about when.

    Examples
    --------
    >>> event_in("after each run"), event_in("vor jedem Rüsten"), event_in("al almacenar")
    ('end_of_run', 'before_set', 'into_storage')
    >>> event_in("last service"), event_in("storage"), event_in("in storage")
    ('', '', '')
    """
    words = words_of(text).split()
    if len(words) > WORDS_AT_MOST:
        return ""
    happens = {_HAPPENS[word] for word in words if word in _HAPPENS}
    times = {word for word in words if word not in _HAPPENS or word in _AFTER}
    if times - _BEFORE - _AFTER - _OUT - _AT_EACH - _BESIDE or len(happens) != 1:
        return ""
    before, after = times & _BEFORE, times & _AFTER
    (what,) = happens
    if what == "storage" and times & _OUT:
        after = times & _OUT
    if before and after:
        return ""
    if before or after:
        return str(_EVENTS.get((what, "before" if before else "after"), ""))
    return str(_EVENTS.get((what, "at"), "")) if times & _AT_EACH else ""


def event_words(event: str) -> str:
    """Return an event in words."""
    return str(Event(event).label)
