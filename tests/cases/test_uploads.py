"""Pictures that run, that are huge, that lie about themselves, or lie on their side: by the page.

Each goes in through the task sheet, as a tablet sends it, and comes out by its address.
"""

import io
import json
import struct
import zlib
from concurrent.futures import ThreadPoolExecutor
from hashlib import sha256
from pathlib import Path

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.http import HttpResponse
from django.test import Client
from PIL import ExifTags, Image, ImageDraw

from moldcare.acts.files import add_file
from moldcare.acts.orders import hand_out, write_order
from moldcare.acts.sheet import record_step
from moldcare.acts.signing import sign_order
from moldcare.files import store
from moldcare.files.models import File
from moldcare.logbook.models import Entry
from moldcare.work.models import Order, StepValue
from tests import factories
from tests.cases.story import Story

pytestmark = pytest.mark.django_db

NOW = "2026-11-25 07:12"
SVG = b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>'


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A store of this test's own."""
    monkeypatch.setattr(settings, "MEDIA_ROOT", tmp_path / "files")
    return tmp_path / "files"


@pytest.fixture
def order(story: Story) -> Order:
    mold = story.mold("0417", since="2026-11-02 06:00")
    rule = factories.care_rule(mold=mold, name="Vents, wipe")
    written = write_order(story.doing(NOW), mold=mold, rules=[rule])
    row = Order.objects.get(pk=written.pk)
    hand_out(story.doing(NOW), order=row)
    return row


@pytest.fixture
def client(story: Story) -> Client:
    client = Client()
    client.force_login(story.lead)
    return client


def upload(client: Client, order: Order, *, name: str, content: bytes, kind: str) -> HttpResponse:
    photo = SimpleUploadedFile(name, content, content_type=kind)
    return client.post(  # type: ignore[return-value]
        f"/orders/{order.number}/sheet", {"do": "look", "grade": "light", "photo": photo}
    )


def encoded(picture: Image.Image, kind: str, **options: object) -> bytes:
    out = io.BytesIO()
    picture.save(out, kind, **options)  # type: ignore[arg-type]
    return out.getvalue()


