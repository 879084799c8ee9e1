"""A small plant's archive, and reading what is refused."""

import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from moldcare.feeds.archive import ArchiveRefused, read_archive
from moldcare.feeds.archive.tables import own_models
from tests import factories
from tests.feeds.archive.plants import another_database, another_store, archived, members
from tests.pages.small_world import small_world


@pytest.fixture(scope="module")
def good(
    django_db_setup: None, django_db_blocker: Any, tmp_path_factory: pytest.TempPathFactory
) -> dict[str, bytes]:
    """The members of a small plant's archive."""
    with (
        django_db_blocker.unblock(),
        another_database(),
        another_store(tmp_path_factory.mktemp("files")),
    ):
        small_world()
        factories.care_rule(mold=factories.mold())
        return members(archived())


@pytest.fixture
def refused(db: None, tmp_path: Path) -> Callable[..., str]:
    """Read an archive that is refused, see that nothing was written, and return the sentence."""

    def read(archive: bytes, **options: Any) -> str:
        with another_store(tmp_path / "store"):
            with pytest.raises(ArchiveRefused) as caught:
                read_archive(io.BytesIO(archive), **options)
            assert not [path for path in (tmp_path / "store").rglob("*") if path.is_file()]
        for model in own_models():
            assert not model._base_manager.exists(), model
        return str(caught.value)

    return read
