"""What the page of one rule shows: where it stands, what it asks, what was done, what it said."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from moldcare.acts.rules import values_on
from moldcare.acts.words import sentence_end
from moldcare.care.convert import rule_terms
from moldcare.care.models import (
    CareRule,
    Completion,
    Cover,
    Deferral,
    RuleSet,
    RuleTermsModel,
    RuleVersion,
    SetRule,
    Standing,
    Step,
    TakenSet,
)
from moldcare.core.shifts import ShiftCalendar
from moldcare.molds.models import Mold
from moldcare.pages.molds.words import target_words
from moldcare.pages.rule_lines import RuleLine, rule_line
from moldcare.pages.rules.intervals import intervals_of
from moldcare.pages.words import basis_words, count_words, day_words
from moldcare.work.numbers import plain_decimal

COMPLETIONS_SHOWN = 12


@dataclass(frozen=True, kw_only=True, slots=True)
class SetOffer:
    """The set that a rule comes from, where it changed since; `asks` is what it asks now."""

    rule_set: RuleSet
    asks: str
    reason: str
    is_gone: bool


@dataclass(kw_only=True, slots=True)
class RulePage:
    """Everything that the page of a rule shows."""

    rule: CareRule
    now: datetime
    target: str
    line: RuleLine | None
    count: int | None
    limits: list[tuple[str, str]]
    steps: list[Step]
    covers: list[CareRule]
    covered_by: list[CareRule]
    completions: list[Completion]
    deferrals: list[Deferral]
    versions: list[RuleVersion]
    offer: SetOffer | None


def rule_page(rule: CareRule, *, now: datetime, calendar: ShiftCalendar) -> RulePage:
    """Read the page of a rule as it stands now."""
    standing = (
        Standing.objects.filter(pk=rule.pk)
        .select_related("rule__family", "rule__position", "rule__circuit")
        .first()
    )
    done = Completion.objects.filter(rule=rule).select_related("person", "entry", "taken_back")
    covers = Cover.objects.filter(covering=rule, covered__withdrawn_at__isnull=True)
    covered_by = Cover.objects.filter(covered=rule, covering__withdrawn_at__isnull=True)
    return RulePage(
        rule=rule,
        now=now,
        target=target_words(rule),
        line=rule_line(standing, at=now, calendar=calendar) if standing else None,
        count=standing.count if standing else None,
        limits=limit_lines(rule, mold=rule.mold),
        steps=list(Step.objects.filter(rule=rule).order_by("place")),
        covers=[row.covered for row in covers.select_related("covered").order_by("id")],
        covered_by=[row.covering for row in covered_by.select_related("covering").order_by("id")],
        completions=list(done.order_by("-happened_at", "-id")[:COMPLETIONS_SHOWN]),
        deferrals=list(
            Deferral.objects.filter(rule=rule).select_related("person").order_by("-id")[:4]
        ),
        versions=list(
            RuleVersion.objects.filter(rule=rule)
            .select_related("person", "entry")
            .order_by("-id")[:COMPLETIONS_SHOWN]
        ),
        offer=_offer(rule),
    )


def _offer(rule: CareRule) -> SetOffer | None:
    """Return what the set that a rule comes from asks now, where the mold was not told yet."""
    if rule.mold is None or rule.withdrawn_at is not None:
        return None
    row: SetRule | None = rule.from_set_rule
    if row is None:
        return None
    taken = TakenSet.objects.filter(mold=rule.mold, rule_set=row.rule_set).first()
    if taken is None or taken.revision >= row.changed_in:
        return None
    if row.rule_set.withdrawn_at is not None or taken.left_aside.get(str(row.pk)) == row.changed_in:
        return None
    wanted = CareRule()
    for name, value in values_on(row, mold=rule.mold).items():
        setattr(wanted, name, value)
    return SetOffer(
        rule_set=row.rule_set,
        asks="; ".join(
            f"{said} ({how})" if how else said for said, how in limit_lines(wanted, mold=rule.mold)
        ),
        reason=sentence_end(row.reason),
        is_gone=row.withdrawn_at is not None,
    )


def limit_lines(rule: RuleTermsModel, *, mold: Mold | None = None) -> list[tuple[str, str]]:
    """Return the limits of a rule in words, each with how its interval comes about on its mold."""
    terms = rule_terms(rule)
    intervals = [
        (_("every %(interval)s") % {"interval": each.said}, each.sum)
        for each in intervals_of(rule, mold=mold)
    ]
    by_count = intervals[:1] if terms.count is not None else []
    lines = list(by_count)
    if terms.calendar is not None:
        lines.append((_period(rule), _calendar_note(rule)))
    lines += intervals[len(by_count) :]
    if rule.event:
        lines.append((str(rule.get_event_display()), _after(rule)))
    lines += [
        (
            _("when %(quantity)s reaches %(limit)s %(unit)s")
            % {
                "quantity": measured.quantity,
                "limit": plain_decimal(rule.measured_limit or Decimal(0)),
                "unit": rule.measured_unit,
            },
            _("baseline %(baseline)s")
            % {"baseline": plain_decimal(rule.measured_baseline or Decimal(0))},
        )
        for measured in terms.measured
    ]
    return lines + _further(rule)


def _period(rule: RuleTermsModel) -> str:
    number = rule.period_n or 0
    forms = {
        "day": ngettext("every day", "every %(n)s days", number),
        "week": ngettext("every week", "every %(n)s weeks", number),
        "month": ngettext("every month", "every %(n)s months", number),
        "year": ngettext("every year", "every %(n)s years", number),
    }
    said = forms[rule.period_unit]
    return said % {"n": count_words(number)} if "%(n)s" in said else said


def _calendar_note(rule: RuleTermsModel) -> str:
    notes = []
    if rule.anchor_on:
        notes.append(_("on fixed dates from %(day)s") % {"day": day_words(rule.anchor_on)})
    if rule.calendar_counts != RuleTermsModel.CalendarCounts.ALWAYS:
        notes.append(str(rule.get_calendar_counts_display()))
    return ", ".join(notes)


def _after(rule: RuleTermsModel) -> str:
    if not rule.event_after_days:
        return ""
    return _("after a stay of %(n)s days") % {"n": rule.event_after_days}


def _further(rule: RuleTermsModel) -> list[tuple[str, str]]:
    """Return lead, margin and hard limit where the rule gives them."""
    found = []
    for label, values in (
        (_("due soon before that by"), (rule.lead_count, rule.lead_days, None)),
        (_("margin"), (rule.margin_count, rule.margin_days, None)),
        (_("hard limit at"), (rule.hard_count, rule.hard_days, rule.hard_hours)),
    ):
        words = (basis_words(rule.count_basis), _("days"), _("running hours"))
        said = [
            f"{count_words(value)} {word}"
            for value, word in zip(values, words, strict=True)
            if value is not None
        ]
        if said:
            found.append((f"{label} {', '.join(said)}", ""))
    return found
