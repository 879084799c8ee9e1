"""A mold register and a maintenance sheet on their way through the pages."""

import csv
import io
import zipfile
from collections.abc import Callable
from html import unescape
from re import search, sub
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponseBase
from django.test import Client
from openpyxl import Workbook

from moldcare.acts.doing import Doing
from moldcare.acts.molds import edit_mold
from moldcare.care.models import CareRule, Completion
from moldcare.feeds.models import (
    ColumnMatch,
    ImportBatch,
    ImportRow,
    ImportUndone,
    RowMended,
    Upload,
)
from moldcare.molds.models import Mold
from tests import factories

pytestmark = pytest.mark.usefixtures("clock")

ClientOf = Callable[[str], Client]

REGISTER = (
    "Mold no.;Name;Cavities;Class;Mass A (kg);Mass B (kg);Owner;Cycle time (s);Place;Total cycles\n"
    "0417;housing, 12 mm;4;103;412,5;388;Norda Medical;21,5;R-07;182400\n"
    "0418;cap;8;102;95,5;80;Norda Medical;12;R-08;9000\n"
    "0419;lid;many;102;90;80;Sund Optics;12;R-08;100\n"
)
SHEET = (
    "Mold;Task;Every (shots);Last done\n"
    "0417;Clean vents;15000;2026-11-02\n"
    "0418;Grease pins;20000;2026-10-12\n"
    "8888;Clean vents;15000;2026-11-02\n"
)


def text_of(response: HttpResponseBase) -> str:
    body = response.getvalue().decode()  # type: ignore[attr-defined]
    return sub(r"\s+", " ", unescape(sub(r"<[^>]+>", " ", body))).strip()


def looked_at(client: Client, kind: str, content: bytes | str, *, name: str = "x.csv") -> str:
    """Upload a file and return the address where it is looked at."""
    data = content.encode() if isinstance(content, str) else content
    response = client.post(f"/import/{kind}", {"file": SimpleUploadedFile(name, data)})
    assert response.status_code == 302, text_of(response)
    return str(response["Location"])


def applied(client: Client, address: str, **fields: str) -> HttpResponseBase:
    """Send what brings a file in."""
    return client.post(address, {"apply": "1", "hand_in": str(uuid4()), **fields}, follow=True)


@pytest.fixture(autouse=True)
def plant(db: None) -> None:
    """The plant, with nothing in it."""
    factories.plant()


@pytest.fixture
def client(client_of: ClientOf) -> Client:
    return client_of("lead")


@pytest.fixture
def batch(client: Client) -> ImportBatch:
    """The register, brought in: two molds, and a row that was kept."""
    applied(client, looked_at(client, "molds", REGISTER))
    return ImportBatch.objects.get()


def test_a_register_is_looked_at_and_nothing_is_written(client: Client) -> None:
    said = text_of(client.get(looked_at(client, "molds", REGISTER)))
    assert "3 rows were judged; 2 would be written down." in said
    assert "Rack R-07 is made." in said
    assert "mass of the A half" in said
    assert not Mold.objects.exists()
    assert not ImportBatch.objects.exists()


def test_what_is_good_is_brought_in_and_the_rest_waits_to_be_mended(
    client: Client, batch: ImportBatch
) -> None:
    assert set(Mold.objects.values_list("number", flat=True)) == {"0417", "0418"}
    said = text_of(client.get(f"/imports/{batch.pk}"))
    assert "Mend row 4" in said
    assert "many" in said
    assert not Upload.objects.exists()


def test_two_taps_bring_a_register_in_once(client: Client) -> None:
    address = looked_at(client, "molds", REGISTER)
    fields = {"apply": "1", "hand_in": str(uuid4())}
    first, second = client.post(address, fields), client.post(address, fields)
    assert first["Location"] == second["Location"]
    assert ImportBatch.objects.count() == 1


def test_the_same_file_twice_says_what_is_here(client: Client, batch: ImportBatch) -> None:
    said = text_of(client.get(looked_at(client, "molds", REGISTER)))
    assert "This very file was brought in before," in said
    assert "3 rows were judged; 0 would be written down." in said
    assert "already here" in said


