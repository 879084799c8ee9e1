"""Whatever people write comes through a table's file unchanged."""

import io
import random
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

import pytest
from django.db import models

from moldcare.care.models import Family
from moldcare.feeds.archive.errors import ArchiveRefused
from moldcare.feeds.archive.rows import lines_of, rows_in
from moldcare.feeds.archive.tables import archive_tables, table_of
from moldcare.feeds.archive.values import WrongValue, form_of
from moldcare.handin.models import HandIn
from moldcare.molds.models import Mold
from moldcare.plant.models import Person, ShiftSlot, Spot
from tests import factories

SIGNS = "=+-@'\"\\N,;\r\n\t a0é\u0308\u200b\u2028\ufeff\U0001f9ea{}[]null"


def some_texts(longest: int) -> list[str]:
    chance = random.Random(20261125)
    return [
        "".join(chance.choice(SIGNS) for _ in range(chance.randrange(longest))) for _ in range(400)
    ]


def back(model: type[models.Model]) -> list[dict[str, Any]]:
    """The rows of a table's file, as the database takes them."""
    table = table_of(model)
    content = b"".join(lines_of(table))
    rows = rows_in(io.BytesIO(content), table=table, names=table.names)
    return [dict(zip(table.names, row, strict=True)) for row in rows]


def test_texts_come_back_from_csv(db: None) -> None:
    texts = some_texts(12)
    for number, text in enumerate(texts):
        factories.spot(kind="rack", number=f"R{number}", name=text)
    assert not table_of(Spot).is_nested
    assert [row["name"] for row in back(Spot)] == texts


def test_texts_come_back_from_json_lines(db: None) -> None:
    texts = some_texts(40)
    Family.objects.bulk_create(
        Family(key=f"f{number}", name="x", signs=text) for number, text in enumerate(texts)
    )
    assert table_of(Family).is_nested
    assert [row["signs"] for row in back(Family)] == texts


def test_a_value_that_is_not_there_is_no_empty_text(db: None) -> None:
    factories.person(badge=None)
    factories.person(badge="")
    factories.person(badge=r"\N")
    assert [row["badge"] for row in back(Person)] == [None, "", r"\N"]


def test_nested_values_come_back_as_they_nest(db: None) -> None:
    answer = {"b": [1, 1.5, None, {"ä": "=1"}], "a": "", "Z": True}
    person = factories.person()
    now = datetime(2026, 11, 25, 6, 12, 0, 1, tzinfo=UTC)
    for key in (UUID(int=2**127), UUID(int=1)):
        HandIn.objects.create(
            id=key, person=person, act="x", body_hash="0" * 64, answer=answer, written_at=now
        )
    rows = back(HandIn)
    assert [row["answer"] for row in rows] == [answer, answer]
    lines = b"".join(lines_of(table_of(HandIn))).decode().splitlines()
    assert '"id":"00000000-0000-0000-0000-000000000001"' in lines[0], "in the order of the keys"
    assert '"answer":{"Z":true,"a":"","b":[1,1.5,null,{"ä":"=1"}]}' in lines[0]


def test_every_column_of_every_table_has_a_form() -> None:
    for table in archive_tables():
        for field in table.columns:
            assert form_of(field).read, field


def test_a_kind_of_column_without_a_form_is_a_fault_and_not_left_out() -> None:
    with pytest.raises(TypeError, match="have no form"):
        form_of(models.BinaryField(name="bytes"))


@pytest.mark.parametrize(
    ("column", "text", "value"),
    [
        (Mold._meta.get_field("mass_a_kg"), "279.0", Decimal("279.0")),
        (Mold._meta.get_field("cavity_count"), "16", 16),
        (Spot._meta.get_field("is_in_use"), "false", False),
        (ShiftSlot._meta.get_field("starts"), "22:00:00", "22:00:00"),
        (HandIn._meta.get_field("person"), "7", 7),
    ],
)
def test_values_are_read_as_the_database_takes_them(column: Any, text: str, value: Any) -> None:
    assert str(form_of(column).read(text)) == str(value)


@pytest.mark.parametrize(
    ("column", "text"),
    [
        (Mold._meta.get_field("mass_a_kg"), "NaN"),
        (Mold._meta.get_field("mass_a_kg"), "1e9"),
        (Mold._meta.get_field("mass_a_kg"), "99999999999.5"),
        (Mold._meta.get_field("cavity_count"), "1.0"),
        (Mold._meta.get_field("cavity_count"), "٣"),
        (Mold._meta.get_field("cavity_count"), True),
        (Mold._meta.get_field("cavity_count"), "-1"),
        (Mold._meta.get_field("opening_at"), "2026-11-25"),
        (Mold._meta.get_field("opening_at"), "0001-01-01T00:00:00+14:00"),
        (Mold._meta.get_field("opening_at"), 7),
        (ShiftSlot._meta.get_field("starts"), "25:00"),
        (HandIn._meta.get_field("id"), "1"),
        (HandIn._meta.get_field("act"), ["x"]),
        (HandIn._meta.get_field("act"), "x" * 61),
    ],
)
def test_values_that_a_column_cannot_hold_are_refused(column: Any, text: Any) -> None:
    with pytest.raises(WrongValue):
        form_of(column).read(text)


def test_a_line_without_end_is_not_read_into_memory() -> None:
    table = table_of(Spot)
    head = ",".join(table.names).encode() + b"\r\n"
    for content in (b'"' + b"x" * (3 << 20), head + b"1" * (3 << 20)):
        with pytest.raises(ArchiveRefused, match="longer than any of ours"):
            list(rows_in(io.BytesIO(content), table=table, names=table.names))


def test_what_is_no_utf_8_is_said() -> None:
    table = table_of(Spot)
    head = ",".join(table.names).encode() + b"\r\n"
    with pytest.raises(ArchiveRefused, match="it is no UTF-8"):
        list(rows_in(io.BytesIO(head + b"1,\xff"), table=table, names=table.names))
