"""A file of 200 MB by the page and by the command: a sentence, bounded memory, nothing kept."""

import io
import tempfile
import tracemalloc
from collections.abc import Iterator
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse

from moldcare.feeds.models import ImportBatch, Upload
from moldcare.molds.models import Mold
from moldcare.pages.large_uploads import MOST_BYTES
from moldcare.plant.models import Person
from tests import factories

MEGABYTE = 1024 * 1024
LARGE = 200 * MEGABYTE
EDGE = "a-line-between-parts"


class Streamed(io.RawIOBase):
    """A form with one file, made while it is read: never in memory as a whole."""

    def __init__(self, *, size: int, line: bytes, fields: dict[str, str] | None = None) -> None:
        super().__init__()
        block = line * (MEGABYTE // len(line))
        head = "".join(
            f'--{EDGE}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'
            for name, value in (fields or {}).items()
        )
        head += (
            f'--{EDGE}\r\nContent-Disposition: form-data; name="file"; filename="molds.csv"\r\n'
            "Content-Type: text/csv\r\n\r\n"
        )
        tail = f"\r\n--{EDGE}--\r\n".encode()
        blocks, rest = divmod(size, len(block))
        self.length = len(head.encode()) + size + len(tail)
        self._parts: Iterator[bytes] = iter([head.encode(), *[block] * blocks, block[:rest], tail])
        self._left = b""

    def read(self, size: int = -1) -> bytes:  # type: ignore[override]
        """Give the next piece."""
        while not self._left:
            part = next(self._parts, None)
            if part is None:
                return b""
            self._left = part
        size = len(self._left) if size is None or size < 0 else size
        piece, self._left = self._left[:size], self._left[size:]
        return piece


def sent(client: Client, address: str, stream: Streamed) -> Any:
    return client.request(
        **{
            "PATH_INFO": address,
            "REQUEST_METHOD": "POST",
            "CONTENT_TYPE": f"multipart/form-data; boundary={EDGE}",
            "CONTENT_LENGTH": str(stream.length),
            "wsgi.input": stream,
        }
    )


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where files that are being sent are kept meanwhile."""
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    return tmp_path


@pytest.fixture
def by_lead(lead: Person) -> Client:
    factories.plant()
    client = Client()
    client.force_login(lead)
    return client


@pytest.mark.parametrize("kind", ["molds", "rules", "readings"])
def test_200_megabytes_by_the_page_get_a_sentence(by_lead: Client, folder: Path, kind: str) -> None:
    stream = Streamed(size=LARGE, line=b"0417;Lid;8\n")
    most_on_disk = 0
    read = stream.read

    def watched(size: int = -1) -> bytes:
        nonlocal most_on_disk
        most_on_disk = max(most_on_disk, sum(path.stat().st_size for path in folder.iterdir()))
        return read(size)

    stream.read = watched  # type: ignore[method-assign]
    address = reverse(f"import-{kind}")
    by_lead.get(address)
    tracemalloc.start()
    try:
        response = sent(by_lead, address, stream)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert response.status_code == 422
    assert "larger than 40 MB" in response.content.decode()
    assert peak < 20 * MEGABYTE
    assert 0 < most_on_disk <= MOST_BYTES
    assert not list(folder.iterdir())
    assert not Upload.objects.exists()


def test_a_file_of_just_the_most_is_taken_whole(by_lead: Client, folder: Path) -> None:
    line = b"0417;Lid;8\n"
    response = sent(by_lead, "/import/molds", Streamed(size=MOST_BYTES, line=line))
    assert response.status_code == 302
    (upload,) = Upload.objects.all()
    assert upload.name == "molds.csv"
    response = sent(by_lead, "/import/molds", Streamed(size=MOST_BYTES + 1, line=line))
    assert response.status_code == 422
    assert Upload.objects.count() == 1


def refused(command: str, path: Path) -> str:
    """The sentence with which a command refuses a file."""
    tracemalloc.start()
    try:
        with pytest.raises(CommandError) as error:
            call_command(command, str(path), stdout=StringIO(), stderr=StringIO())
        assert tracemalloc.get_traced_memory()[1] < 60 * MEGABYTE
    finally:
        tracemalloc.stop()
    return str(error.value)


@pytest.mark.parametrize("command", ["import_molds", "import_rules"])
@pytest.mark.parametrize(
    ("beginning", "sentence"),
    [
        (b"", "empty"),
        (b"Mold;Name\n0417;Lid\n" * 1000, "no rows"),
        (b"PK\x03\x04", "damaged"),
        (b"\x89PNG\r\n\x1a\n", "picture"),
    ],
)
def test_200_megabytes_of_nothing_by_the_command_get_a_sentence(
    lead: Person, tmp_path: Path, command: str, beginning: bytes, sentence: str
) -> None:
    factories.plant()
    path = tmp_path / "register.csv"
    with path.open("wb") as file:
        file.write(beginning)
        # holes, no bytes on the disk
        file.truncate(LARGE)
    assert sentence in refused(command, path)
    assert not ImportBatch.objects.exists()


def test_200_megabytes_of_rows_by_the_command_get_a_sentence(
    lead: Person, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    factories.plant()
    path = tmp_path / "register.csv"
    block = b"0417;Lid;8\n" * 100_000
    with path.open("wb") as file:
        file.write(b"Mold;Name;Cavities\n")
        for _time in range(LARGE // len(block)):
            file.write(block)
    # the same way on a shorter road: the real limit is met after half a million rows
    monkeypatch.setattr("moldcare.feeds.register.gather.ROWS_AT_MOST", 20_000)
    assert "more than 20000 rows" in refused("import_molds", path)
    assert not Mold.objects.exists()