def test_what_a_column_means_is_changed_and_remembered(client: Client) -> None:
    content = "Mold;Kennwort;Cavities\n0417;lid;4\n"
    address = looked_at(client, "molds", content)
    page = client.get(address).content.decode()
    assert 'name="shown:column:kennwort" value="rest"' in page
    fields = {"look": "1", "answer:column:kennwort": "name", "shown:column:kennwort": "rest"}
    assert client.post(address, fields).status_code == 302
    applied(client, address)
    assert Mold.objects.get().name == "lid"
    assert ColumnMatch.objects.get().kind == "molds"
    again = client.get(looked_at(client, "molds", content.replace("0417", "0500"))).content.decode()
    assert 'name="shown:column:kennwort" value="name"' in again


def test_a_difference_is_shown_left_and_taken_only_where_chosen(
    client: Client, batch: ImportBatch
) -> None:
    other = REGISTER.replace("housing, 12 mm;4", "housing, 14 mm;4").replace(
        ";12;R-08;9000", ";11;R-08;9000"
    )
    address = looked_at(client, "molds", other)
    page = client.get(address)
    said = text_of(page)
    assert "Different from what is here" in said
    assert "name: housing, 12 mm here, housing, 14 mm in the file" in said
    assert 'name="answer:change:2"' in page.content.decode()
    fields = {"look": "1", "answer:change:2": "take", "shown:change:2": ""}
    assert client.post(address, fields).status_code == 302
    assert "1 would be written down." in text_of(client.get(address))
    applied(client, address)
    assert Mold.objects.get(number="0417").name == "housing, 14 mm"
    assert Mold.objects.get(number="0418").cycle_times.count() == 1


def test_a_choice_that_is_taken_back_is_no_choice(client: Client, batch: ImportBatch) -> None:
    address = looked_at(client, "molds", REGISTER.replace("housing, 12 mm", "housing"))
    client.post(address, {"look": "1", "answer:change:2": "take", "shown:change:2": ""})
    fields = {"answer:change:2": "", "shown:change:2": "take"}
    said = text_of(applied(client, address, **fields))
    assert "You changed an answer." in said
    applied(client, address)
    assert Mold.objects.get(number="0417").name == "housing, 12 mm"


def test_a_kept_row_is_mended_on_the_screen(client: Client, batch: ImportBatch) -> None:
    kept = ImportRow.objects.get()
    address = f"/imports/rows/{kept.pk}"
    page = client.get(address).content.decode()
    cells = {name: unescape(value) for name, value in _inputs(page) if name.startswith("cell_")}
    assert cells["cell_2"] == "many"
    wrong = client.post(address, {**cells, "cell_2": "a few", "hand_in": str(uuid4())})
    assert wrong.status_code == 422
    assert 'value="a few"' in wrong.content.decode()
    assert not Mold.objects.filter(number="0419").exists()
    fields = {**cells, "cell_2": "16", "hand_in": str(uuid4())}
    done = client.post(address, fields)
    assert done.status_code == 302
    mold = Mold.objects.get(number="0419")
    assert (mold.cavity_count, mold.opening_count) == (16, 100)
    assert RowMended.objects.get().row == kept
    # the second of two taps, and somebody who comes later
    assert client.post(address, fields)["Location"] == done["Location"]
    assert "mended already" in text_of(client.get(address, follow=True))
    assert Mold.objects.filter(number="0419").count() == 1
    assert "Mend row 4" not in text_of(client.get(f"/imports/{batch.pk}"))


def _inputs(page: str) -> list[tuple[str, str]]:
    """Names and values of the text fields of a page."""
    found = []
    for tag in page.split("<input")[1:]:
        name, value = search(r'name="([^"]*)"', tag), search(r'value="([^"]*)"', tag)
        if name:
            found.append((name[1], value[1] if value else ""))
    return found


