"""What the next shift must know, read from the plant as it stands: a fixed number of queries."""

from datetime import datetime, timedelta

from django.db.models import F
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from moldcare.acts.handover import HandoverLine, HandoverSection
from moldcare.acts.words import sentence_end
from moldcare.care.models import Board, Standing
from moldcare.core.shifts import ShiftCalendar
from moldcare.counters.queries import held_readings
from moldcare.molds.models import RunEvent, sort_key
from moldcare.molds.queries import blocked_cavities, conditions_of, set_events_now
from moldcare.pages.rule_lines import rule_line
from moldcare.pages.sits import where_counters_sit
from moldcare.pages.words import count_words, moment_words
from moldcare.plant.models import Spot
from moldcare.production.queries import lasting
from moldcare.work.convert import Sheet
from moldcare.work.handover_queries import sheets_of
from moldcare.work.models import Order
from moldcare.work.queries import parts_out, passed_on, unsigned_orders

# more held readings than these are a list of their own
HELD_SHOWN = 20
# what each section is about, in the order in which a shift is handed over
KEYS = ("stopped", "running", "bench", "open_steps", "parts_out", "deferrals", "held")


def title_words(key: str) -> str:
    """Return the heading of a section."""
    return {
        "stopped": _("Stands still"),
        "running": _("Runs, and what is left"),
        "bench": _("On the bench, and what it needs next"),
        "open_steps": _("Begun and not signed"),
        "parts_out": _("Parts that are out"),
        "deferrals": _("Deferrals that end in the next shift"),
        "held": _("Held readings"),
    }.get(key, key)


def gathered(*, now: datetime, calendar: ShiftCalendar) -> list[HandoverSection]:
    """Return the sections of a handover at this moment; one without lines says so by that."""
    events = sorted(set_events_now(), key=lambda each: (sort_key(each.press.number), each.pk))
    boards = list(
        Board.objects.filter(spot_kind=Spot.Kind.BENCH, mold__withdrawn_at__isnull=True)
        .select_related("mold", "spot")
        .order_by("mold__sort_key")
    )
    orders = list(unsigned_orders().filter(begun_at__isnull=False))
    lines = {
        "stopped": _stopped(now=now),
        "running": _running(events, now=now, calendar=calendar),
        "bench": _bench(boards, orders=orders),
        "open_steps": _open_steps(orders),
        "parts_out": _parts_out(),
        "deferrals": _deferrals(now=now, calendar=calendar),
        "held": _held(now=now),
    }
    return [HandoverSection(key=key, lines=lines[key]) for key in KEYS]


def _stopped(*, now: datetime) -> list[HandoverLine]:
    return [
        HandoverLine(
            mold=row.mold.number,
            place=str(row.press) if row.press else "",
            say=_("Since %(when)s: %(finding)s")
            % {"when": moment_words(row.from_at, now=now), "finding": row.finding},
        )
        for row in lasting()
    ]


def _running(
    events: list[RunEvent], *, now: datetime, calendar: ShiftCalendar
) -> list[HandoverLine]:
    """Return each running mold with what of it is due first, and its blocked cavities."""
    molds = [event.mold_id for event in events]
    rows = (
        Standing.objects.filter(mold__in=molds)
        .select_related("rule__family")
        .order_by(F("due_at").asc(nulls_last=True), F("forecast_due_at").asc(nulls_last=True), "pk")
    )
    first: dict[int, Standing] = {}
    for row in rows:
        first.setdefault(row.mold_id or 0, row)
    blocked = blocked_cavities(molds)
    found = []
    for event in events:
        said = []
        if event.mold_id in first:
            line = rule_line(first[event.mold_id], at=now, calendar=calendar)
            said.append(f"{line.name}: {line.say}")
        else:
            said.append(_("No care rule."))
        if blocked.get(event.mold_id):
            idents = ", ".join(cavity.ident for cavity in blocked[event.mold_id])
            said.append(_("Blocked: %(cavities)s.") % {"cavities": idents})
        found.append(_line(event.mold.number, place=str(event.press), said=said))
    return found


