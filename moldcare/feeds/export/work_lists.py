"""Lists of what is to be done, what was done and what happened."""

from collections.abc import Iterator
from typing import Any

from django.db.models import Count, Q
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from moldcare.care.convert import standing_value
from moldcare.care.models import CareRule, Completion, Grade, RuleTermsBasis, RuleTermsPeriodUnit
from moldcare.care.models import Standing as StandingRow
from moldcare.care.queries import standings_in_order
from moldcare.core import due
from moldcare.core.counting.values import HoldReason, State
from moldcare.counters.models import Reading, ReadingSource
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
from moldcare.logbook.models import ChainKind, Entry, EntryMeaning
from moldcare.production.models import Defect, Interruption, Mechanism
from moldcare.work.models import Order, OrderTaskOutcome

_basis, _unit = labels(RuleTermsBasis), labels(RuleTermsPeriodUnit)


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


def _verdict_words(state: int) -> str:
    return {
        State.ACCEPTED: gettext("accepted"),
        State.HELD: gettext("held"),
        State.SET_ASIDE: gettext("set aside"),
    }[State(state)]


def _held_words(reason: str) -> str:
    return {
        HoldReason.NONE: "",
        HoldReason.GOES_BACKWARDS: gettext("goes backwards"),
        HoldReason.TOO_FAST: gettext("more than the time allows"),
        HoldReason.CONTRADICTS: gettext("contradicts another reading"),
        HoldReason.DOES_NOT_FIT: gettext("does not fit"),
        HoldReason.CLOCK_IS_OFF: gettext("from a clock that is off"),
        HoldReason.NOT_FITTED: gettext("read while the counter sat on nothing"),
        HoldReason.OUT_OF_RANGE: gettext("more than the counter can show"),
    }.get(HoldReason(reason), reason)


def _target_words(rule: CareRule) -> str:
    if rule.position is not None:
        return gettext("position %(ident)s") % {"ident": rule.position.ident}
    if rule.circuit is not None:
        return gettext("circuit %(ident)s") % {"ident": rule.circuit.ident}
    return str(rule.get_target_display())


def _rules(asked: Asked) -> Iterator[Row]:
    for row in standings_in_order().iterator(ROWS_AT_ONCE):
        yield [*_terms(row.rule), *_standing(row, asked=asked), row.rule.reason]


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
    return (
        _state_words(due.state_at(standing, at=asked.now)),
        standing.due_at or standing.forecast_due_at,
        row.due_count,
        row.count,
        row.since_count,
        plain(row.interval),
        plain(due.share_at(standing, at=asked.now, calendar=asked.calendar)),
        row.last_done_at,
        row.since_on,
    )


_READINGS = Queried(
    query=lambda asked: Reading.objects.filter(asked.within("at")).order_by("id"),
    columns=(
        Column(heading=_("Counter"), path="counter__label"),
        Column(heading=_("Date and time"), path="at"),
        Column(heading=_("Reading"), path="value"),
        Column(heading=_("How it came"), path="source", words=labels(ReadingSource)),
        Column(heading=_("Read by"), path="person__name"),
        Column(heading=_("Note"), path="note"),
        Column(heading=_("Verdict"), path="verdict__state", words=_verdict_words),
        Column(heading=_("Why held"), path="verdict__reason", words=_held_words),
        Column(heading=_("Cycles"), path="verdict__cycles"),
        Column(heading=_("Counted in all"), path="verdict__counter_total"),
        Column(heading=_("Written"), path="written_at"),
        Column(heading=_("Arrival"), path="id"),
    ),
)


def _orders(asked: Asked) -> Iterator[Row]:
    done, left = Q(tasks__outcome=OrderTaskOutcome.DONE), Q(tasks__outcome=OrderTaskOutcome.LEFT)
    orders = (
        Order.objects.filter(asked.within("written_at"))
        .select_related("mold", "auxiliary", "written_by")
        .prefetch_related("people")
        .annotate(
            tasks_n=Count("tasks"),
            done_n=Count("tasks", filter=done),
            left_n=Count("tasks", filter=left),
        )
        .order_by("number")
    )
    for order in orders.iterator(ROWS_AT_ONCE):
        extra: Any = order
        yield (
            order.number,
            order.mold.number if order.mold else None,
            order.auxiliary.number if order.auxiliary else None,
            str(order.state.label),
            order.planned_at,
            ", ".join(sorted(person.name for person in order.people.all())),
            extra.tasks_n,
            extra.done_n,
            extra.left_n,
            order.minutes,
            order.held_up_by,
            order.note,
            order.written_by.name,
            order.written_at,
            order.handed_out_at,
            order.begun_at,
            order.signed_at,
            order.struck_out_at,
            order.struck_out_reason,
        )


