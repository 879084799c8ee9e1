import datetime as dt
import io
import json
import unicodedata
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.management import call_command
from django.db import connection

from moldcare.core.chain import (
    PreparedSeal,
    SealForm,
    content_hash,
    genesis_hash,
    photo_fact,
    prepare_seal,
)
from moldcare.facts import _drop_statements
from moldcare.files import store
from moldcare.files.models import File
from moldcare.logbook.models import Chain, Entry, Seal
from moldcare.logbook.queries import clock_went_back, entries_of, heads_before
from moldcare.logbook.verify import verify_logbook
from moldcare.plant.models import Person
from tests import factories

pytestmark = pytest.mark.django_db

AT = dt.datetime(2026, 11, 3, 6, 0, tzinfo=dt.UTC)


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    factories.plant()
    monkeypatch.setattr(settings, "MEDIA_ROOT", tmp_path / "files")


@pytest.fixture
def chains(technician: Person) -> tuple[Chain, Chain]:
    """Two molds with three entries each; a photo stands in the second of each."""
    made = []
    for number in ("M-2041", "M-2042"):
        chain = factories.mold(number=number).chain
        content = f"%PDF-1.7 of {number}".encode()
        sha256 = store.put(content)
        File.objects.create(
            sha256=sha256,
            kind="application/pdf",
            size_bytes=len(content),
            added_by=technician,
            written_at=AT,
        )
        for n in range(1, 4):
            facts: dict[str, object] = {"minutes": 10 * n, "depth_mm": Decimal("0.0150")}
            if n == 2:
                facts["look"] = photo_fact(name="vents.jpg", content_sha256=sha256)
            factories.entry(
                chain,
                author=technician,
                kind="note",
                at=AT + dt.timedelta(hours=n),
                sentence=f"Looked over, number {n}.",
                facts=facts,
                meaning="done",
            )
        made.append(chain)
    return made[0], made[1]


@pytest.fixture
def unprotected(chains: tuple[Chain, Chain]) -> Callable[..., None]:
    """Return a function that changes a row as somebody with the owner's rights could."""

    def execute(statement: str, *values: object) -> None:
        with connection.cursor() as cursor:
            for model in (Entry, Seal):
                for drop in _drop_statements(model, connection.vendor):
                    cursor.execute(drop)
            cursor.execute(statement, values)

    return execute


def seal(sealed_by: Person, month: dt.date, heads_at: dt.datetime) -> PreparedSeal:
    last = Seal.objects.order_by("-month").first()
    prepared = prepare_seal(
        SealForm(
            month=month,
            heads=heads_before(heads_at),
            sealed_by_id=sealed_by.pk,
            sealed_by_name=sealed_by.name,
            written_at=heads_at,
            previous_hash=last.hash if last else "",
        )
    )
    Seal.objects.create(
        month=month,
        heads=prepared.canonical,
        hash=prepared.hash,
        sealed_by=sealed_by,
        written_at=heads_at,
    )
    return prepared


def verified(**options: Any) -> tuple[int, str]:
    """Run the command; return its exit status and what it says."""
    out = io.StringIO()
    try:
        call_command("verify_logbook", stdout=out, **options)
    except SystemExit as ended:
        return int(ended.code or 0), out.getvalue().strip()
    return 0, out.getvalue().strip()


def test_a_whole_logbook_is_one_line_and_zero(chains: tuple[Chain, Chain], manager: Person) -> None:
    seal(manager, dt.date(2026, 11, 1), AT + dt.timedelta(days=28))
    status, said = verified(photos=True)
    assert status == 0
    assert said == "The logbook is whole: 2 chains, 6 entries, 1 seals, 2 files."


def test_an_empty_logbook_is_whole() -> None:
    assert verified()[0] == 0


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("author_name", "Somebody Else"),
        ("written_at", "2026-11-03 08:00:01+00:00"),
        ("happened_at", "2026-11-03 07:59:59.999999+00:00"),
        ("number", 9),
        ("kind", "reading"),
        ("meaning", "accepted"),
        ("sentence", "Looked over, number 2!"),
        ("form", 2),
        ("previous_hash", "f" * 64),
        ("hash", "e" * 64),
        ("canonical", "{}"),
    ],
)
def test_a_changed_column_is_found_and_named(
    chains: tuple[Chain, Chain],
    unprotected: Callable[..., None],
    column: str,
    value: object,
) -> None:
    row = Entry.objects.get(chain=chains[1], number=2)
    unprotected(f"UPDATE logbook_entry SET {column} = %s WHERE id = %s", value, row.pk)
    status, said = verified()
    assert status == 1
    assert said.startswith("mold M-2042, entry 2:")


def test_another_author_is_found(
    chains: tuple[Chain, Chain], unprotected: Callable[..., None], reader: Person
) -> None:
    row = Entry.objects.get(chain=chains[0], number=3)
    unprotected("UPDATE logbook_entry SET author_id = %s WHERE id = %s", reader.pk, row.pk)
    assert "mold M-2041, entry 3: author.id" in verified()[1]


