"""The logbook as pages: the list, one entry, corrections, the chain, the printed month."""

import io
from collections.abc import Callable
from datetime import datetime, timedelta
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from pypdf import PdfReader

from moldcare.care.models import CareRule, Completion, TakenBack
from moldcare.logbook.models import Entry
from moldcare.molds.models import Mold
from moldcare.plant.models import Person
from tests import factories
from tests.pages.test_markup import faults_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]


@pytest.fixture
def mold(lead: Person) -> Mold:
    factories.plant()
    factories.three_shifts()
    return factories.mold(number="M-2041")


@pytest.fixture
def client(lead: Person, client_of: Callable[[str], Client]) -> Client:
    return client_of("lead")


def text_of(content: bytes) -> str:
    """The text of a PDF, with its blanks as they fall."""
    return " ".join(
        " ".join(page.extract_text() for page in PdfReader(io.BytesIO(content)).pages).split()
    )


def shown(client: Client, path: str) -> str:
    answer = client.get(path)
    assert answer.status_code == 200
    html = answer.content.decode()
    assert faults_of(html) == []
    return html


def completed(mold: Mold, *, author: Person, at: datetime) -> Completion:
    rule: CareRule = factories.care_rule(mold=mold, name="Clean the vents")
    entry = factories.entry(mold.chain, author=author, kind="order", at=at, meaning="done")
    return Completion.objects.create(
        rule=rule, happened_at=at, person=author, entry=entry, written_at=at
    )


def test_the_list_is_by_days_with_the_last_written_first(
    client: Client, mold: Mold, lead: Person, now: datetime
) -> None:
    yesterday = now - timedelta(days=1)
    factories.entry(mold.chain, author=lead, at=yesterday, sentence="Rust on the B half.")
    factories.entry(mold.chain, author=lead, at=now, sentence="Wiped and oiled.")
    html = shown(client, "/logbook")
    assert html.index("Wednesday 25 November 2026") < html.index("Tuesday 24 November 2026")
    assert html.index("Wiped and oiled.") < html.index("Rust on the B half.")


def test_the_list_narrows(client: Client, mold: Mold, lead: Person, now: datetime) -> None:
    other = factories.mold(number="0417")
    factories.entry(mold.chain, author=lead, at=now, sentence="Rust on the B half.")
    factories.entry(
        other.chain,
        author=factories.person(name="Mara Lindgren"),
        at=now - timedelta(days=40),
        kind="order",
        sentence="Vents cleaned.",
        facts={"tasks": [{"rule": 1, "family": "vents"}]},
    )
    author = Entry.objects.get(kind="order").author
    for query in (
        "mold=0417",
        "month=2026-10",
        "kind=order",
        "kind=family:vents",
        f"person={author.pk}",
        "q=cleaned",
    ):
        if query == "kind=family:vents":
            factories.family()
        html = shown(client, f"/logbook?{query}")
        assert "Vents cleaned." in html, query
        assert "Rust on the B half." not in html, query
    assert "No such entry" in shown(client, "/logbook?q=nothing+like+it")
    # what is not known is left out
    assert "2 entries" in shown(client, "/logbook?month=2026-13&kind=none&person=x&page=77")


def test_the_month_is_the_plants_own(client: Client, mold: Mold, lead: Person) -> None:
    # 2026-10-31 23:30 UTC is November on the plant's clocks
    at = datetime.fromisoformat("2026-10-31T23:30:00+00:00")
    factories.entry(mold.chain, author=lead, at=at, sentence="Just after midnight.")
    assert "Just after midnight." in shown(client, "/logbook?month=2026-11")
    assert "Just after midnight." not in shown(client, "/logbook?month=2026-10")


def test_a_correction_stands_beside_what_it_corrects(
    client: Client, mold: Mold, lead: Person, now: datetime
) -> None:
    entry = factories.entry(mold.chain, author=lead, at=now, sentence="Flow 48 l/min.")
    path = f"/logbook/{entry.pk}/correct"
    assert "Flow 48 l/min." in shown(client, path)
    refused = client.post(path, {"sentence": "Flow 4.8 l/min.", "reason": ""})
    assert refused.status_code == 422
    assert "Flow 4.8 l/min." in refused.content.decode()
    hand_in = str(uuid4())
    fields = {"sentence": "Flow 4.8 l/min.", "reason": "a sign was missed", "hand_in": hand_in}
    for _ in range(2):
        assert client.post(path, fields).status_code == 302
    corrected = Entry.objects.get(kind="correction")
    assert corrected.corrects == entry
    html = shown(client, "/logbook")
    assert "<s>Flow 48 l/min.</s>" in html
    assert f"Corrected by no. {corrected.number}." in html
    # of an entry that is corrected, the correction is corrected
    assert "Correct it" not in shown(client, f"/logbook/{entry.pk}")
    assert "Correct it" in shown(client, f"/logbook/{corrected.pk}")
    assert "Flow 4.8 l/min." in shown(client, f"/logbook/{corrected.pk}/correct")


