"""Files: only for whoever is signed in, with the type they were judged to be, and harmless."""

import io
from collections.abc import Callable

import pytest
from django.conf import settings
from django.test import Client
from PIL import Image

from moldcare.acts.doing import Doing
from moldcare.acts.files import add_file
from moldcare.files import store
from tests import factories

pytestmark = pytest.mark.django_db

PDF = b"%PDF-1.4\n1 0 obj<<>>endobj\ntrailer<<>>\n%%EOF"


@pytest.fixture
def photo(doing: Doing) -> str:
    factories.plant()
    content = io.BytesIO()
    Image.new("RGB", (60, 40), "gray").save(content, "PNG")
    return add_file(doing, content=content.getvalue(), name="vents <1>.html").sha256


def test_a_picture_is_shown_in_place_and_runs_nothing(
    client_of: Callable[[str], Client], photo: str
) -> None:
    answer = client_of("reader").get(f"/files/{photo}")
    assert answer.status_code == 200
    assert answer.headers["Content-Type"] == "image/png"
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["Content-Security-Policy"] == "default-src 'none'; sandbox"
    assert answer.headers["Content-Disposition"].startswith("inline")
    # the ending is the content's, whatever the file was called
    assert ".html" not in answer.headers["Content-Disposition"]
    assert b"".join(answer.streaming_content) == store.content(photo)  # type: ignore[attr-defined]


def test_a_document_is_saved_and_not_opened(
    client_of: Callable[[str], Client], doing: Doing
) -> None:
    factories.plant()
    kept = add_file(doing, content=PDF, name="drawing.pdf")
    answer = client_of("reader").get(f"/files/{kept.sha256}")
    assert answer.headers["Content-Type"] == "application/pdf"
    assert answer.headers["Content-Disposition"] == 'attachment; filename="drawing.pdf"'
    answer.close()


def test_strangers_are_sent_to_sign_in(client_of: Callable[[str], Client], photo: str) -> None:
    answer = client_of("stranger").get(f"/files/{photo}")
    assert answer.headers["Location"].startswith("/sign-in")


@pytest.mark.parametrize("name", ["0" * 64, "..%2f..%2fsettings", "A" * 63 + "é", "x"])
def test_what_is_no_hash_of_ours_is_not_found(
    client_of: Callable[[str], Client], photo: str, name: str
) -> None:
    assert client_of("reader").get(f"/files/{name}").status_code == 404


def test_bytes_that_are_gone_are_not_found(client_of: Callable[[str], Client], photo: str) -> None:
    path = store.path_of(photo)
    assert path.is_relative_to(settings.MEDIA_ROOT)
    path.unlink()
    assert client_of("reader").get(f"/files/{photo}").status_code == 404