@pytest.mark.parametrize(
    ("before", "after", "named"),
    [
        ('"minutes":20', '"minutes":21', "facts.minutes"),
        ('"0.0150"', '"0.015"', "facts.depth_mm"),
        ("vents.jpg", "other.jpg", "facts.look.photo"),
        ('"minutes":20', '"minutes":20.0', "facts"),
        ('"minutes":20', '"minutes":"20"', "facts.minutes"),
    ],
)
def test_a_changed_figure_inside_the_facts_is_found(
    chains: tuple[Chain, Chain],
    unprotected: Callable[..., None],
    before: str,
    after: str,
    named: str,
) -> None:
    row = Entry.objects.get(chain=chains[0], number=2)
    assert before in row.facts
    unprotected(
        "UPDATE logbook_entry SET facts = %s WHERE id = %s",
        row.facts.replace(before, after),
        row.pk,
    )
    status, said = verified()
    assert status == 1
    assert said.startswith(f"mold M-2041, entry 2: {named}")


def test_facts_with_their_keys_in_another_order_are_still_the_same(
    chains: tuple[Chain, Chain], unprotected: Callable[..., None]
) -> None:
    row = Entry.objects.get(chain=chains[0], number=2)
    facts = json.loads(row.facts)
    spread = json.dumps(dict(reversed(facts.items())), indent=2)
    assert spread != row.facts
    unprotected("UPDATE logbook_entry SET facts = %s WHERE id = %s", spread, row.pk)
    assert verified()[0] == 0


def test_entries_swapped_between_molds_are_found(
    chains: tuple[Chain, Chain], unprotected: Callable[..., None]
) -> None:
    first, second = (Entry.objects.get(chain=chain, number=3) for chain in chains)
    park = factories.mold(number="M-9999").chain
    swap = "UPDATE logbook_entry SET chain_id = %s WHERE id = %s"
    unprotected(swap, park.pk, first.pk)
    unprotected(swap, chains[0].pk, second.pk)
    unprotected(swap, chains[1].pk, first.pk)
    assert verified()[1].startswith("mold M-2041, entry 3: ")


def test_an_entry_taken_out_of_the_middle_is_found(
    chains: tuple[Chain, Chain], unprotected: Callable[..., None]
) -> None:
    unprotected("DELETE FROM logbook_entry WHERE chain_id = %s AND number = 2", chains[0].pk)
    assert verified()[1] == "mold M-2041, entry 2: missing."


def test_the_last_entry_is_missed_through_the_seal(
    chains: tuple[Chain, Chain], unprotected: Callable[..., None], manager: Person
) -> None:
    seal(manager, dt.date(2026, 11, 1), AT + dt.timedelta(days=28))
    unprotected("DELETE FROM logbook_entry WHERE chain_id = %s AND number = 3", chains[1].pk)
    assert verified()[1] == "mold M-2042, entry 3: missing."


def test_a_chain_that_is_gone_is_missed_through_the_seal(
    chains: tuple[Chain, Chain], unprotected: Callable[..., None], manager: Person
) -> None:
    seal(manager, dt.date(2026, 11, 1), AT + dt.timedelta(days=28))
    unprotected("DELETE FROM logbook_entry WHERE chain_id = %s", chains[1].pk)
    assert verified()[1] == "mold M-2042, entry 1: missing."
    unprotected("UPDATE logbook_chain SET label = 'M-2043' WHERE id = %s", chains[1].pk)
    assert verified()[1] == ("mold M-2042: the chain is missing; a seal names its entry 3.")


def test_a_changed_seal_is_found(
    chains: tuple[Chain, Chain], unprotected: Callable[..., None], manager: Person
) -> None:
    seal(manager, dt.date(2026, 11, 1), AT + dt.timedelta(days=28))
    unprotected("UPDATE logbook_seal SET month = '2026-10-01'")
    status, said = verified()
    assert (status, "seal of 2026-10" in said) == (1, True)


def test_a_seal_that_was_left_out_is_found(
    chains: tuple[Chain, Chain], unprotected: Callable[..., None], manager: Person
) -> None:
    for month in (10, 11):
        seal(manager, dt.date(2026, month, 1), dt.datetime(2026, month + 1, 1, tzinfo=dt.UTC))
    assert verified()[0] == 0
    unprotected("DELETE FROM logbook_seal WHERE month = '2026-10-01'")
    assert "does not follow" in verified()[1]


def test_photo_bytes_are_looked_at_when_asked(chains: tuple[Chain, Chain]) -> None:
    kept = File.objects.order_by("id").last()
    assert kept is not None
    path = store.path_of(kept.sha256)
    path.write_bytes(b"%PDF-1.7 of M-2043")
    assert verified()[0] == 0
    status, said = verified(photos=True)
    assert status == 1
    assert said.startswith("mold M-2042, entry 2: facts.look (vents.jpg)")
    path.unlink()
    assert verified(photos=True)[1].endswith("missing.")


