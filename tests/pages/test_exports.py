"""The page of exports: lists as files, the plant as an archive, and who may have what."""

import csv
import io
import json
import re
import tracemalloc
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.core.management import CommandError, call_command
from django.db import connection, transaction
from django.http import HttpResponseBase
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from openpyxl import load_workbook

from moldcare.acts.refresh import refresh_counts
from moldcare.acts.rights import may
from moldcare.bulk import insert_values
from moldcare.counters.models import Counter, Reading
from moldcare.feeds.archive import read_archive
from moldcare.feeds.export.delimited import csv_lines
from moldcare.feeds.export.lists import LISTS, SUBJECTS
from moldcare.feeds.export.shapes import Asked
from moldcare.logbook.models import Entry
from moldcare.molds.models import (
    Block,
    Cavity,
    Circuit,
    Component,
    Fitting,
    Mold,
    Position,
    Run,
    Supply,
)
from moldcare.pages.exports import saving
from moldcare.plant.models import Person
from moldcare.plant.queries import the_calendar, the_plant
from moldcare.production.models import InterruptionEnd
from tests import factories
from tests.feeds.archive.plants import another_database, another_store
from tests.pages.routes import routes, sample_path, signed_in
from tests.pages.small_world import World, enlarge, small_world

BERLIN = ZoneInfo("Europe/Berlin")
EMPTY_IN_THE_SMALL_WORLD = {"held", "deferrals", "cavities", "rates", "trainings"}
IN_IT = "Serial number in it"
NOW = factories.ENTERED_AT + timedelta(days=10)
EXPORT_LINK = re.compile(r'href="/exports/([a-z-]+)\.(csv|xlsx)')


@pytest.fixture
def world(db: None) -> World:
    return small_world()


def content_of(answer: HttpResponseBase) -> bytes:
    """What is sent, piece by piece."""
    assert answer.streaming
    pieces: Any = answer.streaming_content  # type: ignore[attr-defined]
    return b"".join(pieces)


def address(name: str, *, format: str = "csv", **asked: str) -> str:
    query = "&".join(f"{key}={value}" for key, value in asked.items())
    return reverse("export-list", kwargs={"name": name, "format": format}) + f"?{query}"


def csv_rows(answer: HttpResponseBase, *, separator: str = ",") -> list[dict[str, str]]:
    text = content_of(answer).decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text, newline=""), delimiter=separator))


def row_of(answer: HttpResponseBase, **said: str) -> dict[str, str]:
    """The row that says this."""
    return next(row for row in csv_rows(answer) if said.items() <= row.items())


@pytest.mark.parametrize("format", ["csv", "xlsx"])
@pytest.mark.parametrize("name", list(LISTS))
def test_every_list_is_a_file_with_a_row_for_each_thing(
    world: World, client_of: Callable[[str], Client], name: str, format: str
) -> None:
    with time_machine.travel(NOW, tick=False):
        answer = client_of("manager").get(address(name, format=format))
    assert answer.status_code == 200
    assert f'filename="{name}-' in answer.headers["Content-Disposition"]
    if format == "csv":
        rows = [list(row.values()) for row in csv_rows(answer)]
    else:
        sheet = load_workbook(io.BytesIO(content_of(answer))).active
        assert sheet is not None
        assert [cell.value for cell in sheet[1]] == [str(each) for each in LISTS[name].headings]
        rows = [[cell.value for cell in row] for row in sheet.iter_rows(min_row=2)]
    assert bool(rows) or name in EMPTY_IN_THE_SMALL_WORLD, name
    assert all(len(row) == len(LISTS[name].headings) for row in rows)


def test_molds_say_what_they_are_and_where(
    world: World, client_of: Callable[[str], Client]
) -> None:
    row = csv_rows(client_of("reader").get(address("molds")))[0]
    mold = Mold.objects.order_by("sort_key")[0]
    assert (row["Mold"], row["Name"]) == (mold.number, mold.name)
    assert row["Place"] == world.press.number
    assert row["Cycles"] == str(mold.life.cycles)
    assert row["Entered"] == mold.entered_at.astimezone(BERLIN).isoformat()


