"""Which encoding a text file is in: its mark, strict UTF-8, or what its letters speak for."""

import codecs
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from typing import BinaryIO, Final

from django.utils.translation import gettext as _

from moldcare.core.errors import TableRefused, UnreadableText, WrongFile
from moldcare.feeds.tables.letters import CODECS, letter_scores
from moldcare.feeds.tables.questions import Choice, Question
from moldcare.feeds.tables.text import REPLACEMENT_MARK

CHUNK_BYTES: Final = 1 << 20
#: No row of readings is longer; a file with such a line is something else.
LONGEST_LINE_BYTES: Final = 1 << 20
#: More control bytes than one in so many make a file no text; a few are left over in old lists.
CONTROLS_ONE_IN: Final = 20
_ESCAPED: Final = re.compile("[\udc80-\udcff]")
_CONTROL_BYTES: Final = bytes([*range(9), *range(14, 27), *range(28, 32)])


class Encoding(StrEnum):
    """The encodings that spreadsheets and press controls write."""

    UTF_8 = "utf-8"
    UTF_16 = "utf-16"
    WINDOWS_1252 = "windows-1252"
    IBM_850 = "ibm850"


class Ground(StrEnum):
    """Why an encoding was taken; `OPEN` where the file's letters do not tell."""

    MARK = "mark"
    STRICT = "strict"
    OFFERED = "offered"
    OPEN = "open"
    CHOSEN = "chosen"


@dataclass(frozen=True, kw_only=True, slots=True)
class EncodingTaken:
    """The encoding in which a file is read, and why.

    Parameters
    ----------
    encoding : Encoding
        Its name, as ``--encoding`` takes it.
    codec : str
        Python's name for it, byte order and mark included.
    ground : Ground
        Why it was taken.
    """

    encoding: Encoding
    codec: str
    ground: Ground

    @property
    def is_sure(self) -> bool:
        """False where the file allows other encodings and nobody has chosen."""
        return self.ground not in (Ground.OFFERED, Ground.OPEN)


def encoding_taken(file: BinaryIO, *, chosen: str | None = None) -> EncodingTaken:
    """Find the encoding of a whole text file, reading it once in pieces.

    Parameters
    ----------
    file : binary file
        Seekable; left at an unspecified place.
    chosen : str or None
        What a person chose, one of `Encoding`.

    Returns
    -------
    EncodingTaken

    Raises
    ------
    UnreadableText
        When the bytes fit no encoding, or not the one chosen; names the row.
    WrongFile
        When the bytes are no text.
    TableRefused
        When the encoding chosen is not one of `Encoding`.

    Notes
    -----
    A file that is not UTF-8 because of a few broken bytes, but whose other letters are, is
    refused: as Windows-1252 it would come in with every umlaut broken. Windows-1252 and code page
    850 are told apart by which of them makes usual letters (`letter_scores`); where neither makes
    twice as many, it is asked.
    """
    file.seek(0)
    head = file.read(4096)
    marked = _codec_of_mark(head)
    if chosen is not None:
        try:
            encoding = Encoding(chosen.casefold())
        except ValueError:
            raise TableRefused(
                _("“%(name)s” is no encoding read here. Known: %(known)s.")
                % {"name": chosen, "known": ", ".join(Encoding)}
            ) from None
        return _as_chosen(file, head=head, encoding=encoding, marked=marked)
    if marked is not None:
        _check(file, codec=marked[1], encoding=marked[0])
        return EncodingTaken(encoding=marked[0], codec=marked[1], ground=Ground.MARK)
    unmarked = _utf_16_without_mark(head)
    if unmarked is not None:
        _check(file, codec=unmarked, encoding=Encoding.UTF_16)
        return EncodingTaken(encoding=Encoding.UTF_16, codec=unmarked, ground=Ground.OFFERED)
    controls = len(head) - len(head.translate(None, _CONTROL_BYTES))
    if controls * CONTROLS_ONE_IN > len(head):
        raise WrongFile(_("This file is not text. Save the table as CSV or XLSX."))
    if _fits(file, codec="utf-8"):
        return EncodingTaken(encoding=Encoding.UTF_8, codec="utf-8", ground=Ground.STRICT)
    valid, broken = _letters_and_broken_bytes(file)
    scores = letter_scores(_chunks(file))
    fits_windows = _fits(file, codec="cp1252")
    if valid >= broken > 0 or not (fits_windows or scores["cp850"]):
        row = _first_broken_row(file, codec="utf-8" if valid >= broken else "cp1252")
        raise UnreadableText(
            _(
                "Row %(row)d holds a letter that fits neither UTF-8 nor Windows-1252. "
                "Mend that row, or save the file anew as UTF-8."
            )
            % {"row": row},
            row=row,
        )
    windows, old = scores["cp1252"] if fits_windows else -1, scores["cp850"]
    if old > 0 and old >= 2 * windows:
        return EncodingTaken(encoding=Encoding.IBM_850, codec="cp850", ground=Ground.OFFERED)
    ground = Ground.OFFERED if windows > 0 and windows >= 2 * old else Ground.OPEN
    return EncodingTaken(encoding=Encoding.WINDOWS_1252, codec="cp1252", ground=ground)


