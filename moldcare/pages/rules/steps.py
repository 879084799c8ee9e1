"""Steps as lines of text: what to do, and in brackets what the step asks for.

Brush the vents clean, then blow them out.
Depth of vent 3 [mm 0.01 to 0.02]
Residue [choice: dry | sticky | liquid]
Show the parting line [photo]
Which vent was closed [position]
"""

import re
from collections.abc import Iterable, Sequence
from decimal import Decimal

from django.utils.translation import gettext as _

from moldcare.acts.rules import NewStep
from moldcare.care.models import Step
from moldcare.core.errors import DomainError
from moldcare.pages.fields import read_decimal

_LINE = re.compile(r"^(?P<text>.*?)\s*\[(?P<asks>[^\[\]]*)\]\s*$")
_CHOICE = re.compile(r"^choice\s*:\s*(?P<choices>.*)$", re.IGNORECASE)
_NUMBER = r"[-\u2212]?\d[\d.,]*"
_UNIT = r"(?P<unit>[^\d\s<>\u2264\u2265][^<>\u2264\u2265]*?)"
_BETWEEN = re.compile(rf"^{_UNIT}\s+(?P<low>{_NUMBER})\s+to\s+(?P<high>{_NUMBER})$", re.IGNORECASE)
_AT_LEAST = re.compile(rf"^{_UNIT}\s*(?:>=|\u2265)\s*(?P<low>{_NUMBER})$")
_AT_MOST = re.compile(rf"^{_UNIT}\s*(?:<=|\u2264)\s*(?P<high>{_NUMBER})$")
_ONLY_UNIT = re.compile(rf"^{_UNIT}$")
_WORDS = {"photo": Step.Kind.PHOTO, "position": Step.Kind.POSITION, "tick": Step.Kind.TICK}
NO_UNIT = "number"


class StepsUnclear(DomainError):
    """A line of the steps cannot be read; the text names the line."""


def steps_in(text: str) -> list[NewStep]:
    """Return the steps that the lines mean; empty lines are left out.

    Raises
    ------
    StepsUnclear
        If what stands in brackets is nothing that a step can ask for.

    Examples
    --------
    >>> [f"{step.kind} {step.unit} {step.high}" for step in steps_in("Depth [mm 0.01 to 0.02]")]
    ['value mm 0.02']
    """
    lines = (line.strip() for line in text.splitlines())
    return [_step(line, place=place) for place, line in enumerate(filter(None, lines), start=1)]


def _step(line: str, *, place: int) -> NewStep:
    found = _LINE.match(line)
    if found is None:
        return NewStep(text=line)
    text, asks = found["text"].strip(), found["asks"].strip()
    if not text or not asks:
        raise StepsUnclear(
            _("Step %(place)s: say what to do, then in brackets what is asked.") % {"place": place}
        )
    if asks.lower() in _WORDS:
        return NewStep(text=text, kind=_WORDS[asks.lower()])
    choice = _CHOICE.match(asks)
    if choice is not None:
        choices = tuple(each.strip() for each in choice["choices"].split("|") if each.strip())
        return NewStep(text=text, kind=Step.Kind.CHOICE, choices=choices)
    return _value(text, asks=asks, place=place)


def _value(text: str, *, asks: str, place: int) -> NewStep:
    for form in (_BETWEEN, _AT_LEAST, _AT_MOST, _ONLY_UNIT):
        found = form.match(asks)
        if found is None:
            continue
        given = found.groupdict()
        try:
            low, high = _number(given.get("low")), _number(given.get("high"))
        except ValueError:
            break
        if low is not None and high is not None and high < low:
            raise StepsUnclear(
                _("Step %(place)s: the upper limit is below the lower one.") % {"place": place}
            )
        unit = given["unit"].strip()
        return NewStep(
            text=text,
            kind=Step.Kind.VALUE,
            unit="" if unit.lower() == NO_UNIT else unit,
            low=low,
            high=high,
        )
    raise StepsUnclear(
        _(
            "Step %(place)s: “[%(asks)s]” cannot be read. Write a unit with limits such as "
            "[mm 0.01 to 0.02], [choice: a | b], [photo] or [position]."
        )
        % {"place": place, "asks": asks[:60]}
    )


def _number(text: str | None) -> Decimal | None:
    return None if text is None else read_decimal(text)


def lines_of(steps: Iterable[Step | NewStep]) -> str:
    """Return steps as the lines that mean them."""
    return "\n".join(_line(step) for step in steps)


def _line(step: Step | NewStep) -> str:
    match step.kind:
        case Step.Kind.PHOTO | Step.Kind.POSITION:
            return f"{step.text} [{step.kind}]"
        case Step.Kind.CHOICE:
            return f"{step.text} [choice: {' | '.join(_texts(step.choices))}]"
        case Step.Kind.VALUE:
            return f"{step.text} [{_limits(step)}]"
    # a tick whose text itself ends in brackets says so
    return f"{step.text} [tick]" if _LINE.match(step.text) else step.text


def _texts(choices: Sequence[object]) -> list[str]:
    return [str(choice) for choice in choices]


def _limits(step: Step | NewStep) -> str:
    unit = step.unit or NO_UNIT
    low = None if step.low is None else format(step.low.normalize(), "f")
    high = None if step.high is None else format(step.high.normalize(), "f")
    if low is not None and high is not None:
        return f"{unit} {low} to {high}"
    if low is not None:
        return f"{unit} >= {low}"
    return unit if high is None else f"{unit} <= {high}"