def test_files_that_no_entry_names_are_looked_at_too(
    chains: tuple[Chain, Chain], technician: Person
) -> None:
    sha256 = store.put(b"%PDF-1.7 drawing")
    File.objects.create(
        sha256=sha256,
        kind="application/pdf",
        size_bytes=16,
        added_by=technician,
        written_at=AT,
    )
    store.path_of(sha256).unlink()
    assert verified(photos=True) == (1, f"file {sha256}: its stored bytes are missing.")


def test_a_form_that_is_not_known_is_named(
    chains: tuple[Chain, Chain], unprotected: Callable[..., None], technician: Person
) -> None:
    canonical = '{"form":7,"was":"written by a later version"}'
    head = Entry.objects.filter(chain=chains[0]).order_by("-number")[0]
    Entry.objects.create(
        chain=chains[0],
        number=4,
        form=7,
        kind="note",
        happened_at=AT,
        written_at=AT,
        author=technician,
        author_name=technician.name,
        sentence="-",
        facts="{}",
        previous_hash=head.hash,
        hash=content_hash(canonical.encode()),
        canonical=canonical,
    )
    assert verified()[1] == (
        "mold M-2041, entry 4: written in form 7, which this version does not know."
    )


@pytest.mark.parametrize(
    "at",
    [
        dt.datetime(2026, 11, 3, 12, 0, tzinfo=dt.UTC),
        dt.datetime(2026, 11, 3, 12, 0, 0, 500_000, tzinfo=dt.UTC),
        dt.datetime(2026, 11, 3, 12, 0, 0, 123_456, tzinfo=dt.UTC),
        dt.datetime(2026, 11, 3, 14, 0, tzinfo=dt.timezone(dt.timedelta(hours=2))),
    ],
)
def test_instants_of_any_fineness_and_zone_verify(at: dt.datetime, technician: Person) -> None:
    chain = factories.mold().chain
    factories.entry(chain, author=technician, at=at)
    factories.entry(chain, author=technician, at=at)
    assert verified()[0] == 0
    assert Entry.objects.filter(chain=chain, happened_at=at).count() == 2


def test_odd_facts_come_back_whole(technician: Person) -> None:
    chain = factories.mold().chain
    facts: dict[str, object] = {
        "z": "",
        "a": None,
        "€": [1, [2, ["x", None]], {}],
        "big": 2**60,
        "exact": Decimal("1.0"),
        "whole": 1,
        "thousand": Decimal("1e3"),
        "quote": 'a "b" \\ \u2028',
    }
    row = factories.entry(chain, author=technician, facts=facts)
    assert verified()[0] == 0
    back = json.loads(Entry.objects.get(pk=row.pk).facts)
    assert back["exact"] == "1.0"
    assert back["thousand"] == "1000"
    assert back["big"] == str(2**60)
    assert back["€"] == [1, [2, ["x", None]], {}]


def test_two_spellings_of_one_name_are_one(technician: Person) -> None:
    chain = factories.mold().chain
    apart = unicodedata.normalize("NFD", "Düse gereinigt, Müller")
    row = factories.entry(
        chain, author=technician, sentence=apart, facts={"photo name": "Du\u0308se.jpg"}
    )
    assert row.sentence == "Düse gereinigt, Müller"
    assert json.loads(row.facts) == {"photo name": "Düse.jpg"}
    assert Entry.objects.filter(sentence__contains="Müller").exists()
    assert verified()[0] == 0


def test_a_clock_that_went_back_is_named_and_the_order_stays(technician: Person) -> None:
    chain = factories.mold().chain
    for minutes in (0, 5, -5, 10):
        at = AT + dt.timedelta(minutes=minutes)
        factories.entry(chain, author=technician, at=at)
    assert [entry.number for entry in entries_of(chain)] == [1, 2, 3, 4]
    assert clock_went_back(entries_of(chain)) == [3]
    assert verified()[0] == 0


def test_heads_are_those_of_an_instant(chains: tuple[Chain, Chain]) -> None:
    early = heads_before(AT + dt.timedelta(hours=2, minutes=1))
    assert [(head.chain_label, head.number) for head in early] == [("M-2041", 2), ("M-2042", 2)]
    assert heads_before(AT) == []
    (one,) = heads_before(AT + dt.timedelta(days=1), chain=chains[1])
    assert one.hash == Entry.objects.get(chain=chains[1], number=3).hash


def test_a_first_entry_begins_with_its_own_chains_genesis(chains: tuple[Chain, Chain]) -> None:
    first = Entry.objects.get(chain=chains[0], number=1)
    assert first.previous_hash == genesis_hash(chain_kind="mold", chain_label="M-2041")


def test_a_chain_is_read_a_few_rows_at_a_time(
    technician: Person, django_assert_max_num_queries: Any
) -> None:
    chain = factories.mold().chain
    for _each in range(30):
        factories.entry(chain, author=technician)
    with django_assert_max_num_queries(5):
        found = verify_logbook()
    assert (found.entries, found.is_whole) == (30, True)
