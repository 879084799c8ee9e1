"""What the page of one rule shows: where it stands, what it asks, what was done, what it said."""

from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from moldcare.care.convert import rule_terms
from moldcare.care.models import (
    CareRule,
    Completion,
    Cover,
    Deferral,
    RuleTermsModel,
    RuleVersion,
    Standing,
    Step,
)
from moldcare.core.due import interval_count, interval_h
from moldcare.core.shifts import ShiftCalendar
from moldcare.pages.molds.words import target_words
from moldcare.pages.rule_lines import RuleLine, rule_line
from moldcare.pages.words import basis_words, count_words, day_words

COMPLETIONS_SHOWN = 12


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
        limits=limit_lines(rule),
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
    )


def limit_lines(rule: RuleTermsModel) -> list[tuple[str, str]]:
    """Return the limits of a rule in words, each with how its interval comes about."""
    terms = rule_terms(rule)
    factors = " × ".join(str(factor.value.normalize()) for factor in terms.factors)
    lines: list[tuple[str, str]] = []
    if terms.count is not None:
        interval = interval_count(terms.count, factors=terms.factors)
        said = _("every %(n)s %(basis)s") % {
            "n": count_words(interval),
            "basis": basis_words(terms.count.basis),
        }
        how = f"{count_words(terms.count.n)} × {factors} = {count_words(interval)}"
        lines.append((said, how if factors else ""))
    if terms.calendar is not None:
        lines.append((_period(rule), _calendar_note(rule)))
    if terms.running is not None:
        hours = interval_h(terms.running, factors=terms.factors)
        said = _("every %(n)s running hours") % {"n": count_words(hours)}
        how = f"{count_words(terms.running.hours)} × {factors} = {count_words(hours)}"
        lines.append((said, how if factors else ""))
    if rule.event:
        lines.append((str(rule.get_event_display()), _after(rule)))
    lines += [
        (
            _("when %(quantity)s reaches %(limit)s %(unit)s")
            % {
                "quantity": measured.quantity,
                "limit": measured.limit,
                "unit": rule.measured_unit,
            },
            _("baseline %(baseline)s") % {"baseline": measured.baseline},
        )
        for measured in terms.measured
    ]
    return lines + _further(rule)


def _period(rule: RuleTermsModel) -> str:
    number = rule.period_n or 0
    forms = {
        "day": ngettext("every day", "every %(n)d days", number),
        "week": ngettext("every week", "every %(n)d weeks", number),
        "month": ngettext("every month", "every %(n)d months", number),
        "year": ngettext("every year", "every %(n)d years", number),
    }
    said = forms[rule.period_unit]
    return said % {"n": number} if "%(n)d" in said else said


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
