"""Keeping photos and documents: judged by content, upright, without place, owner or serial."""

import io
import unicodedata
import warnings
from dataclasses import dataclass
from datetime import datetime
from pathlib import PurePosixPath
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _
from PIL import ExifTags, Image, ImageCms, ImageOps

from moldcare.acts.doing import Doing, once
from moldcare.acts.errors import ActRefused
from moldcare.acts.rights import Right, require
from moldcare.files import store
from moldcare.files.models import File
from moldcare.plant.queries import the_plant

MOST_BYTES = 20 * 1024 * 1024
MOST_PIXELS = 40_000_000
LONGEST_SIDE_PX = 2400
JPEG_QUALITY = 88
_PICTURES = ("JPEG", "PNG", "WEBP")
# brands of ISO base media files (ISO/IEC 23008-12) that hold HEVC or AV1 pictures
_HEIF_BRANDS = {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1", b"avif"}


class FileRefused(ActRefused):
    """The file is of no kind that is kept, or too large; nothing was stored."""


@dataclass(frozen=True, kw_only=True, slots=True)
class AddedFile:
    """A file that is kept now, or was before."""

    pk: int
    sha256: str
    kind: str


@dataclass(frozen=True, kw_only=True, slots=True)
class _Kept:
    content: bytes
    kind: str
    width_px: int | None = None
    height_px: int | None = None
    taken_at: datetime | None = None


def add_file(doing: Doing, *, content: bytes, name: str = "") -> AddedFile:
    """Keep a photo or a PDF. What is stored already is not stored twice.

    The name's ending decides nothing. A photo is turned upright, made at most 2400 pixels long
    and written anew, so that nothing but its pixels is kept; the hash is of the stored bytes.

    Raises
    ------
    FileRefused
        If it is no JPEG, PNG, WebP or PDF, cannot be read, or is too large.
    """
    require(doing.person, Right.LOG_WORK)
    kept = _judged(content, zone=ZoneInfo(the_plant().zone))
    # the bytes lie in the store before a row can name them; a row that fails leaves bytes that
    # nothing names, which harm nobody
    sha256 = store.put(kept.content)

    def do() -> dict[str, object]:
        is_past = kept.taken_at is not None and kept.taken_at <= doing.now
        row, _made = File.objects.get_or_create(
            sha256=sha256,
            defaults={
                "kind": kept.kind,
                "size_bytes": len(kept.content),
                "width_px": kept.width_px,
                "height_px": kept.height_px,
                "name": _plain_name(name),
                "taken_at": kept.taken_at if is_past else None,
                "added_by": doing.person,
                "written_at": doing.now,
            },
        )
        return {"pk": row.pk, "sha256": row.sha256, "kind": row.kind}

    answer = once(doing, "add_file", {"sha256": sha256}, do)
    return AddedFile(**answer)


def _plain_name(name: str) -> str:
    """Return the last part of a file's name without signs that print nothing, 200 at most."""
    last = PurePosixPath(name.replace("\\", "/")).name
    shown = "".join(sign for sign in last if unicodedata.category(sign)[0] != "C")
    return unicodedata.normalize("NFC", shown)[:200]


def _judged(content: bytes, *, zone: ZoneInfo) -> _Kept:
    if not content:
        raise FileRefused(_("The file is empty. Take the photo again."))
    if len(content) > MOST_BYTES:
        raise FileRefused(
            _("The file has %(size)d MB; at most %(most)d MB are kept. Take it smaller.")
            % {"size": -(-len(content) // 2**20), "most": MOST_BYTES // 2**20}
        )
    if content.startswith(b"%PDF-"):
        return _Kept(content=content, kind=File.Kind.PDF)
    if content[4:8] == b"ftyp" and content[8:12] in _HEIF_BRANDS:
        raise FileRefused(
            _(
                "This photo is in a format (HEIC) that browsers and paper do not show. Set the "
                "camera to JPEG (iPhone: Settings, Camera, Formats, Most Compatible; Android: "
                "the camera's settings, high efficiency off) and take it again."
            )
        )
    return _photo(content, zone=zone)


def _photo(content: bytes, *, zone: ZoneInfo) -> _Kept:
    unreadable = FileRefused(
        _(
            "This is no photo (JPEG, PNG, WebP) and no PDF that can be read. "
            "Choose another file; nothing was stored."
        )
    )
    try:
        with warnings.catch_warnings():
            # our own limit on pixels is tighter and says what to do
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(content), formats=_PICTURES) as picture:
                _check_pixels(picture)
                picture.verify()
            with Image.open(io.BytesIO(content), formats=_PICTURES) as picture:
                return _written_anew(picture, zone=zone)
    except FileRefused:
        raise
    except Image.DecompressionBombError:
        raise _too_many_pixels() from None
    except (OSError, ValueError, SyntaxError, EOFError, KeyError, IndexError, TypeError):
        # what Pillow raises for pictures that are cut off or broken
        raise unreadable from None


def _check_pixels(picture: Image.Image) -> None:
    """Refuse by the size that the head of the file states, before anything is unpacked."""
    if picture.width * picture.height > MOST_PIXELS:
        raise _too_many_pixels()


def _too_many_pixels() -> FileRefused:
    return FileRefused(
        _("This picture has more than %(most)d million pixels. Take it smaller.")
        % {"most": MOST_PIXELS // 1_000_000}
    )


def _written_anew(picture: Image.Image, *, zone: ZoneInfo) -> _Kept:
    kind = Image.MIME[str(picture.format)]
    taken_at = _taken_at(picture, zone=zone)
    profile = picture.info.get("icc_profile")
    if picture.format == "JPEG":
        # a decoder that halves while it reads keeps the memory small
        picture.draft(None, (LONGEST_SIDE_PX, LONGEST_SIDE_PX))
    upright: Image.Image = ImageOps.exif_transpose(picture)
    has_alpha = upright.mode in {"LA", "PA", "RGBA", "RGBa"} or "transparency" in upright.info
    if kind == File.Kind.JPEG:
        has_alpha = False
    plain = _in_srgb(upright, profile=profile, mode="RGBA" if has_alpha else "RGB")
    plain.thumbnail((LONGEST_SIDE_PX, LONGEST_SIDE_PX), Image.Resampling.LANCZOS)
    # a new picture has pixels only: no comment, no place, no owner, no thumbnail of its own
    bare = Image.new(plain.mode, plain.size)
    bare.paste(plain)
    out = io.BytesIO()
    match kind:
        case File.Kind.JPEG:
            bare.save(out, "JPEG", quality=JPEG_QUALITY, optimize=True)
        case File.Kind.PNG:
            bare.save(out, "PNG", optimize=True)
        case _:
            bare.save(out, "WEBP", quality=JPEG_QUALITY, method=4)
    return _Kept(
        content=out.getvalue(),
        kind=kind,
        width_px=bare.width,
        height_px=bare.height,
        taken_at=taken_at,
    )


def _in_srgb(picture: Image.Image, *, profile: bytes | None, mode: str) -> Image.Image:
    """Return the picture in sRGB, since the profile that gives its colors a meaning is dropped."""
    if profile and picture.mode in {"RGB", "CMYK", "L"} and mode == "RGB":
        try:
            converted = ImageCms.profileToProfile(
                picture,
                ImageCms.ImageCmsProfile(io.BytesIO(profile)),
                ImageCms.createProfile("sRGB"),
                outputMode="RGB",
            )
        except (ImageCms.PyCMSError, OSError, ValueError):
            converted = None
        if converted is not None:
            return converted
    if picture.mode.startswith("I;16") or picture.mode in {"I", "F"}:
        # 16 bits a sample: the upper eight are what a screen shows
        picture = picture.convert("I").point(lambda value: value / 256).convert("L")
    return picture.convert(mode)


def _taken_at(picture: Image.Image, *, zone: ZoneInfo) -> datetime | None:
    """Return when the camera says that the photo was taken; in the plant's zone if it has none."""
    exif = picture.getexif().get_ifd(ExifTags.IFD.Exif)
    said = exif.get(ExifTags.Base.DateTimeOriginal)
    offset = exif.get(ExifTags.Base.OffsetTimeOriginal)
    if not isinstance(said, str):
        return None
    if isinstance(offset, str):
        try:
            return datetime.strptime(f"{said.strip()}{offset.strip()}", "%Y:%m:%d %H:%M:%S%z")
        except ValueError:
            pass
    try:
        naive = datetime.strptime(said.strip(), "%Y:%m:%d %H:%M:%S")  # noqa: DTZ007 local to the plant
    except ValueError:
        return None
    return naive.replace(tzinfo=zone)
