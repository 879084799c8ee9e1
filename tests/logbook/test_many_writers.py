"""Several processes write at one moment, on the engine that DATABASE_URL names."""

import json
import os
import subprocess
import sys
from uuid import uuid4

import pytest
from django.db import transaction

from moldcare.acts.doing import Doing, once
from moldcare.handin.models import HandIn
from moldcare.logbook.append import append_entry
from moldcare.logbook.models import Chain, Entry
from moldcare.logbook.verify import verify_logbook
from tests import factories
from tests.databases import current_database_url

pytestmark = [pytest.mark.slow, pytest.mark.usefixtures("fresh_db")]

# what each process runs: it says that it is ready, waits for the others, then writes
WRITER = """
import json, sys
import django
django.setup()
from datetime import UTC, datetime
from uuid import UUID
from moldcare.acts.doing import Doing, once
from moldcare.logbook.append import append_entry
from moldcare.logbook.models import Chain
from moldcare.plant.models import Person

job = json.loads(sys.argv[1])
chain, author = Chain.objects.get(pk=job["chain"]), Person.objects.get(pk=job["author"])
at = datetime(2026, 11, 25, 6, 12, tzinfo=UTC)
print("ready", flush=True)
sys.stdin.readline()
for each in range(job["entries"]):
    def do():
        entry = append_entry(
            chain, kind="note", happened_at=at, written_at=at, author=author,
            sentence=f"process {job['process']}, entry {each}", facts={"each": each},
        )
        return {"number": entry.number}
    named = UUID(job["hand_ins"][each]) if job["hand_ins"] else None
    doing = Doing(person=author, now=at, hand_in=named)
    print(json.dumps(once(doing, "note", {"each": each}, do)), flush=True)
"""


def numbers_of(
    chain: Chain,
    *,
    author: int,
    processes: int,
    entries: int,
    hand_ins: list[list[str]] | None = None,
) -> list[list[int]]:
    """Let processes write at one moment; return the numbers that each was given, in order."""
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "tests.settings",
        "DATABASE_URL": current_database_url(),
    }
    started = []
    for process in range(processes):
        job = {
            "chain": chain.pk,
            "author": author,
            "entries": entries,
            "process": process,
            "hand_ins": hand_ins[process] if hand_ins else None,
        }
        started.append(
            subprocess.Popen(
                [sys.executable, "-c", WRITER, json.dumps(job)],
                env=environment,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
                text=True,
            )
        )
    for each in started:
        assert each.stdout is not None
        assert each.stdout.readline() == "ready\n"
    for each in started:
        assert each.stdin is not None
        each.stdin.write("go\n")
        each.stdin.flush()
    numbers = []
    for each in started:
        said, went_wrong = each.communicate(timeout=120)
        assert each.returncode == 0, went_wrong
        numbers.append([json.loads(line)["number"] for line in said.splitlines()])
    return numbers


@pytest.mark.parametrize("earlier", [0, 1])
def test_eight_processes_write_200_entries_without_a_gap_or_a_fork(earlier: int) -> None:
    factories.plant()
    author = factories.person()
    chain = factories.mold().chain
    for _each in range(earlier):
        factories.entry(chain, author=author)
    numbers = numbers_of(chain, author=author.pk, processes=8, entries=25)
    assert sorted(number for each in numbers for number in each) == list(
        range(1 + earlier, 201 + earlier)
    )
    assert all(each == sorted(each) for each in numbers)
    hashes = Entry.objects.filter(chain=chain).values_list("previous_hash", flat=True)
    assert len(set(hashes)) == 200 + earlier
    assert verify_logbook().is_whole


def test_ten_at_once_begin_a_chain_with_1_to_10() -> None:
    factories.plant()
    author = factories.person()
    chain = factories.mold().chain
    numbers = numbers_of(chain, author=author.pk, processes=10, entries=1)
    assert sorted(each[0] for each in numbers) == list(range(1, 11))
    assert verify_logbook().is_whole


def test_a_write_that_fails_in_mid_transaction_takes_no_number() -> None:
    factories.plant()
    author = factories.person()
    chain = factories.mold().chain
    at = factories.ENTERED_AT

    def write(sentence: str, *, fails: bool) -> int:
        with transaction.atomic():
            entry = append_entry(
                chain,
                kind="note",
                happened_at=at,
                written_at=at,
                author=author,
                sentence=sentence,
                facts={},
            )
            if fails:
                raise OSError(28, "No space left on device")
            return entry.number

    assert write("the first", fails=False) == 1
    with pytest.raises(OSError, match="No space"):
        write("the one that fails", fails=True)
    assert write("the third", fails=False) == 2
    assert verify_logbook().is_whole


def test_the_same_hand_in_at_the_same_moment_is_one_entry() -> None:
    factories.plant()
    author = factories.person()
    chain = factories.mold().chain
    # one hand-in that both send, among nine that each sends alone, in a batch of ten
    shared = str(uuid4())
    batches = [[str(uuid4()) for _each in range(10)] for _process in range(2)]
    for batch in batches:
        batch[0] = shared
    numbers = numbers_of(chain, author=author.pk, processes=2, entries=10, hand_ins=batches)
    assert numbers[0][0] == numbers[1][0]
    assert Entry.objects.filter(chain=chain).count() == HandIn.objects.count() == 19
    assert verify_logbook().is_whole


def test_twice_in_one_batch_is_one_entry() -> None:
    factories.plant()
    author = factories.person()
    chain = factories.mold().chain
    named = [Doing(person=author, now=factories.ENTERED_AT, hand_in=uuid4()) for _each in range(9)]

    def do() -> dict[str, int]:
        entry = factories.entry(chain, author=author)
        return {"number": entry.number}

    answers = [once(doing, "note", {}, do) for doing in (*named, named[4])]
    assert answers[9] == answers[4]
    assert Entry.objects.filter(chain=chain).count() == 9
