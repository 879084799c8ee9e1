import hashlib
import io
import struct
import tracemalloc
import zlib
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.conf import settings
from PIL import ExifTags, Image, ImageCms, ImageDraw
from PIL.PngImagePlugin import PngInfo

from moldcare.acts.doing import Doing
from moldcare.acts.errors import NotAllowed
from moldcare.acts.files import FileRefused, add_file
from moldcare.files import store
from moldcare.files.models import File
from moldcare.files.queries import file_of, is_photo
from moldcare.plant.models import Person
from tests import factories

pytestmark = pytest.mark.django_db

OWNER = "Jo Camera-Owner"
SERIAL = "SN-998877"


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A store of the test's own."""
    factories.plant()
    monkeypatch.setattr(settings, "MEDIA_ROOT", tmp_path / "files")
    return tmp_path / "files"


def encoded(picture: Image.Image, kind: str, **options: Any) -> bytes:
    out = io.BytesIO()
    picture.save(out, kind, **options)
    return out.getvalue()


def red_corner(width: int = 400, height: int = 300) -> Image.Image:
    """White, with a red block at the upper left of the stored pixels."""
    picture = Image.new("RGB", (width, height), "white")
    ImageDraw.Draw(picture).rectangle((0, 0, width // 4, height // 4), fill="red")
    return picture


def camera_exif(orientation: int) -> Image.Exif:
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = orientation
    exif[ExifTags.Base.Artist] = OWNER
    exif[ExifTags.Base.BodySerialNumber] = SERIAL
    inner = exif.get_ifd(ExifTags.IFD.Exif)
    inner[ExifTags.Base.DateTimeOriginal] = "2026:11:24 13:30:00"
    inner[ExifTags.Base.CameraOwnerName] = OWNER
    place = exif.get_ifd(ExifTags.IFD.GPSInfo)
    place[ExifTags.GPS.GPSLatitudeRef] = "N"
    place[ExifTags.GPS.GPSLatitude] = (48.0, 12.0, 30.0)
    return exif


def stored(doing: Doing, content: bytes, name: str = "") -> tuple[File, Image.Image]:
    row = File.objects.get(pk=add_file(doing, content=content, name=name).pk)
    picture = Image.open(store.opened(row.sha256))
    picture.load()
    return row, picture


def is_red(picture: Image.Image, x: float, y: float) -> bool:
    pixel = picture.convert("RGB").getpixel((int(picture.width * x), int(picture.height * y)))
    assert isinstance(pixel, tuple)
    return pixel[0] > 200 and pixel[1] < 80


# Exif 2.3 (CIPA DC-008), tag 0x0112: for each value, where row 0 and column 0 of the stored
# pixels are seen; the corner that both meet at, as (x, y) of the upright picture
@pytest.mark.parametrize(
    ("orientation", "corner", "is_turned"),
    [
        (1, (0, 0), False),
        (2, (1, 0), False),
        (3, (1, 1), False),
        (4, (0, 1), False),
        (5, (0, 0), True),
        (6, (1, 0), True),
        (7, (1, 1), True),
        (8, (0, 1), True),
    ],
)
def test_a_photo_is_turned_upright_once(
    doing: Doing, orientation: int, corner: tuple[int, int], is_turned: bool
) -> None:
    content = encoded(red_corner(), "JPEG", exif=camera_exif(orientation), quality=95)
    row, picture = stored(doing, content)
    assert picture.size == ((300, 400) if is_turned else (400, 300))
    assert (row.width_px, row.height_px) == picture.size
    corners = [(x, y) for x in (0, 1) for y in (0, 1)]
    seen = [
        place for place in corners if is_red(picture, 0.05 + 0.9 * place[0], 0.05 + 0.9 * place[1])
    ]
    assert seen == [corner]
    assert ExifTags.Base.Orientation not in picture.getexif()


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_place_owner_and_serial_are_not_kept(doing: Doing, kind: str) -> None:
    options: dict[str, Any] = {"exif": camera_exif(6)}
    if kind == "PNG":
        texts = PngInfo()
        texts.add_text("Author", OWNER)
        options["pnginfo"] = texts
    if kind == "JPEG":
        options["comment"] = f"taken by {OWNER}"
    content = encoded(red_corner(), kind, **options)
    assert OWNER.encode() in content
    row, picture = stored(doing, content)
    kept = store.content(row.sha256)
    assert OWNER.encode() not in kept
    assert SERIAL.encode() not in kept
    assert not dict(picture.getexif())
    assert (
        not set(picture.info)
        - {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
        - {
            "loop",
            "background",
            "timestamp",
            "duration",
        }
    )


def test_the_hash_is_of_the_stored_bytes(doing: Doing, folder: Path) -> None:
    answer = add_file(doing, content=encoded(red_corner(), "JPEG"))
    path = folder / answer.sha256[:2] / answer.sha256
    assert hashlib.sha256(path.read_bytes()).hexdigest() == answer.sha256
    assert store.hash_now(answer.sha256) == answer.sha256


def test_a_photo_of_12_megapixels_is_made_smaller(doing: Doing) -> None:
    row, picture = stored(doing, encoded(red_corner(4000, 3000), "JPEG", exif=camera_exif(6)))
    assert picture.size == (1800, 2400)
    assert is_red(picture, 0.95, 0.05)
    assert row.size_bytes == len(store.content(row.sha256))


def test_the_instant_it_was_taken_is_the_plants_wall_time(doing: Doing) -> None:
    row, _picture = stored(doing, encoded(red_corner(), "JPEG", exif=camera_exif(1)))
    # Berlin keeps winter time on 24 November: one hour ahead of UTC
    assert row.taken_at == datetime(2026, 11, 24, 12, 30, tzinfo=UTC)
    exif = camera_exif(1)
    inner = exif.get_ifd(ExifTags.IFD.Exif)
    inner[ExifTags.Base.OffsetTimeOriginal] = "-05:00"
    row, _picture = stored(doing, encoded(red_corner(300, 200), "JPEG", exif=exif))
    assert row.taken_at == datetime(2026, 11, 24, 18, 30, tzinfo=UTC)


def test_a_camera_whose_clock_is_ahead_says_nothing(doing: Doing) -> None:
    exif = camera_exif(1)
    exif.get_ifd(ExifTags.IFD.Exif)[ExifTags.Base.DateTimeOriginal] = "2031:01:01 00:00:00"
    row, _picture = stored(doing, encoded(red_corner(), "JPEG", exif=exif))
    assert row.taken_at is None


@pytest.mark.parametrize("brand", [b"heic", b"heix", b"mif1", b"avif"])
@pytest.mark.parametrize("name", ["IMG_1.HEIC", "IMG_1.jpg"])
def test_heic_is_refused_with_how_to_set_the_camera(doing: Doing, brand: bytes, name: str) -> None:
    head = struct.pack(">I", 24) + b"ftyp" + brand + b"\0\0\0\0" + b"mif1" + brand
    with pytest.raises(FileRefused, match="Set the camera to JPEG"):
        add_file(doing, content=head + b"\0" * 500, name=name)
    assert not File.objects.exists()


def test_the_names_ending_decides_nothing(doing: Doing) -> None:
    row, picture = stored(doing, encoded(red_corner(), "PNG"), "photo.jpg")
    assert (row.kind, picture.format) == ("image/png", "PNG")
    assert is_photo(row)


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("sheet.svg", b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>'),
        ("sheet.jpg", b'<?xml version="1.0"?><svg><script>alert(1)</script></svg>'),
        ("manual.pdf", b"<!doctype html><script>alert(1)</script>"),
        ("manual.pdf", b"<html>%PDF-1.7</html>"),
        ("photo.gif", encoded(Image.new("P", (4, 4)), "GIF")),
        ("photo.tif", encoded(Image.new("L", (4, 4)), "TIFF")),
        ("photo.jpg", b"\xff\xd8\xff\xe0 not a picture at all"),
        ("photo.png", b"\x89PNG\r\n\x1a\n" + b"\0" * 40),
        ("photo.webp", b"RIFF\x10\0\0\0WEBPVP8 \0\0\0\0"),
        ("empty.jpg", b""),
    ],
)
def test_only_true_pictures_and_pdfs_are_kept(
    doing: Doing, folder: Path, name: str, content: bytes
) -> None:
    with pytest.raises(FileRefused):
        add_file(doing, content=content, name=name)
    assert not File.objects.exists()
    assert not folder.exists()


def test_a_picture_that_is_cut_off_is_refused(doing: Doing) -> None:
    whole = encoded(Image.effect_noise((600, 600), 80).convert("RGB"), "JPEG")
    with pytest.raises(FileRefused, match="can be read"):
        add_file(doing, content=whole[: len(whole) // 2])


def test_a_pdf_is_kept_as_it_is(doing: Doing) -> None:
    content = b"%PDF-1.7\n1 0 obj <<>> endobj\ntrailer <<>>\n%%EOF"
    answer = add_file(doing, content=content, name="C:\\docs\\drawing 7.pdf")
    row = File.objects.get(pk=answer.pk)
    assert (row.kind, row.name) == ("application/pdf", "drawing 7.pdf")
    assert store.content(row.sha256) == content
    assert not is_photo(row)


def huge_png(side: int) -> bytes:
    """A PNG of one color whose pixels unpack to side * side bits, in about side**2 / 8000 bytes."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        body = kind + data
        return struct.pack(">I", len(data)) + body + struct.pack(">I", zlib.crc32(body))

    packer = zlib.compressobj(9)
    rows = b"".join(packer.compress(b"\0" * (side // 8 + 1)) for _row in range(side))
    head = struct.pack(">IIBBBBB", side, side, 1, 0, 0, 0, 0)
    data = rows + packer.flush()
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", data) + chunk(b"IEND", b"")


@pytest.mark.parametrize("side", [8_000, 20_000])
def test_a_small_file_with_a_huge_picture_is_refused_before_it_is_unpacked(
    doing: Doing, side: int
) -> None:
    content = huge_png(side)
    assert len(content) < 100_000
    tracemalloc.start()
    try:
        with pytest.raises(FileRefused, match="40 million pixels"):
            add_file(doing, content=content)
        _now, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert peak < 5_000_000


def test_a_file_that_is_too_large_is_refused(doing: Doing) -> None:
    with pytest.raises(FileRefused, match="21 MB; at most 20 MB"):
        add_file(doing, content=b"%PDF-" + b"\0" * (20 * 2**20))


def test_the_same_photo_twice_is_one_file(doing: Doing, folder: Path) -> None:
    content = encoded(red_corner(), "JPEG")
    first = add_file(doing, content=content, name="a.jpg")
    assert add_file(doing, content=content, name="b.jpg") == first
    named = Doing(person=doing.person, now=doing.now, hand_in=uuid4())
    assert add_file(named, content=content) == add_file(named, content=content) == first
    assert File.objects.count() == 1
    assert sum(path.is_file() for path in folder.rglob("*")) == 1
    assert file_of(first.sha256) == File.objects.get()


def test_a_write_that_fails_leaves_no_half_file(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(self: Path, target: Path) -> Path:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(OSError, match="No space"):
        store.put(b"%PDF-1.7 some bytes")
    assert not [path for path in folder.rglob("*") if path.is_file()]


def test_bytes_that_were_cut_off_are_written_again(folder: Path) -> None:
    sha256 = store.put(b"all of the bytes")
    store.path_of(sha256).write_bytes(b"all of")
    assert store.hash_now(sha256) != sha256
    assert store.put(b"all of the bytes") == sha256
    assert store.hashes_now([sha256, "0" * 64, "no hash"]) == {sha256: sha256}


@pytest.mark.parametrize("name", ["../../etc/passwd", "A" * 64, "0" * 63, ""])
def test_nothing_but_a_hash_names_a_path(name: str) -> None:
    with pytest.raises(ValueError, match="no SHA-256"):
        store.path_of(name)


def test_names_are_composed_and_bare(doing: Doing) -> None:
    content = encoded(red_corner(40, 30), "PNG")
    answer = add_file(doing, content=content, name="/tmp/Du\u0308se\u202e\n.jpg")  # noqa: S108
    assert File.objects.get(pk=answer.pk).name == "Düse.jpg"


def test_a_photo_in_another_color_space_comes_out_in_srgb(doing: Doing) -> None:
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    content = encoded(
        Image.new("RGB", (40, 40), (200, 30, 30)), "JPEG", icc_profile=profile, quality=95
    )
    _row, picture = stored(doing, content)
    assert "icc_profile" not in picture.info
    pixel = picture.getpixel((20, 20))
    assert isinstance(pixel, tuple)
    assert all(abs(found - meant) < 6 for found, meant in zip(pixel, (200, 30, 30), strict=True))


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGBA", "CMYK", "I;16"])
def test_every_kind_of_pixels_is_taken(doing: Doing, mode: str) -> None:
    kind = "JPEG" if mode == "CMYK" else "PNG"
    picture = Image.new(mode, (30, 20))
    _row, kept = stored(doing, encoded(picture, kind))
    assert kept.size == (30, 20)
    assert kept.mode == ("RGBA" if mode in {"LA", "RGBA"} else "RGB")


def test_sixteen_bits_keep_their_brightness(doing: Doing) -> None:
    picture = Image.new("I;16", (30, 20), 32_768)
    _row, kept = stored(doing, encoded(picture, "PNG"))
    assert kept.getpixel((5, 5)) == (128, 128, 128)


def test_a_reader_adds_nothing(doing: Doing, reader: Person) -> None:
    with pytest.raises(NotAllowed):
        add_file(Doing(person=reader, now=doing.now), content=b"%PDF-")
