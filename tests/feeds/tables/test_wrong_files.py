import io
import struct
import tempfile
import zipfile

import openpyxl
import pytest

from moldcare.core.errors import WrongFile
from moldcare.feeds.tables import open_table
from moldcare.feeds.tables.workbook import sheets_taken


def packed(parts: dict[str, bytes]) -> bytes:
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w", zipfile.ZIP_DEFLATED) as file:
        for name, part in parts.items():
            file.writestr(name, part)
    return content.getvalue()


COMPOUND = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(504)
TYPES = b"<Types/>"


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"", "empty"),
        (b"\xef\xbb\xbf", "empty"),
        (b" \r\n\t\r\n" * 3000, "empty"),
        (b"%PDF-1.7\n...", "PDF"),
        (b"\x89PNG\r\n\x1a\n" + bytes(40), "picture"),
        (b"\xff\xd8\xff\xe0" + bytes(40), "picture"),
        (b"\x1f\x8b\x08" + bytes(40), "packed"),
        (b"<!DOCTYPE html><table><tr><td>0001", "web page"),
        (b"<html><table>", "web page"),
        (b'<?xml version="1.0"?><Workbook/>', "XML"),
        (COMPOUND, r"old workbook \(XLS\)"),
        (COMPOUND + "EncryptedPackage".encode("utf-16-le"), "locked with a password"),
        (packed({"mimetype": b"application/vnd.oasis.opendocument.spreadsheet"}), "OpenDocument"),
        (packed({"[Content_Types].xml": TYPES, "xl/workbook.bin": b""}), "XLSB"),
        (packed({"[Content_Types].xml": TYPES, "word/document.xml": b""}), "text document"),
        (packed({"readings.csv": b"mold;reading"}), "packed folder"),
        (packed({"[Content_Types].xml": TYPES, "xl/workbook.xml": b"<no"}), "damaged"),
        (b"PK\x03\x04 and then nothing", "damaged"),
        (b"\x00\x01\x02\x03 binary", "not text"),
        ("mold;reading".encode("utf-32"), "UTF-32"),
        (b"0" * 3_000_000, "no rows"),
    ],
)
def test_a_wrong_file_is_refused_with_what_it_is(content: bytes, sentence: str) -> None:
    with pytest.raises(WrongFile, match=sentence):
        list(open_table(content, name="readings.csv").rows())


def test_a_workbook_locked_inside_its_zip_is_refused() -> None:
    content = bytearray(packed({"[Content_Types].xml": TYPES, "xl/workbook.xml": b"<x/>"}))
    directory = content.index(b"PK\x01\x02")
    # The flags stand eight bytes into a directory entry (PKWARE APPNOTE 4.3.12).
    content[directory + 8] |= 1
    with pytest.raises(WrongFile, match="locked"):
        open_table(bytes(content), name="x.xlsx")


def test_a_workbook_that_unpacks_to_gigabytes_is_refused_unread() -> None:
    content = packed(
        {
            "[Content_Types].xml": TYPES,
            "xl/workbook.xml": b"<x/>",
            "xl/worksheets/sheet1.xml": bytes(40_000_000),
        }
    )
    assert len(content) < 100_000
    with pytest.raises(WrongFile, match="far more than a table"):
        open_table(content, name="x.xlsx")


def test_declared_sizes_that_lie_do_not_get_more_read() -> None:
    content = bytearray(
        packed(
            {
                "[Content_Types].xml": TYPES,
                "xl/workbook.xml": b"<x/>",
                "xl/sharedStrings.xml": bytes(40_000_000),
            }
        )
    )
    directory = content.rindex(b"PK\x01\x02")
    content[directory + 24 : directory + 28] = struct.pack("<I", 10)
    with pytest.raises(WrongFile, match="damaged"):
        open_table(bytes(content), name="x.xlsx")


def test_an_empty_workbook_is_refused() -> None:
    content = io.BytesIO()
    openpyxl.Workbook().save(content)
    with pytest.raises(WrongFile, match="empty"):
        open_table(content.getvalue(), name="x.xlsx")


def test_a_workbook_cut_short_is_refused() -> None:
    workbook = openpyxl.Workbook()
    for row in range(2000):
        workbook.active.append([f"{row:04d}", row * row])
    content = io.BytesIO()
    workbook.save(content)
    with pytest.raises(WrongFile, match="damaged"):
        open_table(content.getvalue()[:-300], name="x.xlsx")


def test_a_sheet_with_broken_xml_is_refused_and_not_an_accident() -> None:
    workbook = openpyxl.Workbook()
    workbook.active.append(["mold", 5])
    content = io.BytesIO()
    workbook.save(content)
    broken = io.BytesIO()
    with zipfile.ZipFile(content) as good, zipfile.ZipFile(broken, "w") as bad:
        for name in good.namelist():
            part = good.read(name)
            if name == "xl/worksheets/sheet1.xml":
                part = part.replace(b"</row>", b"</rov>")
            bad.writestr(name, part)
    with pytest.raises(WrongFile, match="damaged"):
        list(open_table(broken.getvalue(), name="x.xlsx").rows())


def test_entities_in_a_workbook_are_refused() -> None:
    workbook = openpyxl.Workbook()
    workbook.active.append(["mold", 5])
    content = io.BytesIO()
    workbook.save(content)
    evil = io.BytesIO()
    with zipfile.ZipFile(content) as good, zipfile.ZipFile(evil, "w") as bad:
        for name in good.namelist():
            part = good.read(name)
            if name == "xl/workbook.xml":
                part = b'<!DOCTYPE x [<!ENTITY a "aaaa">]>' + part
            bad.writestr(name, part)
    with pytest.raises(WrongFile, match="damaged"):
        sheets_taken(io.BytesIO(evil.getvalue()))


def test_a_text_that_begins_like_a_zip_is_still_a_text() -> None:
    assert next(open_table(b"PK;mold;reading\n1;0001;5\n", name="x.csv").rows()).cells[0] == "PK"


@pytest.mark.parametrize("kind", ["named", "spooled"])
def test_files_that_an_upload_keeps_on_disk_are_read(kind: str) -> None:
    content = b"mold;reading\n0001;5\n"
    with (
        tempfile.NamedTemporaryFile() if kind == "named" else tempfile.SpooledTemporaryFile()
    ) as file:
        file.write(content)
        table = open_table(file, name="x.csv")
        assert [row.cells for row in table.rows()] == [["mold", "reading"], ["0001", "5"]]
        assert [row.number for row in table.rows()] == [1, 2]
