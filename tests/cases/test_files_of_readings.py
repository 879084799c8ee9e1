"""Files as spreadsheets and people leave them, brought in by the page: what is stored then.

Kinds of faults are those that public reports about table readers and spreadsheets describe. The
readings that should come in are written beside each file.
"""

import io
import re
import zipfile
from datetime import UTC, datetime
from html import unescape
from uuid import uuid4

import openpyxl
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from moldcare.acts.molds import add_mold
from moldcare.acts.refresh import refresh_counts
from moldcare.counters.models import Reading, Verdict
from moldcare.logbook.models import Entry
from moldcare.molds.models import Mold
from tests import factories
from tests.cases.story import Story

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]

SINCE = "2026-01-05 06:00"


@pytest.fixture
def client(story: Story) -> Client:
    client = Client()
    client.force_login(story.lead)
    return client


def counted(story: Story, *numbers: str, shown: int = 0) -> None:
    """Add molds, each with a counter of its own and a fast cycle."""
    for number in numbers:
        mold = story.mold(number, cycle_s="1", since=SINCE)
        counter = story.counter(mold, label=f"counter of {number}", since=SINCE, shown=shown)
        refresh_counts(counters=[counter.pk], molds=[mold.pk])


def words(answer: object) -> str:
    text = re.sub(r"<[^>]+>", " ", answer.getvalue().decode())  # type: ignore[attr-defined]
    return re.sub(r"\s+", " ", unescape(text)).strip()


def brought(client: Client, content: bytes, *, name: str = "round.csv") -> tuple[str, str]:
    """Bring a file in; return what the page says before and after."""
    answer = client.post("/import", {"file": SimpleUploadedFile(name, content)})
    if answer.status_code != 302:
        return words(answer), ""
    address = str(answer["Location"])
    before = words(client.get(address))
    sent = {"apply": "1", "hand_in": str(uuid4())}
    return before, words(client.post(address, sent, follow=True))


def kept() -> dict[str, list[int]]:
    """The readings that are stored, by mold, in the order of arrival."""
    found: dict[str, list[int]] = {}
    rows = Reading.objects.order_by("id").values_list("counter__label", "value")
    for label, value in rows:
        found.setdefault(label.removeprefix("counter of "), []).append(value)
    return found


def workbook(*rows: tuple[object, ...], formats: dict[str, str] | None = None) -> bytes:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    for row in rows:
        sheet.append(row)
    for cell, form in (formats or {}).items():
        sheet[cell].number_format = form
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


AT = "2026-04-13 06:00"
LATER = "2026-04-13 14:00"


def test_zeros_in_front_make_another_mold(story: Story, client: Client) -> None:
    counted(story, "0417", "417")
    text = f'mold,at,reading\n0417,{AT},100\n"0417",{LATER},200\n417,{AT},7\n'
    brought(client, text.encode())
    assert kept() == {"0417": [100, 200], "417": [7]}


def test_a_number_shown_with_zeros_is_asked_about(story: Story, client: Client) -> None:
    counted(story, "0417", "417")
    rows = [("mold", "at", "reading"), ("0417", AT, 100), (417, LATER, 200)]
    content = workbook(*rows, formats={"A3": "0000"})
    before, after = brought(client, content, name="round.xlsx")
    assert all(f" {number} " in before for number in ("0417", "417"))
    assert kept() == {}
    assert "Answer what is asked first" in after
    assert Mold.objects.count() == 2


def test_a_gap_makes_no_fractions_of_a_column(story: Story, client: Client) -> None:
    counted(story, "417", "9021")
    rows = [
        ("mold", "at", "reading"),
        (417, AT, 12_400),
        (None, AT, 7),
        (9021, AT, 12_450.0),
        (417, LATER, 12_455.5),
    ]
    before, _after = brought(client, workbook(*rows), name="round.xlsx")
    assert "417.0" not in before
    assert kept() == {"417": [12_400], "9021": [12_450]}
    assert re.search(r"\b5\b", before)  # the row of the fraction is named
    assert "12455.5" in before


def test_names_that_a_spreadsheet_damaged_are_not_guessed(story: Story, client: Client) -> None:
    counted(story, "12E5", "1200000", "4501234567890123")
    text = f"mold;at;reading\n12E5;{AT};100\n1.20E+06;{AT};200\n"
    brought(client, text.encode())
    assert kept() == {"12E5": [100]}
    rows = [("mold", "at", "reading"), (4501234567890123, AT, 300)]
    brought(client, workbook(*rows, formats={"A2": "0"}), name="round.xlsx")
    assert kept() == {"12E5": [100]}


@pytest.mark.parametrize(
    "content",
    [
        f"\ufeffmold;at;reading\n0417;{AT};100\n".encode(),
        f"\ufeffmold\tat\treading\r\n0417\t{AT}\t100\r\n".encode("utf-16-le"),
    ],
)
def test_a_mark_before_the_first_heading_hides_no_column(
    story: Story, client: Client, content: bytes
) -> None:
    counted(story, "0417")
    brought(client, content)
    assert kept() == {"0417": [100]}