def encoding_question(taken: EncodingTaken, *, example: str) -> Question:
    """Question that shows a text of the file as read, with the other encodings to choose from.

    Rows wait for the answer where the letters of the file speak for none.
    """
    text = _("The file does not say its encoding. Read as %(encoding)s. Is this right: %(example)s")
    is_open = taken.ground is Ground.OPEN
    if is_open:
        text = _("The file does not say its encoding. In which of them is this right: %(example)s")
    return Question(
        key="encoding",
        text=text % {"encoding": taken.encoding, "example": example},
        choices=tuple(
            Choice(value=name, text=_as_read(example, taken=taken, other=name)) for name in Encoding
        ),
        assumed=None if is_open else taken.encoding,
    )


def _as_read(example: str, *, taken: EncodingTaken, other: Encoding) -> str:
    """Name an encoding, with the example as it would read in it."""
    codec = {Encoding.WINDOWS_1252: "cp1252", Encoding.IBM_850: "cp850"}.get(other)
    if codec is None or taken.codec not in CODECS:
        return other
    try:
        return f"{other}: {example.encode(taken.codec).decode(codec)}"
    except UnicodeError:
        return other


def _codec_of_mark(head: bytes) -> tuple[Encoding, str] | None:
    if head.startswith((codecs.BOM_UTF32_LE, codecs.BOM_UTF32_BE)):
        raise WrongFile(_("This file is in UTF-32. Save it as CSV in UTF-8."))
    if head.startswith(codecs.BOM_UTF8):
        return Encoding.UTF_8, "utf-8-sig"
    if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return Encoding.UTF_16, "utf-16"
    return None


def _utf_16_without_mark(head: bytes) -> str | None:
    """Latin text in UTF-16 has every other byte zero."""
    pairs = len(head) // 2
    low, high = head[0 : pairs * 2 : 2].count(0), head[1 : pairs * 2 : 2].count(0)
    if pairs and high > pairs * 0.6 and not low:
        return "utf-16-le"
    if pairs and low > pairs * 0.6 and not high:
        return "utf-16-be"
    return None


def _as_chosen(
    file: BinaryIO,
    *,
    head: bytes,
    encoding: Encoding,
    marked: tuple[Encoding, str] | None,
) -> EncodingTaken:
    codec = {
        Encoding.UTF_8: "utf-8-sig",
        Encoding.UTF_16: "utf-16",
        Encoding.WINDOWS_1252: "cp1252",
        Encoding.IBM_850: "cp850",
    }[encoding]
    if encoding is Encoding.UTF_16 and marked is None:
        codec = _utf_16_without_mark(head) or "utf-16-le"
    _check(file, codec=codec, encoding=encoding)
    return EncodingTaken(encoding=encoding, codec=codec, ground=Ground.CHOSEN)


def _check(file: BinaryIO, *, codec: str, encoding: Encoding) -> None:
    if not _fits(file, codec=codec):
        row = _first_broken_row(file, codec=codec)
        raise UnreadableText(
            _("Row %(row)d holds a letter that is not %(encoding)s.")
            % {"row": row, "encoding": encoding},
            row=row,
        )


def _fits(file: BinaryIO, *, codec: str) -> bool:
    decoder = codecs.getincrementaldecoder(codec)(errors="strict")
    file.seek(0)
    line_bytes = 0
    try:
        while chunk := file.read(CHUNK_BYTES):
            decoder.decode(chunk)
            last = max(chunk.rfind(b"\n"), chunk.rfind(b"\r"))
            line_bytes = line_bytes + len(chunk) if last < 0 else len(chunk) - last
            if line_bytes > LONGEST_LINE_BYTES:
                raise WrongFile(_("This file has no rows. Save the table as CSV or XLSX."))
        decoder.decode(b"", final=True)
    except UnicodeError:
        return False
    return True


def _chunks(file: BinaryIO) -> Iterator[bytes]:
    file.seek(0)
    while chunk := file.read(CHUNK_BYTES):
        yield chunk


def _letters_and_broken_bytes(file: BinaryIO) -> tuple[int, int]:
    """How many letters beyond ASCII are good UTF-8, and how many bytes are not."""
    decoder = codecs.getincrementaldecoder("utf-8")(errors="surrogateescape")
    file.seek(0)
    valid = broken = 0
    while chunk := file.read(CHUNK_BYTES):
        text = decoder.decode(chunk)
        escaped = len(_ESCAPED.findall(text))
        broken += escaped
        valid += len(text) - len(text.encode("ascii", "ignore")) - escaped
    return valid, broken


def _first_broken_row(file: BinaryIO, *, codec: str) -> int:
    file.seek(0)
    lines = io.TextIOWrapper(file, encoding=codec, errors="replace", newline="")
    row = 1
    try:
        for line in lines:
            if REPLACEMENT_MARK in line:
                break
            row += 1
    except UnicodeError:
        return row
    finally:
        lines.detach()
    return row