def test_a_maintenance_sheet_becomes_rules_with_when_they_were_last_done(
    client: Client, batch: ImportBatch
) -> None:
    address = looked_at(client, "rules", SHEET)
    said = text_of(client.get(address))
    assert "3 rows were judged; 2 would be written down." in said
    assert "No mold of ours is called 8888 ." in said
    applied(client, address)
    assert CareRule.objects.count() == 2
    assert Completion.objects.count() == 2
    said = text_of(client.get("/molds/0417"))
    assert "Clean vents" in said


def test_a_mold_is_assigned_before_or_after(client: Client, batch: ImportBatch) -> None:
    address = looked_at(client, "rules", SHEET)
    applied(client, address)
    kept = ImportRow.objects.get(batch__kind="rules")
    address = f"/imports/rows/{kept.pk}"
    cells = dict(_inputs(client.get(address).content.decode()))
    cells = {name: value for name, value in cells.items() if name.startswith("cell_")}
    done = client.post(address, {**cells, "cell_0": "0418", "hand_in": str(uuid4())})
    assert done.status_code == 302, text_of(done)
    assert CareRule.objects.filter(mold__number="0418", name="Clean vents").exists()


def test_what_kind_of_care_a_task_is_is_asked_once(client: Client, batch: ImportBatch) -> None:
    content = SHEET.replace("Clean vents", "Xyz").replace("8888", "0418")
    address = looked_at(client, "rules", content)
    page = client.get(address)
    assert text_of(page).count("What kind of care is “Xyz”?") == 1
    fields = {"look": "1", "answer:family:xyz": "inspection", "shown:family:xyz": ""}
    assert client.post(address, fields).status_code == 302
    applied(client, address)
    rules = CareRule.objects.filter(name="Xyz")
    assert {rule.family.key for rule in rules} == {"inspection"}
    assert rules.count() == 2


def test_another_interval_asks_why_and_keeps_what_was_typed(
    client: Client, batch: ImportBatch
) -> None:
    applied(client, looked_at(client, "rules", SHEET))
    address = looked_at(client, "rules", SHEET.replace("15000;", "12000;"))
    assert "Why intervals that are here change" not in text_of(client.get(address))
    fields = {"look": "1", "answer:changes": "take", "shown:changes": ""}
    client.post(address, fields)
    assert "Why intervals that are here change" in text_of(client.get(address))
    refused = applied(client, address)
    assert refused.status_code == 422
    assert "Say why intervals that are here change" in text_of(refused)
    vents = CareRule.objects.get(mold__number="0417")
    assert vents.count_base == 15_000
    client.post(address, {"look": "1", "answer:reason": "they foul sooner"})
    assert 'value="they foul sooner"' in client.get(address).getvalue().decode()
    taken = applied(client, address, **{"answer:reason": "they foul sooner now"})
    assert taken.status_code == 200
    vents.refresh_from_db()
    assert vents.count_base == 12_000
    version = vents.versions.latest("pk")
    assert version.reason.startswith("they foul sooner now (maintenance sheet")
    assert "they foul sooner now" in version.entry.sentence


def test_an_import_is_taken_back_once_with_a_reason(
    client: Client, batch: ImportBatch, doing: Doing
) -> None:
    edit_mold(doing, mold=Mold.objects.get(number="0418"), changes={"resin": "PP"})
    address = f"/imports/{batch.pk}/undo"
    assert "Nothing is deleted." in text_of(client.get(address))
    assert client.post(address, {"reason": " ", "hand_in": str(uuid4())}).status_code == 422
    fields = {"reason": "wrong file", "hand_in": str(uuid4())}
    first = client.post(address, fields)
    assert first.status_code == 302
    assert client.post(address, fields)["Location"] == first["Location"]
    said = text_of(client.get(f"/imports/{batch.pk}"))
    assert "This import was taken back" in said
    assert "wrong file" in said
    assert "Its logbook goes on." in said
    assert list(Mold.objects.filter(withdrawn_at=None).values_list("number", flat=True)) == ["0418"]
    again = client.post(address, {"reason": "once more", "hand_in": str(uuid4())})
    assert again.status_code == 422
    assert "taken back already" in text_of(again)
    assert ImportUndone.objects.count() == 1


