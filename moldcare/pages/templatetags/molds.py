"""Molds in words, and the ways from a mold's page to others, for templates."""

from datetime import datetime
from decimal import Decimal
from typing import Any

from django import template
from django.urls import NoReverseMatch, reverse

from moldcare.core.due import State
from moldcare.core.units import Quantity
from moldcare.molds.models import ConditionNote, Mold, Position
from moldcare.pages.measures import measure_words
from moldcare.pages.molds.listing import line_title
from moldcare.pages.molds.notices import Notice
from moldcare.pages.molds.words import (
    condition_words,
    parts_out_words,
    place_words,
    since_words,
    state_words,
)
from moldcare.pages.rule_lines import RuleLine
from moldcare.pages.words import measured_words
from moldcare.plant.models import Spot

register = template.Library()


@register.filter
def state_said(state: State) -> str:
    """Say a state as it stands beside a rule."""
    return state_words(state)


@register.filter
def place_said(spot: Spot | None) -> str:
    """Say where a mold is."""
    return place_words(spot)


@register.simple_tag
def since_said(spot: Spot | None, *, since: datetime | None, now: datetime) -> str:
    """Say where a mold is and since when."""
    return since_words(spot, since=since, now=now)


@register.filter
def condition_said(note: ConditionNote | None) -> str:
    """Say a mold's condition and what it needs next, as the begin of a sentence."""
    said = condition_words(note)
    return f"{said[:1].upper()}{said[1:]}"


@register.filter
def measured(number: Decimal | None) -> str:
    """Say a measured number without zeros that say nothing; a dash where it is not known."""
    return "–" if number is None else measured_words(number)


@register.filter
def measure(number: Decimal | int | None, quantity: str) -> str:
    """Say a kept number with its unit, as the reader's units have it."""
    return measure_words(number, quantity=Quantity(quantity))


@register.simple_tag
def parts_out_said(positions: list[Position]) -> str:
    """Say which positions are empty."""
    said = parts_out_words(positions)
    return f"{said[:1].upper()}{said[1:]}."


@register.filter
def title_said(line: RuleLine) -> str:
    """Say a rule's name, with what it looks after."""
    return line_title(line)


@register.simple_tag
def notice_href(notice: Notice, *, mold: Mold) -> str:
    """Return the address of the page that settles a notice, empty where there is none."""
    wanted: dict[str, Any] = {}
    if notice.do.startswith("mold-"):
        wanted = {"number": mold.number}
    elif notice.target is not None:
        wanted = {"pk": notice.target}
    try:
        return reverse(notice.do, kwargs=wanted)
    except NoReverseMatch:
        return ""
