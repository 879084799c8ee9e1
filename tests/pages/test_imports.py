"""A file of readings on its way through the pages: looked at, asked about, brought in, mended."""

from collections.abc import Callable
from html import unescape
from re import search, sub
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponseBase
from django.test import Client
from django.urls import reverse

from moldcare.counters.models import Counter, Reading
from moldcare.feeds.models import ImportBatch, ImportRow, Upload
from moldcare.files import store
from moldcare.plant.models import Person
from tests import factories
from tests.feeds.tables.reading import example
from tests.feeds.tables.test_examples import REFUSED, TAKEN

pytestmark = pytest.mark.usefixtures("clock")

ClientOf = Callable[[str], Client]


def text_of(response: HttpResponseBase) -> str:
    body = response.getvalue().decode()  # type: ignore[attr-defined]
    return sub(r"\s+", " ", unescape(sub(r"<[^>]+>", " ", body))).strip()


def brought(client: Client, content: bytes | str, *, name: str = "round.csv") -> str:
    """Upload a file and return the address where it is looked at."""
    data = content.encode() if isinstance(content, str) else content
    response = client.post("/import", {"file": SimpleUploadedFile(name, data)})
    assert response.status_code == 302, text_of(response)
    return str(response["Location"])


@pytest.fixture
def counter(lead: Person) -> Counter:
    factories.plant()
    mold = factories.mold(number="0001")
    factories.cycle_time(mold, author=lead, standard_s="20.0")
    return factories.counter(on=mold, author=lead, value_shown=312_000, label="C-0001")


@pytest.fixture
def client(client_of: ClientOf) -> Client:
    return client_of("lead")


GOOD = "mold;at;reading\n0001;2026-04-13 06:00;312440\n0001;2026-04-13 14:00;313265\n"


def test_a_file_is_looked_at_and_nothing_is_written(counter: Counter, client: Client) -> None:
    said = text_of(client.get(brought(client, GOOD)))
    assert "2 readings would be written down." in said
    assert "Nothing is written yet." in said
    assert "by its heading “reading”" in said
    assert not Reading.objects.exists()
    assert not ImportBatch.objects.exists()


def test_what_is_good_is_brought_in_and_the_file_is_thrown_away(
    counter: Counter, client: Client
) -> None:
    address = brought(client, GOOD)
    sha256 = Upload.objects.get().sha256
    response = client.post(address, {"apply": "1", "hand_in": str(uuid4())}, follow=True)
    assert "The file is brought in." in text_of(response)
    assert Reading.objects.filter(counter=counter, source="file").count() == 2
    assert not Upload.objects.exists()
    assert not store.path_of(sha256).exists()


def test_two_taps_bring_a_file_in_once(counter: Counter, client: Client) -> None:
    address = brought(client, GOOD)
    fields = {"apply": "1", "hand_in": str(uuid4())}
    first, second = client.post(address, fields), client.post(address, fields)
    assert first["Location"] == second["Location"]
    assert ImportBatch.objects.count() == 1


def test_an_order_of_dates_is_asked_and_waited_for(counter: Counter, client: Client) -> None:
    content = "mold;date;time;reading\n0001;03/04/2026;06:00;312440\n"
    address = brought(client, content)
    said = text_of(client.get(address))
    assert "Which day is “03/04/2026” in row 2?" in said
    assert "A question is open below." in said
    refused = client.post(address, {"apply": "1", "hand_in": str(uuid4())})
    assert "Answer what is asked first" in text_of(refused)
    assert not Reading.objects.exists()
    assert client.post(address, {"look": "1", "answer:dates": "day_first"}).status_code == 302
    assert "1 reading would be written down." in text_of(client.get(address))
    client.post(address, {"apply": "1", "hand_in": str(uuid4())})
    assert str(Reading.objects.get().at.date()) == "2026-04-03"


