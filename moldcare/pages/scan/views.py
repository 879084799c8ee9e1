"""The page that opens what a label names."""

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.utils.translation import gettext as _

from moldcare.core.scanning import LONGEST_CODE, scanned_code
from moldcare.pages.access import answer, page
from moldcare.pages.scan.finding import Found, Guess, found_by, guesses_of


@page()
def scan(request: HttpRequest) -> HttpResponse:
    """Open what a code or number names; ask where it names several things, or say it names none."""
    text = request.GET.get("code", "").replace("\0", "")[:LONGEST_CODE]
    found = found_by(text)
    guesses = [] if found or not text else guesses_of(text)
    if request.headers.get("Accept", "").startswith("application/json"):
        return JsonResponse(_told(text, found=found, guesses=guesses))
    if len(found) == 1:
        return HttpResponseRedirect(found[0].path)
    context = {
        "page_title": _("Scan"),
        "code": scanned_code(text),
        "found": found,
        "guesses": guesses,
        "said": _said(text, found=found, guesses=guesses),
    }
    return answer(request, "scan/scan.html", context)


def _said(text: str, *, found: list[Found], guesses: list[Guess]) -> str:
    code = scanned_code(text)
    if not code:
        return ""
    if found:
        return _("%(code)s names more than one thing. Which one?") % {"code": code}
    if guesses:
        return _(
            "%(code)s names nothing here. The reader seems to be set to another keyboard than "
            "this tablet (%(keyboard)s?): set it to the tablet's with its maker's card. If you "
            "meant what is below, open it."
        ) % {"code": code, "keyboard": guesses[0].keyboard}
    return _("%(code)s names no mold, circuit, press, place or order here.") % {"code": code}


def _told(text: str, *, found: list[Found], guesses: list[Guess]) -> dict[str, object]:
    shown = found or [each for guess in guesses for each in guess.found]
    return {
        "code": scanned_code(text),
        "found": [{"label": each.label, "path": each.path} for each in shown],
        "is_sure": bool(found),
        "said": "" if len(found) == 1 else _said(text, found=found, guesses=guesses),
    }
