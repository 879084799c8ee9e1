"""A file is judged once when it is looked at; its page shows rows by what they need."""

import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from html import unescape
from re import findall, sub
from uuid import uuid4
from zoneinfo import ZoneInfo

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.http import HttpResponseBase
from django.test import Client
from django.test.utils import CaptureQueriesContext

from moldcare.acts.doing import Doing
from moldcare.acts.molds import add_mold, edit_mold
from moldcare.feeds import looks
from moldcare.feeds.models import ImportBatch, Upload, UploadLook, UploadRow
from moldcare.feeds.uploads import keep_upload
from moldcare.molds.models import Mold
from moldcare.plant.models import Person
from tests import factories

pytestmark = pytest.mark.usefixtures("clock")

ClientOf = Callable[[str], Client]
HEADING = "Mold no.;Name;Cavities;Cycle time (s)\n"


def register(*, rows: int, name: str = "part") -> str:
    """A register of so many molds; every tenth has no number of cavities."""
    lines = [
        f"M-{n:04};{name} {n};{'many' if n % 10 == 0 else 4};{10 + n % 30}"
        for n in range(1, rows + 1)
    ]
    return HEADING + "\n".join(lines) + "\n"


def text_of(response: HttpResponseBase) -> str:
    body = response.getvalue().decode()  # type: ignore[attr-defined]
    return sub(r"\s+", " ", unescape(sub(r"<[^>]+>", " ", body))).strip()


def looked_at(client: Client, content: str, *, kind: str = "molds") -> str:
    """Upload a file and return the address where it is looked at."""
    file = SimpleUploadedFile("register.csv", content.encode())
    response = client.post(f"/import/{kind}", {"file": file})
    assert response.status_code == 302, text_of(response)
    return str(response["Location"])


def applied(client: Client, address: str) -> HttpResponseBase:
    return client.post(address, {"apply": "1", "hand_in": str(uuid4())}, follow=True)


def rows_on(response: HttpResponseBase) -> list[int]:
    """The rows of the file that a page shows."""
    body = response.getvalue().decode()  # type: ignore[attr-defined]
    table = body.split('<th scope="col">Becomes</th>', maxsplit=1)[1]
    return [int(row) for row in findall(r'<th scope="row">(\d+)[A-Z]*</th>', table)]