def test_what_is_left_is_sent_as_text_that_no_spreadsheet_runs(client: Client) -> None:
    content = REGISTER + '0420;"=HYPERLINK(""http://x"")";many;1;1;1;@SUM(A1);9;+R;-1+1\n'
    applied(client, looked_at(client, "molds", content))
    batch = ImportBatch.objects.get()
    sent = b"".join(client.get(f"/imports/{batch.pk}/kept.csv")).decode()  # type: ignore[arg-type]
    cells = [cell for row in csv.reader(io.StringIO(sent)) for cell in row]
    assert any("HYPERLINK" in cell for cell in cells)
    assert not [cell for cell in cells if cell[:1] in {"=", "@", "\t"}]
    assert not [cell for cell in cells if cell[:1] in "+-" and not cell[1:].isdigit()]


def packed(**parts: bytes) -> bytes:
    """A workbook's zip with these parts; underscores stand for dots, a double one for a folder."""
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w", zipfile.ZIP_DEFLATED) as file:
        file.writestr("[Content_Types].xml", b"<Types/>")
        for name, part in parts.items():
            file.writestr(f"xl/{name.replace('__', '/').replace('_', '.')}", part)
    return content.getvalue()


def with_entities() -> bytes:
    """A workbook whose list of sheets declares entities that name one another."""
    evil = b'<!DOCTYPE x [<!ENTITY a "aaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]>'
    good, bad = io.BytesIO(), io.BytesIO()
    Workbook().save(good)
    with zipfile.ZipFile(good) as read, zipfile.ZipFile(bad, "w") as written:
        for name in read.namelist():
            part = read.read(name)
            written.writestr(name, evil + part if name == "xl/workbook.xml" else part)
    return bad.getvalue()


BOMB = packed(workbook_xml=b"<x/>", worksheets__sheet1_xml=bytes(40_000_000))
HOSTILE = {
    "a workbook that unpacks to gigabytes": (BOMB, "register.xlsx"),
    "a workbook with entities": (with_entities(), "register.xlsx"),
    "a picture": (b"\x89PNG\r\n\x1a\n" + b"0" * 200, "register.csv"),
    "nothing": (b"", "register.csv"),
    "an old workbook": (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"0" * 600, "register.xlsx"),
    "a damaged workbook": (b"PK\x03\x04" + b"0" * 300, "register.xlsx"),
    "a million columns": (b"Mold;" * 1_000_000 + b"\n0417;x\n", "register.csv"),
    "a web page": (b"<!doctype html><table><tr><td>0417</td></tr></table>", "register.csv"),
}


@pytest.mark.parametrize("kind", ["molds", "rules"])
@pytest.mark.parametrize("what", sorted(HOSTILE))
def test_a_file_that_is_none_gets_a_sentence_and_nothing_is_written(
    client: Client, kind: str, what: str
) -> None:
    content, name = HOSTILE[what]
    address = looked_at(client, kind, content, name=name)
    said = text_of(client.get(address))
    assert "It cannot be read like this" in said
    done = applied(client, address)
    assert done.status_code == 422
    assert not ImportBatch.objects.exists()
    assert not Mold.objects.exists()


def test_a_file_too_large_for_a_page_is_sent_to_the_command(
    client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("moldcare.pages.imports.forms.MOST_MEGABYTES", 0)
    response = client.post("/import/molds", {"file": SimpleUploadedFile("x.csv", b"a;b\n1;2\n")})
    assert response.status_code == 422
    assert "import_molds" in text_of(response)
    assert not Upload.objects.exists()


@pytest.mark.parametrize("kind", ["molds", "rules"])
def test_who_does_not_lead_brings_nothing_in(client_of: ClientOf, kind: str) -> None:
    for role in ("reader", "technician", "feed"):
        assert client_of(role).get(f"/import/{kind}").status_code == 403