def _bench(boards: list[Board], *, orders: list[Order]) -> list[HandoverLine]:
    conditions = conditions_of([board.mold_id for board in boards])
    order_of = {order.mold_id: order for order in orders}
    found = []
    for board in boards:
        said = []
        note = conditions.get(board.mold_id)
        if note is not None:
            said.append(f"{str(note.get_condition_display()).capitalize()}.")
            if note.needs_next:
                said.append(_("Needs next: %(what)s.") % {"what": note.get_needs_next_display()})
            if note.note:
                said.append(sentence_end(note.note))
        order = order_of.get(board.mold_id)
        if order is not None:
            said.append(_("Order %(number)d is begun.") % {"number": order.number})
        where = str(board.spot) if board.spot else ""
        found.append(
            _line(board.mold.number, place=where, said=said or [_("Nothing is written down.")])
        )
    return found


def _open_steps(orders: list[Order]) -> list[HandoverLine]:
    """Return how far begun orders are, what holds them up, and the word to whoever goes on."""
    sheets, words = sheets_of(orders), passed_on(order.pk for order in orders)
    found = []
    for order in orders:
        sheet = sheets[order.pk]
        said = [_open_words(order, sheet=sheet)]
        if sheet.now is not None:
            said.append(_("Next: %(step)s.") % {"step": sheet.now.text.rstrip(".")})
        if order.held_up_by:
            said.append(_("Held up by %(what)s.") % {"what": order.held_up_by})
        if order.pk in words:
            word = words[order.pk]
            said.append(f"{word.person.name}: {sentence_end(word.note)}")
        found.append(_line(_mold(order), place=_auxiliary(order), said=said))
    return found


def _open_words(order: Order, *, sheet: Sheet) -> str:
    left = len(sheet.open_steps)
    if not left:
        return _("Order %(number)d: all steps are written, the signature is missing.") % {
            "number": order.number
        }
    return ngettext(
        "Order %(number)d: %(n)d of %(all)d steps is open.",
        "Order %(number)d: %(n)d of %(all)d steps are open.",
        left,
    ) % {"number": order.number, "n": left, "all": len(sheet.steps)}


def _parts_out() -> list[HandoverLine]:
    return [
        _line(
            _mold(row.order),
            place=_auxiliary(row.order),
            said=[
                _("%(what)s: lies %(where)s (order %(number)d).")
                % {"what": row.what, "where": row.lies, "number": row.order.number}
            ],
        )
        for row in parts_out()
    ]


def _mold(order: Order) -> str:
    return order.mold.number if order.mold else ""


def _auxiliary(order: Order) -> str:
    return str(order.auxiliary) if order.auxiliary else ""


def _deferrals(*, now: datetime, calendar: ShiftCalendar) -> list[HandoverLine]:
    """Return the rules whose deferral ends before the next shift does."""
    until = calendar.next_shift_end(now) or now + timedelta(hours=8)
    until = calendar.next_shift_end(until + timedelta(seconds=1)) or until
    rows = (
        Standing.objects.filter(
            mold__isnull=False, deferred_until_at__gt=now, deferred_until_at__lte=until
        )
        .select_related("mold", "rule")
        .order_by("deferred_until_at", "pk")
    )
    return [
        _line(
            row.mold.number if row.mold else "",
            place="",
            said=[
                _("%(rule)s: ends %(when)s.")
                % {
                    "rule": row.rule.name,
                    "when": moment_words(row.deferred_until_at or now, now=now),
                }
            ],
        )
        for row in rows
    ]


def _held(*, now: datetime) -> list[HandoverLine]:
    rows = list(held_readings()[: HELD_SHOWN + 1])
    sits = where_counters_sit(row.reading.counter_id for row in rows)
    found = []
    for row in rows[:HELD_SHOWN]:
        sit = sits[row.reading.counter_id]
        found.append(
            HandoverLine(
                mold=sit.number,
                place="" if sit.number else sit.place,
                say=_("%(value)s on counter %(counter)s, read %(when)s.")
                % {
                    "value": count_words(row.reading.value),
                    "counter": row.reading.counter.label,
                    "when": moment_words(row.reading.at, now=now),
                },
            )
        )
    if len(rows) > HELD_SHOWN:
        found.append(HandoverLine(mold="", place="", say=_("More stand under held readings.")))
    return found


def _line(mold: str, *, place: str, said: list[str]) -> HandoverLine:
    return HandoverLine(mold=mold, place=place, say=" ".join(said))