_COMPLETIONS = Queried(
    query=lambda asked: Completion.objects.filter(asked.within("written_at")).order_by("id"),
    columns=(
        Column(heading=_("Mold"), path="rule__mold__number"),
        Column(heading=_("Auxiliary"), path="rule__auxiliary__number"),
        Column(heading=_("Task"), path="rule__name"),
        Column(heading=_("Family"), path="rule__family__name"),
        Column(heading=_("Done"), path="happened_at"),
        Column(heading=_("Said to be done on"), path="declared_on"),
        Column(heading=_("Said to be done at count"), path="declared_count"),
        Column(heading=_("As found"), path="grade", words=labels(Grade)),
        Column(heading=_("Brought forward"), path="is_brought_forward"),
        Column(heading=_("Found not needed"), path="is_not_needed"),
        Column(heading=_("Minutes"), path="minutes"),
        Column(heading=_("Order"), path="order_number"),
        Column(heading=_("Done by"), path="person__name"),
        Column(heading=_("Entry"), path="entry__number"),
        Column(heading=_("Taken back"), path="taken_back__written_at"),
        Column(heading=_("Why taken back"), path="taken_back__reason"),
        Column(heading=_("Written"), path="written_at"),
    ),
)
_ENTRIES = Queried(
    query=lambda asked: Entry.objects.filter(asked.within("written_at")).order_by(
        "chain__kind", "chain__label", "number"
    ),
    columns=(
        Column(heading=_("Chain of"), path="chain__kind", words=labels(ChainKind)),
        Column(heading=_("Chain"), path="chain__label"),
        Column(heading=_("Entry"), path="number"),
        Column(heading=_("Kind"), path="kind"),
        Column(heading=_("Happened"), path="happened_at"),
        Column(heading=_("Written"), path="written_at"),
        Column(heading=_("Written by"), path="author_name"),
        Column(heading=_("Signed as"), path="meaning", words=labels(EntryMeaning)),
        Column(heading=_("What was written"), path="sentence"),
        Column(heading=_("Corrects entry"), path="corrects__number"),
        Column(heading=_("Hash"), path="hash"),
    ),
)
_INTERRUPTIONS = Queried(
    query=lambda asked: Interruption.objects.filter(asked.within("from_at")).order_by(
        "from_at", "id"
    ),
    columns=(
        Column(heading=_("Mold"), path="mold__number"),
        Column(heading=_("Press"), path="press__number"),
        Column(heading=_("From"), path=("end__from_at", "from_at")),
        Column(heading=_("To"), path=("end__to_at", "to_at")),
        Column(heading=_("Waiting in min"), path=("end__waiting_min", "waiting_min")),
        Column(heading=_("Repair in min"), path=("end__repair_min", "repair_min")),
        Column(heading=_("Fault on the part"), path="defect", words=labels(Defect)),
        Column(heading=_("Finding"), path="finding"),
        Column(heading=_("Position"), path="position"),
        Column(
            heading=_("How it came about"),
            path=("end__mechanism", "mechanism"),
            words=labels(Mechanism),
        ),
        Column(heading=_("Cause"), path=("end__cause", "cause")),
        Column(heading=_("What was done"), path=("end__action", "action")),
        Column(heading=_("As found"), path="grade", words=labels(Grade)),
        Column(heading=_("Scrap in pieces"), path=("end__scrap_pieces", "scrap_pieces")),
        Column(heading=_("Reported by"), path="person__name"),
        Column(heading=_("Written"), path="written_at"),
    ),
)

WORK_LISTS = (
    ListShape(
        name="rules",
        title=_("Care rules"),
        about=_("Every rule with its interval and where it stands now."),
        headings=(
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
        ),
        rows=_rules,
    ),
    ListShape(
        name="orders",
        title=_("Work orders"),
        about=_("By when they were written: for what, for whom, what became of them."),
        headings=(
            _("Order"),
            _("Mold"),
            _("Auxiliary"),
            _("State"),
            _("Planned for"),
            _("For"),
            _("Tasks"),
            _("Tasks done"),
            _("Tasks left"),
            _("Minutes"),
            _("Held up by"),
            _("Note"),
            _("Written by"),
            _("Written"),
            _("Handed out"),
            _("Begun"),
            _("Signed"),
            _("Struck out"),
            _("Why struck out"),
        ),
        rows=_orders,
        is_long=True,
    ),
    ListShape(
        name="completions",
        title=_("Work done"),
        about=_("Every task that was done, by when it was written down."),
        headings=_COMPLETIONS.headings,
        rows=_COMPLETIONS,
        is_long=True,
    ),
    ListShape(
        name="interruptions",
        title=_("Interruptions"),
        about=_("By when the run stopped: finding, cause, action, minutes and scrap."),
        headings=_INTERRUPTIONS.headings,
        rows=_INTERRUPTIONS,
        is_long=True,
    ),
    ListShape(
        name="entries",
        title=_("Logbook"),
        about=_("Entries of all chains by when they were written, with their hashes."),
        headings=_ENTRIES.headings,
        rows=_ENTRIES,
        is_long=True,
    ),
    ListShape(
        name="readings",
        title=_("Readings"),
        about=_("What counters showed, by when it was read, and what became of it."),
        headings=_READINGS.headings,
        rows=_READINGS,
        is_long=True,
    ),
)