def test_small_lists_say_what_belongs_together(
    world: World, client_of: Callable[[str], Client]
) -> None:
    mold, other = world.mold, factories.mold()
    supply = Supply.objects.create(number="S-77", name="grease", unit="g", minimum=Decimal("2.5"))
    supply.molds.set([mold, other])
    circuit = Circuit.objects.create(
        mold=mold, ident="A77", half="A", bubblers=2, couplings="9 mm", bore_mm=Decimal("8.00")
    )
    for place, number in ((2, "B2"), (1, "B1")):
        circuit.items.create(place=place, kind="bubbler", number=number)
    serial = Component.objects.create(serial="K-77", name="core")
    position = Position.objects.create(mold=mold, ident="core 1")
    for at, where in ((1, None), (2, position)):
        Fitting.objects.create(
            component=serial,
            position=where,
            at=factories.ENTERED_AT + timedelta(days=at),
            person=world.people["technician"],
            written_at=factories.ENTERED_AT + timedelta(days=at),
        )
    client = client_of("reader")
    found = row_of(client.get(address("supplies")), Supply="S-77")
    assert found["Molds"] == ", ".join(sorted([mold.number, other.number]))
    assert (found["Supply"], found["Minimum on the shelf"]) == ("S-77", "2.50")
    found = row_of(client.get(address("circuits")), Circuit="A77")
    assert (found["Mold"], found["Circuit"], found["Half"]) == (mold.number, "A77", "A half")
    assert (found["Along the path"], found["Couplings"]) == ("bubbler B1, bubbler B2", "9 mm")
    found = row_of(client.get(address("components")), Name="core")
    assert (found["Mold"], found["Position"]) == (mold.number, "core 1")
    found = row_of(client.get(address("counters")), Counter=world.counter.label)
    assert found["Mold"] == mold.number or found["Press"] == world.press.number
    assert int(found["Newest reading"]) == world.counter.total.newest_value


def test_orders_and_work_say_what_became_of_them(
    world: World, client_of: Callable[[str], Client]
) -> None:
    client = client_of("reader")
    found = row_of(client.get(address("orders")), Order=str(world.order.number))
    assert found["Mold"] == world.order.mold.number
    assert (found["State"], found["Tasks"]) == (
        str(world.order.state.label),
        str(world.order.tasks.count()),
    )
    work = csv_rows(client.get(address("completions")))
    assert str(world.completion.entry.number) in {row["Entry"] for row in work}
    entries = csv_rows(client.get(address("entries")))
    assert {row["Hash"] for row in entries} == set(Entry.objects.values_list("hash", flat=True))


def test_rules_say_where_they_stand(world: World, client_of: Callable[[str], Client]) -> None:
    row = csv_rows(client_of("technician").get(address("rules")))[0]
    assert (row["Mold"], row["Task"]) == (world.mold.number, world.rule.name)
    assert row["State"] in {"not due", "due soon", "due", "overdue", "past limit", "unsure"}
    assert row["Every ... counts"] == str(world.rule.count_base)


def test_readings_are_those_of_the_span_on_the_plant_s_clocks(
    db: None, client_of: Callable[[str], Client], lead: Person
) -> None:
    factories.plant()
    counter = Counter.objects.create(label="C1")
    midnight = datetime(2026, 3, 2, 0, 0, tzinfo=BERLIN).astimezone(UTC)
    for value, at in enumerate(
        [midnight - timedelta(seconds=1), midnight, midnight + timedelta(days=1, seconds=-1)]
    ):
        Reading.objects.create(
            counter=counter, at=at, value=value, source="typed", person=lead, written_at=at
        )
    client = client_of("reader")
    day = {"since": "2026-03-02", "until": "2026-03-02"}
    assert [row["Reading"] for row in csv_rows(client.get(address("readings", **day)))] == [
        "1",
        "2",
    ]
    until = client.get(address("readings", until="2026-03-01"))
    assert [row["Reading"] for row in csv_rows(until)] == ["0"]
    since = csv_rows(client.get(address("readings", since="2026-03-02")))
    assert since[0]["Date and time"] == "2026-03-02T00:00:00+01:00"