def test_others_correct_only_what_they_wrote_in_the_running_shift(
    client_of: Callable[[str], Client], mold: Mold, technician: Person, lead: Person, now: datetime
) -> None:
    client = client_of("technician")
    own = factories.entry(mold.chain, author=technician, at=now - timedelta(minutes=30))
    older = factories.entry(mold.chain, author=technician, at=now - timedelta(days=1))
    others = factories.entry(mold.chain, author=lead, at=now)
    assert "Correct it" in shown(client, f"/logbook/{own.pk}")
    for entry in (older, others):
        assert "Ask a lead to correct it." in shown(client, f"/logbook/{entry.pk}")
        fields = {"sentence": "Otherwise.", "reason": "so"}
        assert client.post(f"/logbook/{entry.pk}/correct", fields).status_code == 422
    assert not Entry.objects.filter(kind="correction").exists()


def test_work_is_taken_back(client: Client, mold: Mold, lead: Person, now: datetime) -> None:
    done = completed(mold, author=lead, at=now)
    path = f"/logbook/{done.entry.pk}/take-back"
    assert "Clean the vents" in shown(client, path)
    assert client.post(path, {"completion": "9999", "reason": "x"}).status_code == 422
    client.post(path, {"completion": done.pk, "reason": "another mold"})
    assert TakenBack.objects.get().completion == done
    assert client.get(path).status_code == 404


def test_an_entry_shows_its_facts_in_words_its_photos_and_its_hash(
    client: Client, mold: Mold, lead: Person, now: datetime
) -> None:
    entry = factories.entry(
        mold.chain,
        author=lead,
        at=now,
        kind="order",
        meaning="done",
        facts={
            "minutes": 1_045,
            "look": {"photo": {"photo": "vents.jpg", "sha256": "ab" * 32}},
            "tasks": [
                {
                    "name": "Clean the vents",
                    "outcome": "done",
                    "grade": "heavy",
                    "steps": [
                        {"kind": "value", "text": "Depth", "value": "0.015", "unit": "mm"},
                    ],
                }
            ],
        },
    )
    html = shown(client, f"/logbook/{entry.pk}")
    assert "1,045" in html
    assert "0.015 mm" in html
    assert "done; found heavy" in html
    assert f"/files/{'ab' * 32}" in html
    assert " ".join(entry.hash[at : at + 4] for at in range(0, 64, 4)) in html
    assert "signed by Rosa Feldmann: done" in html


def test_a_chain_is_verified_when_asked(client: Client, mold: Mold, lead: Person) -> None:
    first = factories.entry(mold.chain, author=lead, sentence="Rust on the B half.")
    factories.entry(mold.chain, author=lead)
    path = f"/logbook/chains/{mold.chain.pk}"
    assert "2 entries were hashed again" in shown(client, path)
    with connection.cursor() as cursor:
        # behind the triggers' back, as somebody with the file at hand would
        if connection.vendor == "sqlite":
            cursor.execute(
                "SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = %s",
                ["logbook_entry"],
            )
            for (name,) in cursor.fetchall():
                cursor.execute(f'DROP TRIGGER "{name}"')
        else:
            # the checks that wait for the end of the transaction have to be over first
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
            cursor.execute("ALTER TABLE logbook_entry DISABLE TRIGGER USER")
        cursor.execute(
            "UPDATE logbook_entry SET sentence = 'Nothing found.' WHERE id = %s", [first.pk]
        )
    html = shown(client, path)
    assert "It is not whole." in html
    assert "entry 1" in html


def test_a_month_is_printed(client: Client, mold: Mold, lead: Person, now: datetime) -> None:
    factories.entry(mold.chain, author=lead, at=now, sentence="Rust on the B half.")
    for query in ("month=2026-11", "month=2026-11&mold=M-2041&paper=Letter"):
        answer = client.get(f"/logbook/print?{query}")
        assert answer.headers["Content-Type"] == "application/pdf"
        assert "Rust on the B half." in text_of(answer.content)
    assert client.get("/logbook/print?month=2026-11").content.startswith(b"%PDF-")
    for query in ("", "month=2026-13", "month=2026-11&mold=none"):
        assert client.get(f"/logbook/print?{query}").headers["Location"] == "/logbook"


def test_an_entry_or_chain_that_is_not_there_is_not_found(client: Client, mold: Mold) -> None:
    for path in ("/logbook/999999", f"/logbook/{10**30}", "/logbook/chains/999999"):
        assert client.get(path).status_code == 404