def test_an_answer_that_nobody_looked_at_is_shown_before_anything_is_brought_in(
    counter: Counter, client: Client
) -> None:
    address = brought(client, GOOD.replace("0001", "WZ 1"))
    fields = {"apply": "1", "answer:is:mold:WZ 1": "0001", "hand_in": str(uuid4())}
    said = text_of(client.post(address, fields, follow=True))
    assert "You changed an answer." in said
    assert "2 readings would be written down." in said
    assert not Reading.objects.exists()
    done = client.post(address, {"apply": "1", "hand_in": str(uuid4())}, follow=True)
    assert "The file is brought in." in text_of(done)
    assert Reading.objects.filter(counter=counter, source="file").count() == 2


def test_what_was_taken_for_granted_and_stands_as_shown_is_no_new_answer(
    counter: Counter, client: Client
) -> None:
    address = brought(client, "Werkzeug;at;reading;Bemerkung\n0001;2026-04-13 06:00;312440;Früh\n")
    fields = {
        "apply": "1",
        "answer:encoding": "utf-8",
        "shown:encoding": "utf-8",
        "answer:is:mold:x": "",
        "hand_in": str(uuid4()),
    }
    done = client.post(address, fields, follow=True)
    assert "The file is brought in." in text_of(done)


def test_columns_are_matched_by_hand_and_the_match_is_remembered(
    counter: Counter, client: Client
) -> None:
    content = "mold;at;reading;Gesamtstand\n0001;2026-04-13 06:00;7;312440\n"
    address = brought(client, content)
    page = client.get(address).content.decode()
    assert 'name="shown:column:gesamtstand" value="rest"' in page
    answers = {
        "look": "1",
        "answer:column:reading": "rest",
        "shown:column:reading": "value",
        "answer:column:gesamtstand": "value",
        "shown:column:gesamtstand": "rest",
        "answer:column:mold": "mold",
        "shown:column:mold": "mold",
    }
    assert client.post(address, answers).status_code == 302
    assert Upload.objects.get().answers == {
        "column:reading": "rest",
        "column:gesamtstand": "value",
    }
    client.post(address, {"apply": "1", "hand_in": str(uuid4())})
    assert Reading.objects.get().value == 312_440
    later = brought(client, content.replace("04-13", "04-14").replace("312440", "312990"))
    assert "as in an earlier file" in text_of(client.get(later))


def test_rows_that_are_not_good_are_kept_and_saved_for_mending(
    counter: Counter, client: Client
) -> None:
    content = f"{GOOD}0001;2026-04-14 06:00;1.217.40\n8888;2026-04-14 06:00;=1+1\n"
    content += "9999;2026-04-14 06:00;100\n"
    address = brought(client, content)
    said = text_of(client.get(address))
    assert "1.217.40" in said
    assert "No mold of ours is called 9999" in said
    done = client.post(address, {"apply": "1", "hand_in": str(uuid4())}, follow=True)
    assert "Save 3 rows for mending" in text_of(done)
    batch = ImportBatch.objects.get()
    sent = client.get(reverse("import-kept", kwargs={"pk": batch.pk}))
    saved = b"".join(sent.streaming_content).decode("utf-8-sig")  # type: ignore[attr-defined]
    assert saved.splitlines()[0].startswith("mold,at,reading,")
    assert "0001,2026-04-14 06:00,1.217.40,refused" in saved
    assert ",'=1+1," in saved
    assert sent["Content-Disposition"] == f'attachment; filename="kept-{batch.pk}.csv"'
    mended = saved.replace("1.217.40", "315000")
    again = brought(client, mended)
    client.post(again, {"apply": "1", "hand_in": str(uuid4())})
    assert Reading.objects.filter(counter=counter, value=315_000).exists()


def test_a_name_that_is_not_ours_is_assigned(counter: Counter, client: Client) -> None:
    address = brought(client, GOOD.replace("0001", "WZ 1"))
    page = client.get(address).content.decode()
    assert search(r'name="answer:is:mold:WZ 1"', page)
    client.post(address, {"look": "1", "answer:is:mold:WZ 1": "0001"})
    assert "2 readings would be written down." in text_of(client.get(address))


def test_the_same_file_is_said_to_have_been_here(counter: Counter, client: Client) -> None:
    client.post(brought(client, GOOD), {"apply": "1", "hand_in": str(uuid4())})
    said = text_of(client.get(brought(client, GOOD)))
    assert "This very file was brought in before" in said
    assert "0 readings would be written down." in said