def test_umlauts_of_the_old_encoding_arrive_as_umlauts(story: Story, client: Client) -> None:
    counted(story, "Düse-7")
    text = f"mold;at;reading;note\nDüse-7;{AT};100;Gehäuse-Düse 4 µm\n"
    before, _after = brought(client, text.encode("cp1252"))
    assert "indows-1252" in before
    assert kept() == {"Düse-7": [100]}
    assert Reading.objects.get().note == "Gehäuse-Düse 4 µm"


def test_one_broken_byte_refuses_the_file_and_names_the_row(story: Story, client: Client) -> None:
    counted(story, "Düse-7")
    good = f"mold;at;reading\nDüse-7;{AT};100\n".encode()
    broken = good + f"Düse-7;{LATER};200 ".encode() + b"\xc3\n"
    before, _after = brought(client, broken)
    assert "Row 3 holds a letter" in before
    assert kept() == {}
    assert "\ufffd" not in "".join(Entry.objects.values_list("sentence", flat=True))


def test_separators_are_not_those_of_the_notes(story: Story, client: Client) -> None:
    counted(story, "0417")
    notes = "washed, dried, oiled, and put back, as usual"
    text = f"mold;at;reading;note\n0417;{AT};100;{notes}\n0417;{LATER};200;{notes}\n"
    brought(client, text.encode())
    assert kept() == {"0417": [100, 200]}
    short_head = "mold;at;reading\n0417;2026-04-14 06:00;300;\n0417;2026-04-14 14:00;400;\n"
    brought(client, short_head.encode())
    assert kept() == {"0417": [100, 200, 300, 400]}
    before, after = brought(client, b"mold\n0417\n0418\n")
    assert "0417" in before + after
    assert kept() == {"0417": [100, 200, 300, 400]}


@pytest.mark.parametrize(
    ("values", "read"),
    [
        (("9.980", "12.400", "12.455"), [9_980, 12_400, 12_455]),
        (("9'980", "12'400", "12'455"), [9_980, 12_400, 12_455]),
        (("9\u202f980", "12\u202f400", "12 455"), [9_980, 12_400, 12_455]),
    ],
)
def test_thousands_are_read_by_the_column(
    story: Story, client: Client, values: tuple[str, ...], read: list[int]
) -> None:
    counted(story, "0417")
    rows = "".join(f"0417;2026-04-1{day};06:00;{value}\n" for day, value in enumerate(values, 3))
    before, after = brought(client, f"mold;date;time;reading\n{rows}".encode())
    assert kept() == {"0417": read}, before + after


def test_a_column_with_points_of_two_meanings_is_asked_about(story: Story, client: Client) -> None:
    counted(story, "0417")
    text = f"mold;at;reading\n0417;{AT};1.234\n0417;{LATER};1.5\n"
    before, after = brought(client, text.encode())
    assert kept() == {}
    assert "1.234" in before
    assert "Answer what is asked first" in after


@pytest.mark.parametrize(
    ("dates", "stored", "said"),
    [
        (("03/08/2026", "26/06/2026"), ["2026-08-03", "2026-06-26"], ""),
        (("03/08/2026", "04/09/2026"), [], "Answer what is asked first"),
        (("26/06/2026", "06/26/2026"), [], ""),
        (("3/8/26",), [], "Answer what is asked first"),
        (("31/02/2026",), [], ""),
    ],
)
def test_dates_are_read_in_one_order_or_asked_about(
    story: Story, client: Client, dates: tuple[str, ...], stored: list[str], said: str
) -> None:
    counted(story, "0417")
    rows = "".join(
        f"0417;{date};06:00;{value}\n" for date, value in zip(dates, (900, 200), strict=False)
    )
    before, after = brought(client, f"mold;date;time;reading\n{rows}".encode())
    found = [f"{row.at:%Y-%m-%d}" for row in Reading.objects.order_by("id")]
    assert found == stored, before
    assert said in after
    if not stored:
        assert all(date in before for date in dates)