def test_texts_of_people_never_become_formulas(
    world: World, client_of: Callable[[str], Client]
) -> None:
    """A finding `=1+1`, a note `-see sheet`, a name `@Meier`."""
    meier = factories.person(role="technician", name="@Meier")
    at = factories.ENTERED_AT + timedelta(days=1)
    stop = factories.interruption(
        world.mold, press=world.press, author=meier, at=at, finding="=1+1"
    )
    end = factories.entry(world.mold.chain, author=meier)
    InterruptionEnd.objects.create(
        interruption=stop,
        from_at=at,
        to_at=at + timedelta(hours=1),
        cause="-see sheet",
        person=meier,
        entry=end,
        written_at=at,
    )
    client = client_of("reader")
    row = next(
        row for row in csv_rows(client.get(address("interruptions"))) if row["Finding"] == "'=1+1"
    )
    said = (row["Finding"], row["Cause"], row["Reported by"])
    assert said == ("'=1+1", "'-see sheet", "'@Meier")
    content = content_of(client.get(address("interruptions", format="xlsx")))
    sheet = load_workbook(io.BytesIO(content)).active
    assert sheet is not None
    cells = [cell for line in sheet.iter_rows() for cell in line]
    assert "f" not in {cell.data_type for cell in cells}
    assert {"=1+1", "-see sheet", "@Meier"} <= {cell.value for cell in cells}


@pytest.mark.parametrize("role", ["reader", "technician", "lead", "manager"])
def test_every_list_is_offered_beside_what_it_lists(world: World, role: str) -> None:
    """On another page than that of all lists, as both kinds of file, to whoever may have it."""
    client, offered = signed_in(role, world=world), set()
    for route in routes():
        if route.is_admin or route.name == "exports":
            continue
        with transaction.atomic():
            answer = client.get(sample_path(route, world=world))
            if answer.status_code == 200 and not answer.streaming:
                offered |= set(EXPORT_LINK.findall(answer.content.decode(errors="replace")))
            transaction.set_rollback(True)
    person = world.people[role]
    mine = {name for name, shape in LISTS.items() if may(person, shape.right)}
    if role in ("reader", "technician"):
        # they see the parts of a mold on its page, which is no list of all
        mine -= {"positions", "components", "cavities", "configurations", "circuits"}
    assert offered == {(name, format) for name in mine for format in ("csv", "xlsx")}


@pytest.mark.parametrize("role", ["reader", "technician", "lead", "manager"])
def test_every_list_that_is_offered_is_given(
    world: World, client_of: Callable[[str], Client], role: str
) -> None:
    client = client_of(role)
    offered = EXPORT_LINK.findall(client.get(reverse("exports")).content.decode())
    assert {name for name, _format in offered} >= {"molds", "rules", "due", "held", "entries"}
    for name, format in offered:
        assert client.get(address(name, format=format)).status_code == 200
    for name in LISTS.keys() - {name for name, _format in offered}:
        assert client.get(address(name)).status_code == 403


def test_lists_are_grouped_by_whether_a_span_is_asked_for_them() -> None:
    assert [name for subject in SUBJECTS for name in (each.name for each in subject.lists)] == list(
        LISTS
    )
    for subject in SUBJECTS:
        assert len({shape.is_long for shape in subject.lists}) == 1, subject.key


@pytest.mark.parametrize("name", list(LISTS))
def test_a_list_asks_no_more_questions_of_a_larger_plant(world: World, name: str) -> None:
    def questions() -> int:
        asked = Asked(now=NOW, calendar=the_calendar(the_plant()))
        with CaptureQueriesContext(connection) as found:
            list(LISTS[name].rows(asked))
        return len(found)

    before = questions()
    enlarge(world, by=3)
    assert questions() == before


