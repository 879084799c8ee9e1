"""Where a maintenance sheet says another interval than a rule of a mold has."""

from collections.abc import Mapping
from datetime import date
from typing import Any, NamedTuple

from django.utils.translation import gettext as _

from moldcare.acts.moving_in.values import Difference, FileRule
from moldcare.care.models import CareRule


class Known(NamedTuple):
    """A rule of a mold that is in force, as far as a sheet speaks of it."""

    pk: int
    mold: int
    name: str
    family: str
    target: str
    count_base: int | None
    count_basis: str
    period_n: int | None
    period_unit: str
    hours_limit: int | None
    event: str
    has_more_limits: bool
    is_done_here: bool
    done_on: date | None
    done_count: int | None


def changes_of(row: FileRule, *, known: Known) -> dict[str, Any]:
    """Return what the file says otherwise of an interval; what it does not say stays."""
    changes: dict[str, Any] = {}
    if row.count_interval is not None:
        if row.count_interval != known.count_base:
            changes["count_base"] = row.count_interval
        if row.count_basis != known.count_basis:
            changes["count_basis"] = row.count_basis
    there = known.period_n, known.period_unit
    if row.period_n is not None and (row.period_n, row.period_unit) != there:
        changes |= {"period_n": row.period_n, "period_unit": row.period_unit}
    if row.hours_limit not in (None, known.hours_limit):
        changes["hours_limit"] = row.hours_limit
    if row.event not in ("", known.event):
        changes["event"] = row.event
    return changes


def differences_of(known: Known, *, changes: Mapping[str, Any]) -> tuple[Difference, ...]:
    """Return what differs, in words: the intervals by count, calendar and hours, the event."""
    found = []
    if "count_base" in changes or "count_basis" in changes:
        here = _counted(known.count_base, basis=known.count_basis)
        wanted = _counted(
            changes.get("count_base", known.count_base),
            basis=changes.get("count_basis", known.count_basis),
        )
        found.append(Difference(field="count", label=_("every"), here=here, in_file=wanted))
    if "period_n" in changes:
        here = _period(known.period_n, unit=known.period_unit)
        wanted = _period(changes["period_n"], unit=changes["period_unit"])
        found.append(Difference(field="period", label=_("every"), here=here, in_file=wanted))
    if "hours_limit" in changes:
        here, wanted = _hours(known.hours_limit), _hours(changes["hours_limit"])
        found.append(Difference(field="hours", label=_("every"), here=here, in_file=wanted))
    if "event" in changes:
        here, wanted = _event(known.event), _event(changes["event"])
        found.append(Difference(field="event", label=_("due"), here=here, in_file=wanted))
    return tuple(found)


def _counted(n: int | None, *, basis: str) -> str:
    return "" if n is None else f"{n:,} {CareRule.Basis(basis).label}"


def _period(n: int | None, *, unit: str) -> str:
    return "" if n is None else f"{n} {CareRule.PeriodUnit(unit).label}"


def _hours(n: int | None) -> str:
    return "" if n is None else _("%(n)s running hours") % {"n": f"{n:,}"}


def _event(event: str) -> str:
    return str(CareRule.Event(event).label) if event else ""