def with_sheet(content: bytes, change: tuple[str, str]) -> bytes:
    """Change the text of the first sheet inside a workbook."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(out, "w") as new:
        for each in old.namelist():
            text = old.read(each)
            if each == "xl/worksheets/sheet1.xml":
                changed = re.sub(change[0], change[1], text.decode(), count=1)
                assert changed != text.decode()
                text = changed.encode()
            new.writestr(each, text)
    return out.getvalue()


def test_a_false_note_of_the_sheets_size_hides_no_row(story: Story, client: Client) -> None:
    counted(story, "0417")
    rows = [("0417", datetime(2026, 4, 1 + n // 24, n % 24), 10 * n) for n in range(200)]  # noqa: DTZ001
    content = with_sheet(
        workbook(("mold", "at", "reading"), *rows), (r'dimension ref="[^"]+"', 'dimension ref="A1"')
    )
    before, _after = brought(client, content, name="round.xlsx")
    assert "200 readings would be written down" in before
    assert Reading.objects.count() == 200


def test_formats_down_to_the_last_row_are_no_rows(story: Story, client: Client) -> None:
    counted(story, "0417")
    rows = [("mold", "at", "reading"), ("0417", AT, 100), ("0417", LATER, 200)]
    empty = '<row r="1048576"><c r="A1048576" s="0"/></row></sheetData>'
    content = with_sheet(workbook(*rows), ("</sheetData>", empty))
    before, _after = brought(client, content, name="round.xlsx")
    assert "2 readings would be written down" in before
    assert kept() == {"0417": [100, 200]}


def test_blanks_that_nobody_sees_make_no_second_mold(story: Story, client: Client) -> None:
    counted(story, "0417")
    spelled = ("0417 ", "\u00a00417", "0417\u200b")
    rows = "".join(f"{name};2026-04-1{n} 06:00;{n}00\n" for n, name in enumerate(spelled, 3))
    double = "0417;2026-04-13 06:00;300\n"
    _before, after = brought(client, f"mold;at;reading \n{rows}{double}".encode())
    assert kept() == {"0417": [300, 400, 500]}
    assert "accepted 3 already here 1" in after
    assert Mold.objects.count() == 1


def test_the_same_file_with_two_rows_more_adds_two(story: Story, client: Client) -> None:
    counted(story, "0417")
    row = "0417;2026-04-{day:02} {hour:02}:00;{value}\n".format
    lines = [row(day=1 + n // 5, hour=6 + n % 5, value=100 + 5 * n) for n in range(52)]
    brought(client, ("mold;at;reading\n" + "".join(lines[:50])).encode())
    assert Reading.objects.count() == 50
    _before, after = brought(client, ("mold;at;reading\n" + "".join(lines)).encode())
    assert Reading.objects.count() == 52
    assert "50" in after
    same = "mold;at;reading\n0417;2026-05-01 06:00;900\n0417;2026-05-01 06:00;901\n"
    brought(client, same.encode())
    held = Verdict.objects.filter(reason="contradicts")
    assert held.count() == 1
    assert {*Reading.objects.filter(value__gte=900).values_list("value", flat=True)} == {900, 901}


def test_times_that_the_clocks_showed_twice_or_never_wait_for_a_choice(
    story: Story, client: Client
) -> None:
    counted(story, "0417")
    text = (
        "mold;at;reading\n0417;2026-03-28 06:00;100\n0417;2026-03-29 02:30;200\n"
        "0417;2026-10-25 02:30;700\n"
    )
    before, _after = brought(client, text.encode())
    assert "02:30" in before
    assert all(value not in kept().get("0417", []) for value in (200, 700))


def test_what_a_field_cannot_hold_is_refused_at_every_door(story: Story, client: Client) -> None:
    counted(story, "0417")
    long = "x" * 300
    form = {"number": "0418", "name": long, "cavity_count": "1", "opening_count": "0"}
    answer = client.post("/setup/molds/add", form)
    assert answer.status_code == 422
    assert "120" in words(answer)
    with pytest.raises(Exception, match="120"):
        add_mold(story.doing("2026-11-25 07:12"), number="0418", name=long)
    text = f"mold;at;reading;note\n0417;{AT};100;{long}\n"
    before, after = brought(client, text.encode())
    assert "200" in before + after
    assert all(len(note) <= 200 for note in Reading.objects.values_list("note", flat=True))
    assert Mold.objects.count() == 1


def test_mold_numbers_are_one_whatever_their_case(story: Story, client: Client) -> None:
    for number in ("Düse-7", "DÜSE-8", "A12", "M-10", "M-2"):
        add_mold(story.doing("2026-11-25 07:12"), number=number, name="cap")
    again = {"number": "a12", "name": "cap", "cavity_count": "1", "opening_count": "0"}
    assert client.post("/setup/molds/add", again).status_code == 422
    found = words(client.get("/molds", {"q": "düse"}))
    assert "Düse-7" in found
    assert "DÜSE-8" in found
    assert "A12" not in found
    everything = words(client.get("/molds"))
    order = [everything.index(number) for number in ("A12", "Düse-7", "DÜSE-8", "M-2", "M-10")]
    assert order == sorted(order)


def test_the_last_evening_of_a_month_is_of_that_month_far_from_utc(
    story: Story, client: Client
) -> None:
    factories.plant(zone="America/New_York")
    mold = story.mold("0417", since=SINCE)
    # 31 March at 23:30 in New York
    late = datetime(2026, 4, 1, 3, 30, tzinfo=UTC)
    factories.entry(mold.chain, author=story.lead, at=late, sentence="Flash at cavity 3.")
    march, april = (
        words(client.get("/logbook", {"month": month})) for month in ("2026-03", "2026-04")
    )
    assert "Flash at cavity 3." in march
    assert "31 March 2026" in march
    assert "Flash at cavity 3." not in april