def huge_png(side: int) -> bytes:
    """A PNG of one color, side * side pixels, in under 100 kB."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        body = kind + data
        return struct.pack(">I", len(data)) + body + struct.pack(">I", zlib.crc32(body))

    packer = zlib.compressobj(9)
    rows = b"".join(packer.compress(b"\0" * (side // 8 + 1)) for _row in range(side))
    head = struct.pack(">IIBBBBB", side, side, 1, 0, 0, 0, 0)
    data = rows + packer.flush()
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", data) + chunk(b"IEND", b"")


HEIC = struct.pack(">I", 24) + b"ftypheic\0\0\0\0mif1heic" + b"\0" * 500


@pytest.mark.parametrize(
    ("name", "content", "kind", "sentence"),
    [
        ("sheet.svg", SVG, "image/svg+xml", "JPEG"),
        ("sheet.jpg", SVG, "image/jpeg", "JPEG"),
        ("manual.pdf", b"<!doctype html><script>alert(1)</script>", "application/pdf", "JPEG"),
        ("IMG_1.HEIC", HEIC, "image/heic", "Set the camera to JPEG"),
        ("IMG_1.jpg", HEIC, "image/jpeg", "Set the camera to JPEG"),
        ("vent.png", huge_png(20_000), "image/png", "40 million pixels"),
    ],
)
def test_what_is_no_picture_is_refused_with_a_sentence_and_what_was_chosen(
    client: Client, order: Order, folder: Path, name: str, content: bytes, kind: str, sentence: str
) -> None:
    answer = upload(client, order, name=name, content=content, kind=kind)
    shown = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in shown
    assert "checked" in shown or 'value="light"' in shown
    assert not File.objects.exists()
    assert not StepValue.objects.exists()
    assert not folder.exists()


def test_the_content_and_not_the_name_says_what_a_picture_is(client: Client, order: Order) -> None:
    content = encoded(Image.new("RGB", (40, 30), "teal"), "PNG")
    answer = upload(client, order, name="photo.jpg", content=content, kind="image/jpeg")
    assert answer.status_code == 302
    row = File.objects.get()
    served = client.get(f"/files/{row.sha256}")
    assert served["Content-Type"] == "image/png"
    assert b"".join(served).startswith(b"\x89PNG")  # type: ignore[arg-type]


def test_a_photo_is_upright_and_bare_wherever_it_is_seen(
    client: Client, story: Story, order: Order
) -> None:
    picture = Image.new("RGB", (4_000, 3_000), "white")
    ImageDraw.Draw(picture).rectangle((0, 0, 1_000, 750), fill="red")
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = 6
    exif[ExifTags.Base.Artist] = "An owner"
    place = exif.get_ifd(ExifTags.IFD.GPSInfo)
    place[ExifTags.GPS.GPSLatitudeRef] = "N"
    place[ExifTags.GPS.GPSLatitude] = (48.0, 12.0, 30.0)
    content = encoded(picture, "JPEG", exif=exif)
    assert (
        upload(client, order, name="v.jpg", content=content, kind="image/jpeg").status_code == 302
    )
    row = File.objects.get()
    sheet = client.get("/orders/1001/sheet").content.decode()
    assert f"/files/{row.sha256}" in sheet
    served = b"".join(client.get(f"/files/{row.sha256}"))  # type: ignore[arg-type]
    assert sha256(served).hexdigest() == row.sha256
    seen = Image.open(io.BytesIO(served))
    # Exif 2.3, tag 0x0112: 6 means that the first row of pixels is seen on the right
    assert seen.height > seen.width
    red = seen.convert("RGB").getpixel((int(seen.width * 0.95), int(seen.height * 0.05)))
    assert isinstance(red, tuple)
    assert red[0] > 200 > 80 > red[1]
    assert not seen.getexif()
    assert b"An owner" not in served
    assert b"Exif" not in served
    # the entry names the bytes that are kept
    (line,) = order.tasks.all()
    record_step(story.doing(NOW), order=order, task=line, step=1)
    sign_order(story.doing(NOW), order=order, signer=story.lead, minutes=20, pin="2468")
    entry = Entry.objects.get(kind="order")
    assert row.sha256 in entry.facts
    assert sha256(store.content(row.sha256)).hexdigest() in json.dumps(json.loads(entry.facts))
    assert f"/files/{row.sha256}" in client.get(f"/logbook/{entry.pk}").content.decode()


def test_a_file_is_given_to_nobody_as_a_page(client: Client, story: Story, order: Order) -> None:
    pdf = b"%PDF-1.7\n<script>alert(1)</script>\n%%EOF"
    kept = add_file(story.doing(NOW), content=pdf, name="manual.html")
    served = client.get(f"/files/{kept.sha256}")
    assert served["Content-Type"] == "application/pdf"
    assert served["X-Content-Type-Options"] == "nosniff"
    assert served["Content-Disposition"] == 'attachment; filename="manual.pdf"'
    assert "sandbox" in served["Content-Security-Policy"]
    assert Client().get(f"/files/{kept.sha256}").status_code == 302
    for odd in ("..", "a" * 63, "%2e%2e%2fsecret-key", "0" * 64, "A" * 64):
        assert client.get(f"/files/{odd}").status_code == 404


@pytest.mark.slow
@pytest.mark.usefixtures("fresh_db")
def test_five_huge_pictures_at_once_leave_other_pages_answering(
    story: Story, order: Order, client: Client
) -> None:
    content = huge_png(20_000)

    def send(_each: int) -> int:
        sender = Client()
        sender.force_login(story.lead)
        try:
            answer = upload(sender, order, name="v.png", content=content, kind="image/png")
            return answer.status_code
        finally:
            connection.close()

    with ThreadPoolExecutor(max_workers=5) as pool:
        sending = [pool.submit(send, each) for each in range(5)]
        assert client.get("/").status_code == 200
        assert [each.result(timeout=60) for each in sending] == [422] * 5
    assert not File.objects.exists()
