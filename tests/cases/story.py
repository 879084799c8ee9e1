"""A small plant that lives through a case: wall times as people say them, and acts by a lead."""

import io
import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import uuid4
from zoneinfo import ZoneInfo

import time_machine
from django.core.management import call_command
from django.test import Client

from moldcare.acts.counters import add_counter, fit_counter
from moldcare.acts.doing import Doing
from moldcare.acts.orders import hand_out, write_order
from moldcare.acts.readings import ReadingAnswer, ReadingEntry, record_readings
from moldcare.acts.signing import SignedFrom, TaskResult, sign_order
from moldcare.care.models import CareRule
from moldcare.counters.models import Counter, Life, Reading
from moldcare.molds.models import Mold
from moldcare.plant.models import Person, Spot
from moldcare.work.models import Order
from tests import factories


@dataclass(frozen=True, kw_only=True, slots=True)
class Story:
    """What happens in one plant."""

    zone: ZoneInfo
    lead: Person

    def at(self, text: str, *, fold: int = 0) -> datetime:
        """Return the instant of a wall time of the plant."""
        return datetime.fromisoformat(text).replace(tzinfo=self.zone, fold=fold)

    def doing(self, text: str) -> Doing:
        """Return the lead, doing something at a wall time."""
        return Doing(person=self.lead, now=self.at(text), hand_in=uuid4())

    def mold(self, number: str, *, cycle_s: str = "30", since: str, **fields: Any) -> Mold:
        """Return a mold that is known since a wall time, with its standard cycle."""
        at = self.at(since)
        mold = factories.mold(number=number, opening_at=at, entered_at=at, **fields)
        factories.cycle_time(mold, author=self.lead, standard_s=cycle_s, valid_from=at)
        return mold

    def counter(
        self,
        on: Mold | Spot,
        *,
        label: str,
        since: str,
        shown: int | None,
        digits: int | None = 7,
        rollover: int | None = None,
    ) -> Counter:
        """Add a counter and fit it."""
        added = add_counter(self.doing(since), label=label, digits=digits, rollover=rollover)
        counter = Counter.objects.get(pk=added.row_id)
        fit_counter(self.doing(since), counter=counter, on=on, at=self.at(since), value_shown=shown)
        return counter

    def read(
        self,
        counter: Counter,
        *rows: tuple[str, int],
        written: str | None = None,
        source: str = Reading.Source.TYPED,
    ) -> list[ReadingAnswer]:
        """Hand in readings one by one, each when it was taken unless told otherwise."""
        return [
            record_readings(
                self.doing(written or taken),
                [ReadingEntry(counter=counter, at=self.at(taken), value=value, source=source)],
            )[0]
            for taken, value in rows
        ]

    def done(self, rule: CareRule, *, at: str) -> Order:
        """Write, hand out and sign an order for a rule, all at one wall time."""
        written = write_order(self.doing(at), mold=rule.mold, rules=[rule])
        order = Order.objects.get(pk=written.pk)
        hand_out(self.doing(at), order=order)
        sign_order(
            self.doing(at),
            order=order,
            signer=self.lead,
            minutes=20,
            source=SignedFrom.PAPER,
            results={
                line.pk: TaskResult(outcome="done", grade="light") for line in order.tasks.all()
            },
        )
        order.refresh_from_db()
        return order

    def local(self, instant: datetime | None) -> str:
        """Return an instant as the plant's clocks show it."""
        assert instant is not None
        return instant.astimezone(self.zone).strftime("%Y-%m-%d %H:%M")

    def page(self, address: str, *, at: str) -> str:
        """Return what the lead sees at a wall time."""
        client = Client()
        client.force_login(self.lead)
        with time_machine.travel(self.at(at), tick=False):
            answer = client.get(address)
        assert answer.status_code == 200, (address, answer.status_code)
        return answer.content.decode()

    def due(self, *, at: str) -> dict[str, dict[str, Any]]:
        """Return what `manage.py due` says at a wall time, by the rule's name."""
        out = io.StringIO()
        with time_machine.travel(self.at(at), tick=False):
            call_command("due", "--all", "--format", "json", stdout=out)
        return {row["rule"]: row for row in json.loads(out.getvalue())}


def life_of(mold: Mold) -> Life:
    """Return where a mold's counts stand."""
    return Life.objects.get(pk=mold.pk)