def test_what_is_due_is_listed_with_where_the_mold_is(
    world: World, client_of: Callable[[str], Client]
) -> None:
    """Of the rules that the Shift page shows, and of no others."""
    factories.care_rule(mold=world.mold, name="Not for years", count_base=90_000_000)
    refresh_counts(molds=[world.mold.pk])
    rows = csv_rows(client_of("reader").get(address("due")))
    assert world.rule.name in {row["Task"] for row in rows}
    assert "Not for years" not in {row["Task"] for row in rows}
    assert not {row["State"] for row in rows} & {"not due", "waiting"}
    found = next(row for row in rows if row["Task"] == world.rule.name)
    assert found["Place"] == str(world.press)
    everything = csv_rows(client_of("reader").get(address("rules")))
    assert "Not for years" in {row["Task"] for row in everything}


def test_held_readings_say_why_and_on_what(
    world: World, client_of: Callable[[str], Client]
) -> None:
    at = factories.ENTERED_AT + timedelta(hours=24)
    factories.readings(world.counter, rows=[(at, 5)], author=world.people["lead"])
    refresh_counts(counters=[world.counter.pk], molds=[world.mold.pk])
    [row] = csv_rows(client_of("reader").get(address("held")))
    assert (row["Mold"], row["Counter"]) == (world.mold.number, world.counter.label)
    assert (row["Reading"], row["Why held"]) == ("5", "goes backwards")
    assert row["Date and time"] == at.astimezone(BERLIN).isoformat()


def test_parts_say_what_sits_where_and_what_is_blocked(
    world: World, client_of: Callable[[str], Client]
) -> None:
    """A component that moved on is listed where it is, and not where it was."""
    mold, lead = world.mold, world.people["lead"]
    for day, where in ((1, world.position), (2, Position.objects.create(mold=mold, ident="C2"))):
        at = factories.ENTERED_AT + timedelta(days=day)
        Fitting.objects.create(
            component=world.component, position=where, at=at, person=lead, written_at=at
        )
    client = client_of("reader")
    of_mold = {"Mold": mold.number}
    assert row_of(client.get(address("positions")), **of_mold, Position="C1")[IN_IT] == ""
    assert row_of(client.get(address("positions")), **of_mold, Position="C2")[IN_IT] == "P-1"
    for ident, is_blocked in (("B1", True), ("B2", False)):
        cavity = Cavity.objects.create(mold=mold, ident=ident)
        if is_blocked:
            Block.objects.create(
                cavity=cavity, at=at, is_blocked=True, reason="burr", person=lead, written_at=at
            )
    first = row_of(client.get(address("cavities")), **of_mold, Cavity="B1")
    assert (first["Blocked"], first["Why"]) == ("yes", "burr")
    assert row_of(client.get(address("cavities")), **of_mold, Cavity="B2")["Blocked"] == "no"


def test_what_was_called_off_or_is_over_is_no_planned_run(
    world: World, client_of: Callable[[str], Client]
) -> None:
    numbers = {}
    for name, days, is_called_off in (("over", -3, False), ("off", 3, True), ("ahead", 3, False)):
        mold = factories.mold()
        numbers[mold.number] = name
        Run.objects.create(
            mold=mold,
            press=world.press,
            planned_from=NOW + timedelta(days=days),
            planned_to=NOW + timedelta(days=days + 1),
            is_called_off=is_called_off,
        )
    with time_machine.travel(NOW, tick=False):
        rows = csv_rows(client_of("reader").get(address("runs")))
    found = {numbers[row["Mold"]] for row in rows if row["Mold"] in numbers}
    assert found == {"ahead"}


def test_rates_are_the_manager_s_and_what_people_may_do_a_lead_s(
    world: World, client_of: Callable[[str], Client]
) -> None:
    """Who may have a list is who may see its page."""
    for name, page in (("rates", "setup-rates"), ("people", "setup-people")):
        for role in ("reader", "technician", "lead", "manager"):
            client = client_of(role)
            seen = client.get(reverse(page)).status_code
            assert client.get(address(name)).status_code == seen, (name, role)


