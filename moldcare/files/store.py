"""The private store: bytes under their SHA-256, in a folder that no web server serves."""

import hashlib
import os
import re
import tempfile
from collections.abc import Iterable
from pathlib import Path
from typing import BinaryIO

from django.conf import settings

_SHA256 = re.compile(r"[0-9a-f]{64}")
_CHUNK = 1024 * 1024


def path_of(sha256: str) -> Path:
    """Return where the bytes with this hash lie; nothing but a hash names a path."""
    if _SHA256.fullmatch(sha256) is None:
        raise ValueError(f"{sha256!r} is no SHA-256.")
    return Path(settings.MEDIA_ROOT) / sha256[:2] / sha256


def put(content: bytes) -> str:
    """Store the bytes and return their hash. Bytes that are there already stay untouched.

    They are written under another name in the same folder, brought to disk and then renamed, so
    that a name is either not there or holds all of its bytes.
    """
    sha256 = hashlib.sha256(content).hexdigest()
    path = path_of(sha256)
    if path.exists() and path.stat().st_size == len(content):
        return sha256
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=".part-")
    try:
        with os.fdopen(handle, "wb") as part:
            part.write(content)
            part.flush()
            os.fsync(part.fileno())
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    folder = os.open(path.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)
    return sha256


def opened(sha256: str) -> BinaryIO:
    """Open the stored bytes for reading."""
    return path_of(sha256).open("rb")


def content(sha256: str) -> bytes:
    """Return the stored bytes."""
    return path_of(sha256).read_bytes()


def hash_now(sha256: str) -> str | None:
    """Return the hash that the stored bytes have now; None when they are gone."""
    digest = hashlib.sha256()
    try:
        with opened(sha256) as stored:
            while chunk := stored.read(_CHUNK):
                digest.update(chunk)
    except FileNotFoundError:
        return None
    return digest.hexdigest()


def hashes_now(hashes: Iterable[str]) -> dict[str, str]:
    """Return the hash that each of the stored files has now; those that are gone are left out."""
    found = {sha256: hash_now(sha256) for sha256 in hashes if _SHA256.fullmatch(sha256)}
    return {sha256: now for sha256, now in found.items() if now is not None}