def test_estimates_are_taken_once_somebody_says_so(counter: Counter, client: Client) -> None:
    address = brought(client, "mold;at;reading\n0001;2026-04-13 06:00;ca. 313000\n")
    assert "Take what the file calls about, as estimates" in text_of(client.get(address))
    client.post(address, {"look": "1", "answer:estimates": "take"})
    client.post(address, {"apply": "1", "hand_in": str(uuid4())})
    assert Reading.objects.get().source == "estimated"


@pytest.mark.parametrize("name", sorted({*TAKEN, *REFUSED}))
def test_every_kind_of_example_file_is_shown_without_a_fault(
    name: str, counter: Counter, client: Client
) -> None:
    response = client.get(brought(client, example(name), name=name))
    assert response.status_code == 200
    if name in REFUSED:
        assert "It cannot be read like this" in text_of(response)
    assert not Reading.objects.exists()


@pytest.mark.parametrize(
    "answers",
    [
        {"answer:column:reading": "nonsense"},
        {"answer:encoding": "klingon"},
        {"answer:time_of_day": "25:99"},
        {"answer:heading": "77"},
        {"answer:sheet": "Nope", "answer:delimiter": "pipe"},
    ],
)
def test_an_answer_that_fits_nothing_is_said_and_not_kept(
    answers: dict[str, str], counter: Counter, client: Client
) -> None:
    address = brought(client, GOOD)
    response = client.post(address, {"look": "1", **answers})
    assert response.status_code in (302, 422)
    if response.status_code == 422:
        assert Upload.objects.get().answers == {}
    assert client.get(address).status_code == 200


def test_a_file_can_be_left(counter: Counter, client: Client) -> None:
    address = brought(client, GOOD)
    assert client.post(address, {"leave": "1"}).status_code == 302
    assert not Upload.objects.exists()
    assert client.get(address).status_code == 404


def test_without_a_file_the_form_says_so(client: Client) -> None:
    factories.plant()
    response = client.post("/import", {})
    assert response.status_code == 422
    assert "Choose a file first." in text_of(response)


def test_nobody_else_sees_a_file_that_is_being_looked_at(
    counter: Counter, client: Client, client_of: ClientOf
) -> None:
    address = brought(client, GOOD)
    assert client_of("manager").get(address).status_code == 404
    assert client_of("technician").get("/import").status_code == 403


def test_a_kept_row_is_mended_on_the_screen(counter: Counter, client: Client) -> None:
    content = GOOD + "0001;2026-04-13 22:00;many\n"
    client.post(brought(client, content), {"apply": "1", "hand_in": str(uuid4())})
    kept = ImportRow.objects.get()
    address = f"/imports/rows/{kept.pk}"
    said = text_of(client.get(address))
    assert "Mend row 4" in said
    cells = {"cell_0": "0001", "cell_1": "2026-04-13 22:00", "hand_in": str(uuid4())}
    wrong = client.post(address, {**cells, "cell_2": "a few"})
    assert wrong.status_code == 422
    assert 'value="a few"' in wrong.content.decode()
    fields = {**cells, "cell_2": "314100"}
    first, second = client.post(address, fields), client.post(address, fields)
    assert first.status_code == 302, text_of(first)
    assert first["Location"] == second["Location"]
    assert Reading.objects.filter(counter=counter, value=314_100).count() == 1
    assert ImportBatch.objects.count() == 2
    assert "Mend row" not in text_of(client.get(f"/imports/{kept.batch_id}"))


def test_a_kept_row_of_a_mold_that_is_not_ours_is_assigned(
    counter: Counter, client: Client
) -> None:
    content = GOOD + "WZ 1;2026-04-13 22:00;314100\n"
    client.post(brought(client, content), {"apply": "1", "hand_in": str(uuid4())})
    kept = ImportRow.objects.get()
    cells = {"cell_0": "0001", "cell_1": "2026-04-13 22:00", "cell_2": "314100"}
    done = client.post(f"/imports/rows/{kept.pk}", {**cells, "hand_in": str(uuid4())})
    assert done.status_code == 302, text_of(done)
    assert Reading.objects.filter(counter=counter, value=314_100).exists()