def test_whoever_may_look_may_save_and_the_plant_is_the_manager_s(
    world: World, client_of: Callable[[str], Client]
) -> None:
    for role in ("reader", "technician", "lead", "manager"):
        client = client_of(role)
        page = client.get(reverse("exports"))
        assert page.status_code == 200
        is_manager = role == "manager"
        assert (reverse("export-plant") in page.content.decode()) == is_manager
        assert client.get(reverse("export-plant")).status_code == (200 if is_manager else 403)
        assert client.get(address("readings")).status_code == 200
    assert client_of("feed").get(reverse("exports")).status_code == 403
    assert client_of("feed").get(address("molds")).status_code == 403


def test_no_secret_is_in_the_list_of_people(
    world: World, client_of: Callable[[str], Client]
) -> None:
    person = factories.person(pin="4711 0815", name="Somebody")
    text = content_of(client_of("manager").get(address("people"))).decode()
    assert "Somebody" in text
    for secret in (person.password, person.pin_hash):
        assert secret
        assert secret not in text


@pytest.mark.parametrize(("language", "line"), [("en", "R-9,A rack,,yes"), ("de", "R-9;A rack;;")])
def test_the_signs_are_those_of_the_person_s_language_or_those_chosen(
    world: World, language: str, line: str
) -> None:
    factories.spot(kind="rack", number="R-9", name="A rack")
    client = Client()
    client.force_login(factories.person(role="reader", language=language))
    assert line in content_of(client.get(address("spots"))).decode()
    other = {"en": "semicolon", "de": "comma"}[language]
    swapped = line.translate(str.maketrans(",;", ";,"))[:12]
    assert swapped in content_of(client.get(address("spots", signs=other))).decode()


@pytest.mark.parametrize(
    ("asked", "sentence"),
    [
        ({"since": "yesterday"}, "Enter a valid date."),
        ({"since": "2026-02-30"}, "Enter a valid date."),
        ({"since": "0001-01-01"}, "No plant keeps records of that year."),
        ({"until": "9999-12-31"}, "No plant keeps records of that year."),
        ({"since": "2026-03-02", "until": "2026-03-01"}, "ends before it begins"),
        ({"signs": "tab"}, "Select a valid choice."),
    ],
)
@pytest.mark.parametrize("name", ["exports", "export-list"])
def test_a_span_that_is_none_is_said_and_kept(
    world: World,
    client_of: Callable[[str], Client],
    name: str,
    asked: dict[str, str],
    sentence: str,
) -> None:
    kwargs = {} if name == "exports" else {"name": "readings", "format": "csv"}
    answer = client_of("reader").get(reverse(name, kwargs=kwargs), asked)
    assert answer.status_code == 422
    text = answer.content.decode()
    assert sentence in text
    if "signs" not in asked:
        assert all(f'value="{value}"' in text for value in asked.values())


def test_what_was_chosen_goes_along_with_every_link(
    world: World, client_of: Callable[[str], Client]
) -> None:
    asked = {"since": "2026-01-01", "until": "2026-11-25", "signs": "semicolon"}
    text = client_of("reader").get(reverse("exports"), asked).content.decode()
    assert "readings.csv?since=2026-01-01&amp;until=2026-11-25&amp;signs=semicolon" in text


