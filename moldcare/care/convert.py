"""Care rows as the core's values, and back."""

from datetime import date
from decimal import Decimal
from typing import Any

from django.db import models

from moldcare.care.models import CareRule, Deferral, RuleTermsModel, Standing
from moldcare.core import due
from moldcare.core.recurrence import Period, Unit

# The columns that say what a rule asks, in the order of the model: what a version keeps.
TERM_FIELDS: tuple[str, ...] = tuple(
    field.name for field in RuleTermsModel._meta.get_fields() if field.name != "reason"
)


def rule_terms(row: RuleTermsModel) -> due.RuleTerms:
    """Return a rule's limits as the core's value."""
    return due.RuleTerms(
        count=_count(row),
        calendar=_calendar(row),
        running=(
            due.RunningLimit(
                hours=float(row.hours_limit),
                hard_limit_h=None if row.hard_hours is None else float(row.hard_hours),
            )
            if row.hours_limit
            else None
        ),
        events=(
            (
                due.EventLimit(
                    kind=due.EventKind(row.event),
                    after_days=row.event_after_days or 0,
                    margin_shifts=1 if row.margin_shifts is None else row.margin_shifts,
                ),
            )
            if row.event
            else ()
        ),
        measured=_measured(row),
        factors=tuple(
            due.Factor(value=Decimal(value), reason=reason)
            for value, reason in (
                (row.factor_resin, "resin"),
                (row.factor_filler, "filler"),
                (row.factor_finish, "finish"),
            )
            if value != 1
        ),
    )


def _count(row: RuleTermsModel) -> due.CountLimit | None:
    if row.count_base is None:
        return None
    return due.CountLimit(
        n=row.count_base,
        basis=due.Basis(row.count_basis),
        lead=row.lead_count,
        margin=row.margin_count,
        hard_limit=row.hard_count,
    )


def _calendar(row: RuleTermsModel) -> due.CalendarLimit | None:
    if row.period_n is None:
        return None
    return due.CalendarLimit(
        period=Period(n=row.period_n, unit=Unit(row.period_unit)),
        anchor_on=row.anchor_on,
        window_days=row.early_window_days,
        lead_days=row.lead_days,
        margin_days=row.margin_days,
        hard_limit_days=row.hard_days,
        counts=due.CalendarCounts(row.calendar_counts),
    )


def _measured(row: RuleTermsModel) -> tuple[due.MeasuredLimit, ...]:
    if row.measured_limit is None or row.measured_baseline is None:
        return ()
    return (
        due.MeasuredLimit(
            quantity=row.measured_quantity,
            baseline=float(row.measured_baseline),
            limit=float(row.measured_limit),
        ),
    )


def terms_snapshot(row: RuleTermsModel) -> dict[str, Any]:
    """Return the rule's terms as plain JSON, for a version that is kept for good."""
    kept: dict[str, Any] = {}
    for name in TERM_FIELDS:
        value = getattr(row, "family_id" if name == "family" else name)
        kept[name] = str(value) if isinstance(value, (Decimal, date)) else value
    return kept


def rule_of_snapshot(kept: dict[str, Any]) -> CareRule:
    """Return a rule, not stored, that says what a kept version said."""
    rule = CareRule()
    for name, value in kept.items():
        field = rule._meta.get_field(name)
        if isinstance(field, models.Field):
            setattr(rule, field.attname, field.to_python(value))
    return rule


def deferral_terms(row: Deferral, *, basis: str) -> due.DeferralTerms:
    """Return a deferral as the core's value; its counts are on the rule's basis."""
    return due.DeferralTerms(
        made_at=row.made_at,
        made_count=row.made_count,
        until_on=row.until_on,
        until_count=row.until_count,
        basis=due.Basis(basis),
    )


_SAME_NAME = (
    "due_soon_at",
    "due_at",
    "overdue_at",
    "past_limit_at",
    "due_soon_count",
    "due_count",
    "overdue_count",
    "past_limit_count",
    "forecast_soon_at",
    "forecast_due_at",
    "due_on",
    "served_on",
    "since_on",
    "since_count",
    "since_days",
    "limiting_name",
    "interval",
    "since",
    "remaining",
    "share",
    "is_waiting",
    "deferred_from_at",
    "deferred_until_at",
    "deferred_until_count",
    "unsure_at",
    "no_record_yet",
    "computed_at",
)


def standing_row(standing: due.Standing) -> dict[str, Any]:
    """Return the columns of a standing; the rule and its mold are the caller's to add."""
    reached = standing.undeferred
    return {name: getattr(standing, name) for name in _SAME_NAME} | {
        "limiting": standing.limiting or "",
        "basis": standing.basis or "",
        "unsure_why": standing.unsure_why or "",
        "notes": [str(note) for note in standing.notes],
        "undeferred_due_at": reached.due_at if reached else None,
        "undeferred_overdue_at": reached.overdue_at if reached else None,
        "undeferred_past_limit_at": reached.past_limit_at if reached else None,
    }


def standing_value(row: Standing) -> due.Standing:
    """Return a stored standing as the core's value, to be read at an instant."""
    values = {name: getattr(row, name) for name in _SAME_NAME}
    return due.Standing(
        **values,
        limiting=due.LimitKind(row.limiting) if row.limiting else None,
        basis=due.Basis(row.basis) if row.basis else None,
        unsure_why=due.UnsureWhy(row.unsure_why) if row.unsure_why else None,
        notes=tuple(due.Note(note) for note in row.notes),
        undeferred=(
            due.Reached(
                due_at=row.undeferred_due_at,
                overdue_at=row.undeferred_overdue_at,
                past_limit_at=row.undeferred_past_limit_at,
            )
            if row.deferred_from_at
            else None
        ),
    )
