"""What one of several processes does to a plant at the same time: `python -m` with a job.

It says that it is ready, waits for the others, works, and prints how often it did.
"""

import json
import sys
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from uuid import UUID

import django

django.setup()

from django.test import Client  # noqa: E402

from moldcare.acts.doing import Doing  # noqa: E402
from moldcare.acts.orders import hand_out, write_order  # noqa: E402
from moldcare.acts.readings import ReadingEntry, record_readings  # noqa: E402
from moldcare.acts.signing import SignedFrom, TaskResult, sign_order  # noqa: E402
from moldcare.care.models import CareRule  # noqa: E402
from moldcare.counters.models import Counter  # noqa: E402
from moldcare.plant.models import Person  # noqa: E402
from moldcare.work.models import Order  # noqa: E402

START = datetime(2026, 11, 25, 6, 12, tzinfo=UTC)
CYCLES_A_MINUTE = 2


def doing(person: Person, *, process: int, turn: int) -> Doing:
    """Return what a process does in a turn, a minute of the plant's time after the one before."""
    hand_in = UUID(int=process << 64 | turn)
    return Doing(person=person, now=START + timedelta(minutes=turn), hand_in=hand_in)


def look(person: Person, *, process: int, turn: int) -> None:
    """Open the Shift page as a board that refreshes itself."""
    client = Client(SERVER_NAME="localhost")
    client.force_login(person)
    for address in ("/", "/wall"):
        assert client.get(address).status_code == 200


def read(person: Person, *, process: int, turn: int) -> None:
    """Hand in a round: every counter, one reading each."""
    taken(person, process=process, turn=turn, source="typed", minutes=[0])


def bring(person: Person, *, process: int, turn: int) -> None:
    """Hand in a file with some readings of every counter."""
    taken(person, process=process, turn=turn, source="file", minutes=[0.2, 0.4, 0.6, 0.8])


def taken(person: Person, *, process: int, turn: int, source: str, minutes: list[float]) -> None:
    """Record readings that fit each other, whichever process is ahead."""
    now = doing(person, process=process, turn=turn)
    entries = []
    for counter in Counter.objects.order_by("pk"):
        for minute in minutes:
            at = now.now - timedelta(minutes=1 - minute)
            passed = (at - START).total_seconds() / 60
            value = 1_000 + int(CYCLES_A_MINUTE * passed)
            entries.append(ReadingEntry(counter=counter, at=at, value=value, source=source))
    record_readings(now, entries, keep_good=True)


def sign(person: Person, *, process: int, turn: int) -> None:
    """Write an order, hand it out, and sign it."""
    rules = list(CareRule.objects.order_by("pk"))
    rule = rules[turn % len(rules)]
    now = doing(person, process=process, turn=turn)
    written = write_order(Doing(person=person, now=now.now), mold=rule.mold, rules=[rule])
    order = Order.objects.get(pk=written.pk)
    hand_out(Doing(person=person, now=now.now), order=order)
    results = {line.pk: TaskResult(outcome="done", grade="light") for line in order.tasks.all()}
    sign_order(
        Doing(person=person, now=now.now),
        order=order,
        signer=person,
        minutes=5,
        source=SignedFrom.PAPER,
        results=results,
    )


WORK: dict[str, Callable[..., None]] = {"look": look, "read": read, "bring": bring, "sign": sign}


def main(job: dict[str, int | str]) -> None:
    """Work as often as the job says."""
    person = Person.objects.get(pk=job["person"])
    work, process, turns = WORK[str(job["work"])], int(job["process"]), int(job["turns"])
    print("ready", flush=True)
    sys.stdin.readline()
    for turn in range(1, turns + 1):
        work(person, process=process, turn=turn)
    print(turns, flush=True)


if __name__ == "__main__":
    main(json.loads(sys.argv[1]))
