"""Lists of care rules: where they stand, what is due, what was let run, what sets say."""

from collections.abc import Iterator

from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from moldcare.care.convert import standing_value
from moldcare.care.models import (
    CareRule,
    Deferral,
    RuleTermsBasis,
    RuleTermsEvent,
    RuleTermsPeriodUnit,
    SetRule,
)
from moldcare.care.models import Standing as StandingRow
from moldcare.care.queries import standings_in_order
from moldcare.core import due
from moldcare.feeds.export.shapes import (
    ROWS_AT_ONCE,
    Asked,
    Column,
    ListShape,
    Queried,
    Row,
    labels,
    plain,
)
from moldcare.molds.queries import places_of

_basis, _unit = labels(RuleTermsBasis), labels(RuleTermsPeriodUnit)
_event = labels(RuleTermsEvent)
_LIES_STILL = (due.State.NOT_DUE, due.State.WAITING)


def _state_words(state: due.State) -> str:
    return {
        due.State.NOT_DUE: gettext("not due"),
        due.State.WAITING: gettext("waiting"),
        due.State.DUE_SOON: gettext("due soon"),
        due.State.UNSURE: gettext("unsure"),
        due.State.DEFERRED: gettext("deferred"),
        due.State.DUE: gettext("due"),
        due.State.OVERDUE: gettext("overdue"),
        due.State.PAST_LIMIT: gettext("past limit"),
    }[state]


def _target_words(rule: CareRule) -> str:
    if rule.position is not None:
        return gettext("position %(ident)s") % {"ident": rule.position.ident}
    if rule.circuit is not None:
        return gettext("circuit %(ident)s") % {"ident": rule.circuit.ident}
    return str(rule.get_target_display())


def _rules(asked: Asked) -> Iterator[Row]:
    for row in standings_in_order().iterator(ROWS_AT_ONCE):
        yield _rule(row, asked=asked)


def _due(asked: Asked) -> Iterator[Row]:
    places = places_of()
    for row in standings_in_order().iterator(ROWS_AT_ONCE):
        if due.state_at(standing_value(row), at=asked.now) in _LIES_STILL:
            continue
        move = places.get(row.mold_id or 0)
        yield [*_rule(row, asked=asked), str(move.spot) if move else None]


def _rule(row: StandingRow, *, asked: Asked) -> Row:
    return [*_terms(row.rule), *_standing(row, asked=asked), row.rule.reason]


def _terms(rule: CareRule) -> Row:
    return (
        rule.mold.number if rule.mold else None,
        rule.auxiliary.number if rule.auxiliary else None,
        _target_words(rule),
        rule.name,
        rule.family.name,
        rule.count_base,
        _basis(rule.count_basis) if rule.count_base else None,
        rule.period_n,
        _unit(rule.period_unit) if rule.period_n else None,
        rule.hours_limit,
        rule.get_event_display() if rule.event else None,
    )


def _standing(row: StandingRow, *, asked: Asked) -> Row:
    standing = standing_value(row)
    due_at = standing.due_at or standing.forecast_due_at
    return (
        _state_words(due.state_at(standing, at=asked.now)),
        # worked out, and not to the microsecond
        due_at and due_at.replace(microsecond=0),
        row.due_count,
        row.count,
        row.since_count,
        plain(row.interval),
        plain(due.share_at(standing, at=asked.now, calendar=asked.calendar)),
        row.last_done_at,
        row.since_on,
    )


def _set_rules(_asked: Asked) -> Iterator[Row]:
    rows = SetRule.objects.filter(withdrawn_at__isnull=True, rule_set__withdrawn_at__isnull=True)
    rows = rows.select_related("rule_set", "family").order_by("rule_set__name", "id")
    for rule in rows.iterator(ROWS_AT_ONCE):
        yield (
            rule.rule_set.name,
            rule.rule_set.note,
            rule.rule_set.revision,
            rule.name,
            rule.family.name,
            rule.count_base,
            _basis(rule.count_basis) if rule.count_base else None,
            rule.by_resin,
            rule.by_filler,
            rule.factor_resin,
            rule.factor_filler,
            rule.factor_finish,
            rule.period_n,
            _unit(rule.period_unit) if rule.period_n else None,
            rule.hours_limit,
            _event(rule.event) or None,
            rule.minutes,
            rule.qualification,
            rule.supplies,
            rule.signs,
            len(rule.steps),
            rule.reason,
        )


_DEFERRALS = Queried(
    query=lambda asked: Deferral.objects.filter(asked.within("written_at")).order_by("id"),
    columns=(
        Column(heading=_("Mold"), path="rule__mold__number"),
        Column(heading=_("Auxiliary"), path="rule__auxiliary__number"),
        Column(heading=_("Task"), path="rule__name"),
        Column(heading=_("Let run from"), path="made_at"),
        Column(heading=_("Count then"), path="made_count"),
        Column(heading=_("Until count"), path="until_count"),
        Column(heading=_("Until"), path="until_on"),
        Column(heading=_("Why"), path="reason"),
        Column(heading=_("Decided by"), path="person__name"),
        Column(heading=_("Written"), path="written_at"),
    ),
)
_RULE_HEADINGS = (
    _("Mold"),
    _("Auxiliary"),
    _("Target"),
    _("Task"),
    _("Family"),
    _("Every ... counts"),
    _("Counted in"),
    _("Every"),
    _("Period"),
    _("Every ... running hours"),
    _("Event"),
    _("State"),
    _("Due"),
    _("Due at count"),
    _("Count now"),
    _("Count when last done"),
    _("Interval after factors"),
    _("Share used"),
    _("Last done"),
    _("Counted since"),
    _("Why this interval"),
)

RULE_LISTS = (
    ListShape(
        name="rules",
        title=_("Care rules"),
        about=_("Every rule with its interval and where it stands now."),
        headings=_RULE_HEADINGS,
        rows=_rules,
    ),
    ListShape(
        name="due",
        title=_("What is due"),
        about=_("Rules that are due soon or worse, unsure or deferred now, and where the mold is."),
        headings=(*_RULE_HEADINGS, _("Place")),
        rows=_due,
    ),
    ListShape(
        name="rule-sets",
        title=_("Rule sets"),
        about=_("The rules of every set: starting values, each to be checked by the plant."),
        headings=(
            _("Rule set"),
            _("For which molds"),
            _("Revision"),
            _("Task"),
            _("Family"),
            _("Every ... counts"),
            _("Counted in"),
            _("The mold's resin shortens it"),
            _("The mold's filler shortens it"),
            _("Resin factor"),
            _("Filler factor"),
            _("Finish factor"),
            _("Every"),
            _("Period"),
            _("Every ... running hours"),
            _("Event"),
            _("Minutes"),
            _("Qualification"),
            _("Supplies"),
            _("Signs that it is overdue"),
            _("Steps"),
            _("Why this interval"),
        ),
        rows=_set_rules,
    ),
    ListShape(
        name="deferrals",
        title=_("Deferrals"),
        about=_("Which rules somebody let run past due, how far, and why."),
        headings=_DEFERRALS.headings,
        rows=_DEFERRALS,
        is_long=True,
    ),
)
