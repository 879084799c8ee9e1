"""Pages of errors: they stand alone, carry a reference that the log has too, and say what to do."""

import logging
import re

import pytest
from django.core.exceptions import PermissionDenied, SuspiciousOperation
from django.http import Http404, HttpRequest, HttpResponse
from django.test import Client, RequestFactory
from django.urls import get_resolver

from moldcare.pages import errors
from tests.pages.test_markup import faults_of

REFERENCE = re.compile(r"(?<![\w-])[2-9a-z]{4}-[2-9a-z]{4}(?![\w-])")


def answered(request: HttpRequest, *, code: int) -> HttpResponse:
    """The answer of the handler that the addresses name for a status."""
    handler = get_resolver().resolve_error_handler(code)
    raised = {400: SuspiciousOperation("x"), 403: PermissionDenied(), 404: Http404("No such mold.")}
    return handler(request, raised[code]) if code in raised else handler(request)


@pytest.mark.parametrize("code", [400, 403, 404, 500])
def test_an_error_is_a_whole_page_with_a_reference_that_the_log_has(
    code: int, caplog: pytest.LogCaptureFixture
) -> None:
    # without the database: no fixture gives it
    with caplog.at_level(logging.INFO, logger="moldcare.pages.errors"):
        answer = answered(RequestFactory().get("/molds/x"), code=code)
    assert answer.status_code == code
    html = answer.content.decode()
    assert faults_of(html) == []
    found = REFERENCE.search(html)
    assert found
    assert found[0] in caplog.text


def test_what_was_looked_for_is_named() -> None:
    assert "No such mold." in answered(RequestFactory().get("/"), code=404).content.decode()


def test_an_address_that_names_no_page_is_not_found(client: Client, db: None) -> None:
    answer = client.get("/no/such/page")
    assert answer.status_code == 404
    assert "There is no such page here" in answer.content.decode()


def test_an_old_form_is_said_to_be_old(db: None) -> None:
    answer = Client(enforce_csrf_checks=True).post("/sign-in", {"username": "x"})
    assert answer.status_code == 403
    assert "This page had grown too old to send" in answer.content.decode()


def test_a_line_break_in_an_address_makes_no_line_in_the_log(
    caplog: pytest.LogCaptureFixture,
) -> None:
    request = RequestFactory().get("/")
    request.path = "/x\nreference zzzz-zzzz: all is well"
    with caplog.at_level(logging.INFO, logger="moldcare.pages.errors"):
        errors.not_found(request, Http404())
    assert "\nreference" not in caplog.text


def test_an_error_whose_page_is_broken_is_still_answered(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def broken(name: str) -> None:
        raise RuntimeError(name)

    monkeypatch.setattr(errors.loader, "get_template", broken)
    answer = errors.server_fault(RequestFactory().get("/"))
    assert answer.status_code == 500
    assert REFERENCE.search(answer.content.decode())


def test_references_are_read_out_without_mistaking_a_sign() -> None:
    signs = "".join(errors.new_reference() for _ in range(200))
    assert not set(signs) & set("01lioILO")