def test_a_workbook_of_too_many_rows_is_refused_with_what_to_do(
    world: World, client_of: Callable[[str], Client], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(saving, "MOST_ROWS_OF_A_WORKBOOK", Reading.objects.count() - 1)
    client = client_of("reader")
    answer = client.get(address("readings", format="xlsx"))
    assert answer.status_code == 422
    assert "export_list readings" in answer.content.decode()
    assert client.get(address("readings")).status_code == 200
    monkeypatch.setattr(saving, "MOST_ROWS_OF_A_WORKBOOK", Reading.objects.count())
    assert client.get(address("readings", format="xlsx")).status_code == 200


@pytest.mark.parametrize("ending", ["nothing.csv", "molds.pdf", "molds.exe"])
def test_a_list_or_a_form_that_is_not_there_is_not_found(
    world: World, client_of: Callable[[str], Client], ending: str
) -> None:
    assert client_of("manager").get(f"/exports/{ending}").status_code == 404


def test_the_archive_from_the_page_is_read_back(
    fresh_db: None, tmp_path: Any, client_of: Callable[[str], Client]
) -> None:
    with another_database(), another_store(tmp_path / "here"):
        number = small_world().mold.number
        answer = client_of("manager").get(reverse("export-plant"))
        assert answer.headers["Content-Type"] == "application/zip"
        archive = content_of(answer)
    with another_database(), another_store(tmp_path / "there"):
        assert read_archive(io.BytesIO(archive)).difference == ""
        assert Mold.objects.filter(number=number).exists()


def test_readings_are_streamed_in_bounded_memory(db: None, lead: Person) -> None:
    """Twice as many rows need no more memory at once: what is sent is not kept."""
    factories.plant()
    counter = Counter.objects.create(label="C1")

    def add(rows: range) -> None:
        insert_values(
            Reading,
            ("counter", "at", "value", "source", "person", "note", "written_at"),
            (
                (
                    counter.pk,
                    f"2026-01-01 00:{n // 60 % 60:02}:{n % 60:02}",
                    n,
                    "file",
                    lead.pk,
                    "",
                    at,
                )
                for n in rows
            ),
        )

    at = "2026-01-02 00:00:00"

    def peak() -> int:
        asked = Asked(now=datetime(2026, 2, 1, tzinfo=UTC), calendar=the_calendar(the_plant()))
        shape = LISTS["readings"]
        tracemalloc.start()
        for _lines in csv_lines(shape, rows=shape.rows(asked), zone=BERLIN):
            pass
        most = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return most

    add(range(10_000))
    first = peak()
    add(range(10_000, 30_000))
    assert peak() < first * 1.3


def test_lists_are_given_before_they_are_read_to_the_end(
    world: World, client_of: Callable[[str], Client]
) -> None:
    answer = client_of("reader").get(address("readings"))
    pieces: Any = answer.streaming_content  # type: ignore[attr-defined]
    assert next(iter(pieces)).startswith(b"\xef\xbb\xbf")


def test_the_command_writes_the_same_file_as_the_page(
    world: World, client_of: Callable[[str], Client], tmp_path: Any
) -> None:
    with time_machine.travel(datetime(2026, 11, 25, 6, 12, tzinfo=UTC), tick=False):
        for name in LISTS:
            out = tmp_path / f"{name}.csv"
            call_command("export_list", name, out=out, stdout=io.StringIO())
            assert out.read_bytes() == content_of(client_of("manager").get(address(name))), name
    book = tmp_path / "molds.xlsx"
    call_command("export_list", "molds", out=book, format="xlsx", stdout=io.StringIO())
    assert load_workbook(book).active["A1"].value == "Mold"


@pytest.mark.parametrize("ending", ["csv", "xlsx"])
def test_readings_that_are_brought_in_again_change_nothing(
    world: World, tmp_path: Any, ending: str
) -> None:
    """Our own list is read without a question, and every row of it is here already."""
    lead = factories.person(role="lead", badge="4711")
    file, out = tmp_path / f"readings.{ending}", io.StringIO()
    call_command("export_list", "readings", out=file, format=ending, stdout=io.StringIO())
    call_command(
        "import_readings",
        str(file),
        *("--dry-run", "--format", "json", "--as", str(lead.badge)),
        stdout=out,
    )
    verdicts = [json.loads(line)["verdict"] for line in out.getvalue().splitlines()]
    assert verdicts == ["duplicate"] * Reading.objects.count()


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        ({"since": "soon"}, "is no date"),
        ({"since": "1066-10-14"}, "No plant keeps records"),
        ({"since": "2026-03-02", "until": "2026-03-01"}, "ends before it begins"),
        ({"out": "nowhere/x.csv"}, "cannot be written"),
    ],
)
def test_what_the_command_cannot_do_it_says(
    db: None, tmp_path: Any, options: dict[str, str], sentence: str
) -> None:
    out = tmp_path / options.get("out", "x.csv")
    with pytest.raises(CommandError, match=sentence):
        call_command("export_list", "readings", **{**options, "out": out})
    assert not list(tmp_path.iterdir())
