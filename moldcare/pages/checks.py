"""What is looked at before the first page is served: where the data lies, and how it is guarded.

`manage.py check` shows everything; the application server and every command that writes refuse to
start on an error. `manage.py check --deploy` adds what only matters once people rely on it.
"""

import ipaddress
import os
import re
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, Warning, register, run_checks
from django.core.exceptions import ImproperlyConfigured

from moldcare import env

MOUNTS = Path("/proc/self/mountinfo")

# kinds of file systems that are reached over a network or handed through from a host machine:
# the locks and the shared memory that SQLite's write-ahead log needs do not work there
SHARED_KINDS = frozenset(
    {
        "9p",
        "afs",
        "beegfs",
        "ceph",
        "cifs",
        "drvfs",
        "gfs2",
        "glusterfs",
        "lustre",
        "ncpfs",
        "nfs",
        "nfs4",
        "ocfs2",
        "prl_fs",
        "smb3",
        "smbfs",
        "vboxsf",
        "virtiofs",
        "vmhgfs",
    }
)
# behind "fuse." anything may lie; these are known to be a local disk
LOCAL_FUSE_KINDS = frozenset({"fuse.fuse-overlayfs", "fuse.ntfs-3g", "fuse.lxcfs", "fuse.mergerfs"})


def file_system_kind(path: Path, *, mounts: str) -> str:
    """Return the kind of file system that a path lies on, or "" when it cannot be told.

    `mounts` is the text of Linux's mountinfo: the mount point is the fifth column, with spaces
    and the like as a backslash and three octal digits; the kind comes after a lone hyphen. The
    longest mount point that holds the path wins; of two that are the same, the later, which lies
    on top.
    """
    found, found_length = "", -1
    for line in mounts.splitlines():
        before, _, after = line.partition(" - ")
        columns, kinds = before.split(), after.split()
        if len(columns) < 5 or not kinds:
            continue
        point = Path(re.sub(r"\\([0-7]{3})", lambda sign: chr(int(sign[1], 8)), columns[4]))
        if (point == path or point in path.parents) and len(point.parts) >= found_length:
            found, found_length = kinds[0], len(point.parts)
    return found


def is_shared_kind(kind: str) -> bool:
    """Return whether a kind of file system is a network's or another machine's."""
    if kind.startswith("fuse."):
        return kind not in LOCAL_FUSE_KINDS
    return kind in SHARED_KINDS


def sqlite_file_check(*, name: str, mounts: str) -> list[CheckMessage]:
    """Refuse a SQLite file on a network share or in a folder that cannot be written."""
    if name.startswith(("\\\\", "//")):
        return [_on_a_share(name, kind="network path")]
    path = Path(name).absolute()
    folder = path.parent
    while not folder.exists() and folder != folder.parent:
        folder = folder.parent
    kind = file_system_kind(folder.resolve(), mounts=mounts)
    if is_shared_kind(kind):
        return [_on_a_share(str(path.parent), kind=kind)]
    if not os.access(folder, os.W_OK):
        return [
            Error(
                f"The database's folder {path.parent} cannot be written.",
                hint="Name a folder that this program's user may write in MOLDCARE_DATA.",
                id="moldcare.E002",
            )
        ]
    return []


def _on_a_share(place: str, *, kind: str) -> Error:
    return Error(
        f"The database would lie on a network share or a bridged folder: {place} ({kind}).",
        hint=(
            "SQLite damages its file there. Name a folder on a disk of this machine in "
            "MOLDCARE_DATA, or a PostgreSQL server in DATABASE_URL; back up to the share instead."
        ),
        id="moldcare.E001",
    )


@register(Tags.files)
def database_place(*, app_configs: Any = None, **options: Any) -> list[CheckMessage]:
    """Check where the database lies."""
    found: list[CheckMessage] = []
    mounts = MOUNTS.read_text(errors="replace") if MOUNTS.exists() else ""
    for database in settings.DATABASES.values():
        if database["ENGINE"].endswith("sqlite3"):
            found += sqlite_file_check(name=str(database["NAME"]), mounts=mounts)
    return found


@register(Tags.compatibility)
def misspelled_settings(*, app_configs: Any = None, **options: Any) -> list[CheckMessage]:
    """Warn of variables that look like ours and are not."""
    return [
        Warning(
            f"{name} is set, and no setting is called that.",
            hint="README.md lists the settings. Mend the name, or unset it.",
            id="moldcare.W001",
        )
        for name in env.unknown_names()
    ]


@register(Tags.security, deploy=True)
def reach(*, app_configs: Any = None, **options: Any) -> list[CheckMessage]:
    """Warn where passwords could be read on their way, or any host name is answered to."""
    found: list[CheckMessage] = []
    if "*" in settings.ALLOWED_HOSTS:
        found.append(
            Error(
                "MOLDCARE_HOSTS holds *: pages would answer to any host name.",
                hint="Name the host names that people type, parted by commas.",
                id="moldcare.E003",
            )
        )
    beyond = [host for host in settings.ALLOWED_HOSTS if not is_this_machine(host)]
    if beyond and not settings.IS_HTTPS:
        found.append(
            Warning(
                f"Pages are served to {', '.join(beyond)} without HTTPS: passwords and PINs can "
                "be read on the network, and tablets keep nothing without a connection.",
                hint="Put a proxy with a certificate in front, and set MOLDCARE_HTTPS=1.",
                id="moldcare.W002",
            )
        )
    return found


def is_this_machine(host: str) -> bool:
    """Return whether a host name reaches no further than this machine."""
    if host == "localhost" or host.endswith(".localhost"):
        return True
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False


@register(Tags.security, deploy=True)
def data_folder(*, app_configs: Any = None, **options: Any) -> list[CheckMessage]:
    """Warn when others on the machine may read the photos, the database or the key."""
    folder = Path(settings.DATA_DIR)
    if os.name != "posix" or not folder.exists():
        return []
    exposed = [
        str(path)
        for path in _guarded(folder)
        if path.exists() and path.stat().st_mode & 0o007 and not _is_hidden_above(path)
    ]
    if not exposed:
        return []
    return [
        Warning(
            f"Anybody on this machine may read {', '.join(exposed)}.",
            hint=f"chmod -R o= {folder}",
            id="moldcare.W003",
        )
    ]


def _guarded(folder: Path) -> Iterable[Path]:
    return (folder / "secret-key", folder / "moldcare.sqlite3", folder / "files")


def _is_hidden_above(path: Path) -> bool:
    """Return whether the folder that holds the path keeps others out."""
    return not path.parent.stat().st_mode & 0o001


def refuse_to_start() -> None:
    """Raise ImproperlyConfigured on any error of the checks above: for the application server.

    Django runs its checks for commands only.
    """
    errors = [message for message in run_checks(tags=[Tags.files]) if message.is_serious()]
    if errors:
        raise ImproperlyConfigured(
            " ".join(f"{message.msg} {message.hint or ''}".strip() for message in errors)
        )