@contextmanager
def no_file_is_opened(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Fail where the bytes of an upload are asked for."""

    def refuse(upload: Upload) -> None:
        raise AssertionError(f"{upload} was opened")

    with monkeypatch.context() as patched:
        patched.setattr("moldcare.feeds.looks.content_of", refuse)
        patched.setattr("moldcare.pages.imports.views.content_of", refuse)
        yield


@pytest.fixture(autouse=True)
def plant(db: None) -> None:
    """The plant, with nothing in it."""
    factories.plant()


@pytest.fixture
def client(client_of: ClientOf) -> Client:
    return client_of("lead")


def test_looking_reads_what_was_found_and_not_the_file(
    client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    few, many = looked_at(client, register(rows=120)), looked_at(client, register(rows=900))
    asked = []
    for address in (few, many):
        with no_file_is_opened(monkeypatch), CaptureQueriesContext(connection) as queries:
            response = client.get(f"{address}?show=all&page=2")
        assert response.status_code == 200
        assert len(rows_on(response)) == 50
        asked.append(len(queries))
    # not one more for a larger file
    assert asked[0] == asked[1]
    assert not any("molds_mold" in query["sql"] for query in queries.captured_queries)


def test_rows_are_shown_by_what_they_need_page_by_page(client: Client) -> None:
    address = looked_at(client, register(rows=120))
    first = client.get(address)
    # row 1 has the headings: mold 10 stands in row 11
    assert rows_on(first) == list(range(11, 122, 10))
    said = text_of(first)
    for words in ("all rows: 120", "need a hand: 12", "good, or here already: 108"):
        assert words in said
    assert "different from what is here" not in said
    shown: list[int] = []
    for page in (1, 2, 3):
        shown += rows_on(client.get(f"{address}?show=nothing&page={page}"))
    assert shown == [row for row in range(2, 122) if row % 10 != 1]


@pytest.mark.parametrize("query", ["show=x&page=0", "show=choice&page=99", "page=-1", "show=%00"])
def test_what_cannot_be_shown_shows_what_there_is(client: Client, query: str) -> None:
    address = looked_at(client, register(rows=120))
    assert rows_on(client.get(f"{address}?{query}"))


def test_what_was_chosen_on_one_page_is_kept_on_the_way_to_the_next(
    client: Client, doing: Doing
) -> None:
    applied(client, looked_at(client, register(rows=120)))
    address = looked_at(client, register(rows=120, name="other"))
    fields = {"answer:change:2": "take", "shown:change:2": "", "to": "show=choice&page=2"}
    turned = client.post(address, fields)
    assert turned["Location"] == f"{address}?show=choice&page=2"
    said = text_of(client.get(turned["Location"]))
    assert "You answered something: look again." in said
    # what nobody looked at is not brought in
    said = text_of(applied(client, address))
    assert "You changed an answer." in said
    assert "1 would be written down." in said
    applied(client, address)
    assert list(Mold.objects.filter(name__startswith="other").values_list("number", flat=True)) == [
        "M-0001"
    ]


def test_a_look_that_is_old_by_now_is_looked_at_anew_before_anything_is_written(
    client: Client, doing: Doing
) -> None:
    address = looked_at(client, register(rows=9))
    add_mold(doing, number="M-0003", name="a lid of ours")
    said = text_of(applied(client, address))
    assert "What is here has changed since you looked." in said
    assert "name: a lid of ours here, part 3 in the file" in said
    assert not ImportBatch.objects.exists()
    assert Mold.objects.count() == 1
    assert "The file is brought in." in text_of(applied(client, address))
    assert Mold.objects.count() == 9
    assert Mold.objects.get(number="M-0003").name == "a lid of ours"


def test_what_changed_beside_the_file_makes_no_look_old(client: Client, doing: Doing) -> None:
    address = looked_at(client, register(rows=9))
    edit_mold(doing, mold=factories.mold(number="0815"), changes={"resin": "PP"})
    assert "The file is brought in." in text_of(applied(client, address))


def test_two_leads_bring_in_one_file_and_every_mold_is_there_once(
    client_of: ClientOf, lead: Person
) -> None:
    one, other = client_of("lead"), Client()
    other.force_login(factories.person(role="lead"))
    addresses = looked_at(one, register(rows=9)), looked_at(other, register(rows=9))
    assert addresses[0] != addresses[1]
    assert "The file is brought in." in text_of(applied(one, addresses[0]))
    said = text_of(applied(other, addresses[1]))
    assert "What is here has changed since you looked." in said
    assert "This very file was brought in before," in said
    assert "0 would be written down." in said
    applied(other, addresses[1])
    assert Mold.objects.count() == 9
    assert [batch.counts for batch in ImportBatch.objects.order_by("id")] == [
        {"accepted": 9},
        {"duplicate": 9},
    ]


def test_a_file_waits_where_it_was_left_when_the_browser_was_closed(
    client: Client, client_of: ClientOf
) -> None:
    address = looked_at(client, register(rows=9))
    again = client_of("lead")
    page = again.get("/import/molds")
    assert "Looked at, and not brought in yet" in text_of(page)
    assert f'href="{address}"' in page.content.decode()
    # the same file once more, or a second tap, goes on with the first
    assert looked_at(again, register(rows=9)) == address
    assert "The file is brought in." in text_of(applied(again, address))
    assert "Looked at, and not brought in yet" not in text_of(again.get("/import/molds"))
    assert not UploadRow.objects.exists()
    assert not UploadLook.objects.exists()


def test_what_was_found_can_be_dropped_and_found_again(client: Client) -> None:
    address = looked_at(client, register(rows=9))
    before = list(UploadRow.objects.values_list("place", "needs", "verdict"))
    UploadRow.objects.all().delete()
    UploadLook.objects.all().delete()
    assert "Look at it again." in text_of(client.get(address))
    # nobody brings in what was not looked at
    applied(client, address)
    assert not Mold.objects.exists()
    assert list(UploadRow.objects.values_list("place", "needs", "verdict")) == before


def test_an_answer_that_fits_nothing_leaves_what_was_found(client: Client) -> None:
    address = looked_at(client, register(rows=9))
    refused = client.post(address, {"look": "1", "answer:column:name": "elephants"})
    assert refused.status_code == 422
    assert "is no meaning of a column" in text_of(refused)
    assert rows_on(refused) == list(range(2, 11))
    assert Upload.objects.get().answers == {}


def test_what_is_kept_of_a_file_comes_back_as_it_was(client: Client, doing: Doing) -> None:
    upload = keep_upload(
        doing, name="sheet.csv", content=b"Mold;Task;Every (shots)\n0417;Xyz;1500\n", kind="rules"
    )
    factories.mold(number="0417")
    look = looks.look_first(doing, upload=upload, zone=ZoneInfo("Europe/Berlin"))
    asked = looks.asked_of(UploadLook.objects.get())
    assert asked == looks.asked_of(look)
    assert json.loads(json.dumps(asked.as_json())) == UploadLook.objects.get().asked
    assert [each.task for each in asked.tasks] == ["Xyz"]
    row = looks.row_of(UploadRow.objects.get())
    assert (row.row, row.mold, row.task, str(row.verdict)) == (2, "0417", "Xyz", "needs_answer")
    assert row.proposals
    assert row.choice_key == "family:xyz"


def test_a_month_of_readings_is_looked_at_in_the_same_way(
    client: Client, lead: Person, doing: Doing
) -> None:
    mold = factories.counted_mold(number="0417", opening_at=doing.now - timedelta(days=90))
    factories.cycle_time(mold, author=lead, standard_s="20.0")
    factories.counter(on=mold, author=lead, at=doing.now - timedelta(days=90), label="C-1")
    start = doing.now - timedelta(days=60)
    lines = [
        f"0417;{start + timedelta(hours=8 * n):%Y-%m-%d %H:%M};{100 * n if n % 20 else 1}"
        for n in range(1, 121)
    ]
    file = SimpleUploadedFile("month.csv", ("Mold;Read at;Count\n" + "\n".join(lines)).encode())
    address = str(client.post("/import", {"file": file})["Location"])
    first = client.get(address)
    assert rows_on(first) == [21, 41, 61, 81, 101, 121]
    assert "need a hand: 6" in text_of(first)
    assert len(rows_on(client.get(f"{address}?show=nothing&page=3"))) == 14
