"""Instants, counts and lists in the reader's words, for templates."""

from datetime import datetime
from typing import Any

from django import template
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from moldcare.core.due import State
from moldcare.pages.words import (
    clock_words,
    count_words,
    in_sentence,
    minutes_words,
    moment_words,
    tasks_words,
)

register = template.Library()


@register.filter
def moment(instant: datetime | None, now: datetime | None = None) -> str:
    """Say an instant as near as its day needs."""
    return "" if instant is None else moment_words(instant, now=now or timezone.now())


@register.filter
def clock_said(instant: datetime) -> str:
    """Say the plant's wall time."""
    return clock_words(instant)


@register.filter(name="in_sentence")
def in_sentence_said(name: str) -> str:
    """Say a name inside a sentence."""
    return in_sentence(str(name))


@register.filter
def weekday_said(instant: datetime) -> str:
    """Say the weekday in the plant's zone."""
    return date_format(timezone.localtime(instant), "l")


@register.filter
def counted(count: float | str | None) -> str:
    """Say a whole number with the reader's thousands sign; a dash where it is not known."""
    return "–" if count is None or isinstance(count, str) else count_words(count)


@register.filter
def minutes_said(minutes: int | None) -> str:
    """Say a duration in hours and minutes."""
    return "" if minutes is None else minutes_words(minutes)


@register.simple_tag
def section_sum(section: Any) -> str:
    """Say what a list comes to: tasks on molds, and the work."""
    tasks = sum(len(entry.lines) for entry in section.entries)
    if not tasks:
        return ngettext("%(n)d mold", "%(n)d molds", section.total) % {"n": section.total}
    said = tasks_words(tasks, molds=section.total)
    return f"{said}, {minutes_words(section.minutes)}"


@register.simple_tag
def when_said(entry: Any, *, now: datetime) -> dict[str, str]:
    """Say when a mold's first rule wants something: now and since when, or by when."""
    first = entry.when_at
    state = entry.state
    if state == State.UNSURE:
        is_held = entry.board.held_count > 0
        return {
            "at": _("unsure"),
            "under": _("a reading is held") if is_held else _("read the counter"),
        }
    if first is None:
        return {"at": "–", "under": ""}
    if first <= now:
        return {
            "at": _("now"),
            "under": _("since %(when)s") % {"when": moment_words(first, now=now)},
        }
    return {"at": _("by %(when)s") % {"when": moment_words(first, now=now)}, "under": ""}
