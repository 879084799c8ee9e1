"""Counters: added, fitted, exchanged, removed."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from moldcare.acts.answers import Written, answer_of
from moldcare.acts.counters.entries import counter_entry
from moldcare.acts.doing import Doing, check_happened, once
from moldcare.acts.errors import DoesNotFit
from moldcare.acts.locks import known_so_far, lock_mold, lock_spot
from moldcare.acts.records import add_record, checked_fact, record_facts
from moldcare.acts.refresh import refresh_counts
from moldcare.acts.rights import Right, require
from moldcare.acts.words import local_words, tidy
from moldcare.core.counting.values import CounterSetup
from moldcare.counters.models import Counter, CounterFitting
from moldcare.counters.queries import counter_on
from moldcare.logbook.append import append_entry, plant_chain
from moldcare.logbook.models import Entry
from moldcare.molds.models import Mold
from moldcare.plant.models import Plant, Spot
from moldcare.plant.queries import the_plant


@dataclass(frozen=True, kw_only=True, slots=True)
class CounterExchanged(Written):
    """A counter was exchanged; `row_id` is the new one's fitting, `removed_id` the old one's."""

    removed_id: int


def add_counter(
    doing: Doing, *, label: str, digits: int | None = None, rollover: int | None = None
) -> Written:
    """Add a counter; `rollover` where it does not begin again after a power of ten.

    Raises
    ------
    Incomplete
        If the label is taken, or a width is not possible.
    """
    require(doing.person, Right.EXCHANGE_COUNTERS)

    def do() -> dict[str, Any]:
        row = Counter(label=tidy(label), digits=digits, rollover=rollover)
        add_record(row)
        entry = append_entry(
            plant_chain(),
            kind="counter_added",
            happened_at=doing.now,
            written_at=doing.now,
            author=doing.person,
            sentence=f"Counter {row.label} added.",
            facts=record_facts(row, fields=("label", "digits", "rollover")),
        )
        return answer_of(row, entry=entry)

    body = {"label": label, "digits": digits, "rollover": rollover}
    return Written.read(once(doing, "add_counter", body, do))


def fit_counter(
    doing: Doing,
    *,
    counter: Counter,
    on: Mold | Spot,
    at: datetime,
    value_shown: int | None = None,
    reason: str = "",
) -> Written:
    """Fit a counter to a mold or a press that has none, with the value that it shows.

    Raises
    ------
    DoesNotFit
        If the counter sits elsewhere, another sits here, or the value has too many digits.
    """
    require(doing.person, Right.EXCHANGE_COUNTERS)

    def do() -> dict[str, Any]:
        plant = the_plant()
        check_happened(at, doing=doing, plant=plant)
        held = _lock(on)
        known = known_so_far([counter.pk])
        _refuse_value(counter, value=value_shown)
        _refuse_fitted(counter, at=at, plant=plant)
        other = _counter_of(held, at=at)
        if other is not None:
            raise DoesNotFit(
                _("Counter %(counter)s sits there. Exchange it, or remove it first.")
                % {"counter": other}
            )
        later = _fittings(held).filter(at__gt=at).order_by("at", "id").first()
        if later is not None:
            raise DoesNotFit(
                _("Counter %(counter)s was fitted there on %(at)s, later than this.")
                % {"counter": later.counter, "at": local_words(later.at, plant=plant)}
            )
        entry = counter_entry(
            doing,
            on=held,
            kind="counter_fitted",
            at=at,
            sentence=f"Counter {counter.label} fitted{_to(held)}, {_showing(value_shown)}.",
            facts={"counter": counter.label, "value_shown": value_shown},
            reason=reason,
        )
        row = _fitting(
            doing,
            counter=counter,
            on=held,
            at=at,
            act=CounterFitting.Act.FITTED,
            value=value_shown,
            reason=reason,
            entry=entry,
            known=known,
        )
        _refresh(held, counters=[counter.pk])
        return answer_of(row, entry=entry)

    body = {
        "counter": counter,
        "on": _body(on),
        "at": at,
        "value_shown": value_shown,
        "reason": reason,
    }
    return Written.read(once(doing, "fit_counter", body, do))


def exchange_counter(
    doing: Doing,
    *,
    old: Counter,
    new: Counter,
    at: datetime,
    last_value: int | None,
    value_shown: int | None,
    reason: str = "",
) -> CounterExchanged:
    """Exchange a counter for another at one instant: one entry with both values.

    The life count goes on: what the new one shows at first is not use.

    Raises
    ------
    DoesNotFit
        If the old one does not sit anywhere then, the new one does, or a value has too many digits.
    """
    require(doing.person, Right.EXCHANGE_COUNTERS)

    def do() -> dict[str, Any]:
        plant = the_plant()
        check_happened(at, doing=doing, plant=plant)
        if old.pk == new.pk:
            raise DoesNotFit(
                _(
                    "This is the same counter. Where it was reset, enter a reading and decide "
                    "that the counter was reset there."
                )
            )
        held = _lock(_sits_on(old, at=at))
        known = known_so_far([old.pk, new.pk])
        _refuse_later(old, at=at, plant=plant)
        _refuse_fitted(new, at=at, plant=plant)
        _refuse_value(old, value=last_value)
        _refuse_value(new, value=value_shown)
        entry = counter_entry(
            doing,
            on=held,
            kind="counter_exchanged",
            at=at,
            sentence=(
                f"Counter {old.label}{_of(held)} exchanged for {new.label}: old one "
                f"{_showing(last_value)}, new one {_showing(value_shown)}."
            ),
            facts={
                "old": old.label,
                "last_value": last_value,
                "new": new.label,
                "value_shown": value_shown,
            },
            reason=reason,
        )
        removed, fitted = (
            _fitting(
                doing,
                counter=counter,
                on=held,
                at=at,
                act=act,
                value=value,
                reason=reason,
                entry=entry,
                known=known,
            )
            for counter, act, value in (
                (old, CounterFitting.Act.REMOVED, last_value),
                (new, CounterFitting.Act.FITTED, value_shown),
            )
        )
        _refresh(held, counters=[old.pk, new.pk])
        return answer_of(fitted, entry=entry, removed_id=removed.pk)

    body = {
        "old": old,
        "new": new,
        "at": at,
        "last_value": last_value,
        "value_shown": value_shown,
        "reason": reason,
    }
    return CounterExchanged.read(once(doing, "exchange_counter", body, do))


def remove_counter(
    doing: Doing, *, counter: Counter, at: datetime, last_value: int | None, reason: str = ""
) -> Written:
    """Remove a counter, with its last value, without fitting another.

    Raises
    ------
    DoesNotFit
        If it does not sit anywhere then, or was removed later.
    """
    require(doing.person, Right.EXCHANGE_COUNTERS)

    def do() -> dict[str, Any]:
        plant = the_plant()
        check_happened(at, doing=doing, plant=plant)
        held = _lock(_sits_on(counter, at=at))
        known = known_so_far([counter.pk])
        _refuse_later(counter, at=at, plant=plant)
        _refuse_value(counter, value=last_value)
        entry = counter_entry(
            doing,
            on=held,
            kind="counter_removed",
            at=at,
            sentence=f"Counter {counter.label} removed{_from(held)}, {_showing(last_value)}.",
            facts={"counter": counter.label, "last_value": last_value},
            reason=reason,
        )
        row = _fitting(
            doing,
            counter=counter,
            on=held,
            at=at,
            act=CounterFitting.Act.REMOVED,
            value=last_value,
            reason=reason,
            entry=entry,
            known=known,
        )
        _refresh(held, counters=[counter.pk])
        return answer_of(row, entry=entry)

    body = {"counter": counter, "at": at, "last_value": last_value, "reason": reason}
    return Written.read(once(doing, "remove_counter", body, do))


def _lock(on: Mold | Spot) -> Mold | Spot:
    if isinstance(on, Mold):
        return lock_mold(on)
    spot = lock_spot(on)
    if spot.kind != Spot.Kind.PRESS:
        raise DoesNotFit(_("A counter sits on a mold or a press, not on %(spot)s.") % {"spot": on})
    return spot


def _fittings(on: Mold | Spot) -> QuerySet[CounterFitting]:
    rows = CounterFitting.objects.select_related("counter")
    return rows.filter(mold=on) if isinstance(on, Mold) else rows.filter(press=on)


def _counter_of(on: Mold | Spot, *, at: datetime) -> Counter | None:
    return counter_on(at=at, mold=on) if isinstance(on, Mold) else counter_on(at=at, press=on)


def _newest(counter: Counter, *, at: datetime) -> CounterFitting | None:
    rows = CounterFitting.objects.filter(counter=counter, at__lte=at)
    return rows.select_related("mold", "press").order_by("-at", "-id").first()


def _sits_on(counter: Counter, *, at: datetime) -> Mold | Spot:
    newest = _newest(counter, at=at)
    where = newest and newest.act == CounterFitting.Act.FITTED and (newest.mold or newest.press)
    if not where or (newest and newest.at == at):
        raise DoesNotFit(
            _("Counter %(counter)s sits nowhere then. Enter where it was fitted first.")
            % {"counter": counter}
        )
    return where


def _refuse_later(counter: Counter, *, at: datetime, plant: Plant) -> None:
    later = counter.fittings.filter(at__gte=at).order_by("at", "id").first()
    if later is not None:
        raise DoesNotFit(
            _("Counter %(counter)s has a later entry, of %(at)s. Correct that one if it is wrong.")
            % {"counter": counter, "at": local_words(later.at, plant=plant)}
        )


def _refuse_fitted(counter: Counter, *, at: datetime, plant: Plant) -> None:
    newest = _newest(counter, at=at)
    if newest is not None and newest.act == CounterFitting.Act.FITTED:
        raise DoesNotFit(
            _("Counter %(counter)s sits on %(where)s since %(at)s. Remove it there first.")
            % {
                "counter": counter,
                "where": newest.mold or newest.press,
                "at": local_words(newest.at, plant=plant),
            }
        )
    _refuse_later(counter, at=at, plant=plant)


def _refuse_value(counter: Counter, *, value: int | None) -> None:
    if value is None:
        return
    wrap = CounterSetup(rollover=counter.rollover, digits=counter.digits).wrap
    if value < 0 or (wrap is not None and value >= wrap) or value >= 2**53:
        raise DoesNotFit(
            _("Counter %(counter)s cannot show %(value)s: it goes from 0 to %(most)s.")
            % {"counter": counter, "value": value, "most": (wrap or 2**53) - 1}
        )


def _fitting(
    doing: Doing,
    *,
    counter: Counter,
    on: Mold | Spot,
    at: datetime,
    act: str,
    value: int | None,
    reason: str,
    entry: Entry,
    known: int,
) -> CounterFitting:
    row = CounterFitting(
        counter=counter,
        mold=on if isinstance(on, Mold) else None,
        press=on if isinstance(on, Spot) else None,
        at=at,
        act=act,
        value_shown=value,
        reason=tidy(reason),
        person=doing.person,
        entry=entry,
        after_reading=known,
        written_at=doing.now,
    )
    checked_fact(row)
    row.save()
    return row


def _refresh(on: Mold | Spot, *, counters: list[int]) -> None:
    refresh_counts(counters=counters, molds=[on.pk] if isinstance(on, Mold) else [])


def _body(on: Mold | Spot) -> str:
    return f"{'mold' if isinstance(on, Mold) else 'press'} {on.pk}"


def _showing(value: int | None) -> str:
    return "value not known" if value is None else f"showing {value}"


# an entry of a mold's own chain need not name the mold
def _to(on: Mold | Spot) -> str:
    return "" if isinstance(on, Mold) else f" to press {on.number}"


def _of(on: Mold | Spot) -> str:
    return "" if isinstance(on, Mold) else f" of press {on.number}"


def _from(on: Mold | Spot) -> str:
    return "" if isinstance(on, Mold) else f" from press {on.number}"
