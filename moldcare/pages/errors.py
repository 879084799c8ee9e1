"""What people see when something went wrong: pages that stand alone and say what to do next.

They ask the database nothing and run no context processor: what failed may be just that. Each
carries a reference number, which the log has beside what happened.
"""

import logging
import secrets

from django.http import HttpRequest, HttpResponse
from django.template import loader
from django.utils.translation import gettext as _

log = logging.getLogger(__name__)

# letters and digits that are not mistaken for one another when they are read out
_SIGNS = "23456789abcdefghjkmnpqrstuvwxyz"


def new_reference() -> str:
    """Return a number that a person can read out over the telephone."""
    signs = "".join(secrets.choice(_SIGNS) for _place in range(8))
    return f"{signs[:4]}-{signs[4:]}"


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """Say that the form was too old or came from elsewhere; nothing was written."""
    return _page(request, status=403, is_stale=True, why=reason)


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Say that what was sent could not be read."""
    return _page(request, status=400, why=type(exception).__name__)


def not_allowed(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Say that this is not the person's to do."""
    return _page(request, status=403, why=type(exception).__name__)


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Say that there is no such page; in the words of whoever looked for it, where it has some."""
    said = exception.args[0] if exception.args and isinstance(exception.args[0], str) else ""
    return _page(request, status=404, sentence=said, why="not found")


def server_fault(request: HttpRequest) -> HttpResponse:
    """Say that the program is at fault, and what to do."""
    return _page(request, status=500, why="fault")


def _page(
    request: HttpRequest,
    *,
    status: int,
    why: str,
    is_stale: bool = False,
    sentence: str = "",
) -> HttpResponse:
    reference = new_reference()
    level = logging.ERROR if status == 500 else logging.INFO
    # %r keeps line breaks of an address out of the log
    log.log(
        level, "reference %s: %d %s %r (%s)", reference, status, request.method, request.path, why
    )
    context = {"reference": reference, "is_stale": is_stale, "sentence": sentence}
    try:
        content = loader.get_template(f"{status}.html").render(context)
    except Exception:
        # a template that cannot be shown must not hide what happened
        log.exception("reference %s: the page of the error cannot be shown", reference)
        return HttpResponse(
            _("Something here broke. Reference %(reference)s") % {"reference": reference},
            status=status,
            content_type="text/plain; charset=utf-8",
        )
    return HttpResponse(content, status=status)
