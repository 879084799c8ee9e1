"""The checks before the first page: where the data lies and how it is guarded."""

from pathlib import Path

import pytest
from django.core.exceptions import ImproperlyConfigured
from pytest_django import Settings

from moldcare.pages import checks

# The columns are those of proc(5), "/proc/pid/mountinfo": mount point fifth, kind after the hyphen.
MOUNTS = r"""
22 1 259:1 / / rw,relatime shared:1 - ext4 /dev/nvme0n1p1 rw
35 22 0:31 / /srv/share rw,relatime - nfs4 store:/share rw,vers=4.2
36 22 0:32 / /srv/two\040words rw - cifs //store/words rw
37 35 259:2 / /srv/share/local rw - xfs /dev/sdb1 rw
38 22 0:40 / /bridge rw - fuse.grpcfuse grpcfuse rw
39 22 0:41 / /usb rw - fuse.ntfs-3g /dev/sdc1 rw
40 22 0:42 / /over rw - nfs store:/over rw
41 22 259:3 / /over rw - ext4 /dev/sdd1 rw
"""


@pytest.mark.parametrize(
    ("path", "kind"),
    [
        ("/var/lib/moldcare", "ext4"),
        ("/srv/share/moldcare", "nfs4"),
        ("/srv/shared", "ext4"),
        ("/srv/two words/moldcare", "cifs"),
        ("/srv/share/local/moldcare", "xfs"),
        ("/over/moldcare", "ext4"),
    ],
)
def test_the_kind_is_the_innermost_mount(path: str, kind: str) -> None:
    assert checks.file_system_kind(Path(path), mounts=MOUNTS) == kind


def test_without_a_table_of_mounts_the_kind_is_unknown_and_nothing_is_refused() -> None:
    assert checks.file_system_kind(Path("/srv"), mounts="") == ""
    assert not checks.is_shared_kind("")


@pytest.mark.parametrize("kind", ["nfs", "nfs4", "cifs", "smb3", "9p", "virtiofs", "fuse.sshfs"])
def test_shares_and_bridged_folders_are_known(kind: str) -> None:
    assert checks.is_shared_kind(kind)


@pytest.mark.parametrize("kind", ["ext4", "xfs", "btrfs", "zfs", "tmpfs", "overlay", "fuseblk"])
def test_disks_are_not_taken_for_shares(kind: str) -> None:
    assert not checks.is_shared_kind(kind)


def test_a_database_on_a_share_is_refused_with_the_folder_and_the_way_out(tmp_path: Path) -> None:
    share = f"22 1 0:31 / {tmp_path} rw - nfs4 store:/ rw"
    # the folder need not be there yet: where it would be made is what counts
    (error,) = checks.sqlite_file_check(name=str(tmp_path / "data" / "c.sqlite3"), mounts=share)
    assert error.id == "moldcare.E001"
    assert str(tmp_path / "data") in error.msg
    assert "MOLDCARE_DATA" in str(error.hint)
    assert "DATABASE_URL" in str(error.hint)


def test_a_windows_network_path_is_refused() -> None:
    (error,) = checks.sqlite_file_check(name=r"\\store\care\care.sqlite3", mounts="")
    assert error.id == "moldcare.E001"


def test_a_database_on_a_disk_passes(tmp_path: Path) -> None:
    local = f"22 1 259:1 / {tmp_path} rw - ext4 /dev/sda1 rw"
    assert checks.sqlite_file_check(name=str(tmp_path / "new" / "c.sqlite3"), mounts=local) == []


def test_the_application_server_does_not_start_on_a_share(
    monkeypatch: pytest.MonkeyPatch, settings: Settings, tmp_path: Path
) -> None:
    checks.refuse_to_start()
    mounts = tmp_path / "mountinfo"
    mounts.write_text(f"22 1 0:31 / {tmp_path} rw - cifs //store/care rw\n")
    monkeypatch.setattr(checks, "MOUNTS", mounts)
    database = settings.DATABASES["default"]
    monkeypatch.setitem(database, "ENGINE", "django.db.backends.sqlite3")
    monkeypatch.setitem(database, "NAME", str(tmp_path / "care.sqlite3"))
    with pytest.raises(ImproperlyConfigured, match=r"network share.*cifs.*MOLDCARE_DATA"):
        checks.refuse_to_start()


@pytest.mark.parametrize(
    ("host", "is_here"),
    [
        ("localhost", True),
        ("127.0.0.1", True),
        ("[::1]", True),
        ("10.1.2.3", False),
        ("care.plant.example", False),
        ("localhost.example", False),
    ],
)
def test_which_names_reach_no_further_than_this_machine(host: str, is_here: bool) -> None:
    assert checks.is_this_machine(host) is is_here


def test_answering_to_any_name_is_an_error(settings: Settings) -> None:
    settings.ALLOWED_HOSTS = ["*"]
    assert "moldcare.E003" in [message.id for message in checks.reach()]


def test_data_that_anybody_may_read_is_warned_of(settings: Settings, tmp_path: Path) -> None:
    tmp_path.chmod(0o755)
    key = tmp_path / "secret-key"
    key.write_text("x")
    key.chmod(0o600)
    settings.DATA_DIR = tmp_path
    assert checks.data_folder() == []
    key.chmod(0o644)
    (warning,) = checks.data_folder()
    assert str(key) in warning.msg
    tmp_path.chmod(0o700)
    assert checks.data_folder() == []
