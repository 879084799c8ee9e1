"""The version of what tablets keep: it changes with the files and pages that are served."""

import hashlib
from functools import lru_cache
from pathlib import Path

from django.conf import settings

_SEEN_ON_TABLETS = frozenset({".css", ".js", ".html", ".svg", ".woff2"})


def version_of() -> str:
    """Return the version; where files are served as they lie, of how they lie now."""
    return _read() if _is_plain() else _read_once()


@lru_cache(maxsize=1)
def _read_once() -> str:
    return _read()


def _is_plain() -> bool:
    return str(settings.STORAGES["staticfiles"]["BACKEND"]).startswith("django.")


def _read() -> str:
    found = hashlib.sha256()
    for root in (settings.BASE_DIR / "static", settings.BASE_DIR / "templates"):
        for path in sorted(each for each in root.rglob("*") if each.suffix in _SEEN_ON_TABLETS):
            found.update(str(path.relative_to(root)).encode())
            found.update(_print_of(path))
    return found.hexdigest()[:16]


def _print_of(path: Path) -> bytes:
    if _is_plain():
        about = path.stat()
        return f"{about.st_mtime_ns} {about.st_size}".encode()
    return hashlib.sha256(path.read_bytes()).digest()
