"""The worker that keeps the pack: one script at the root, which may look after all pages."""

import json
from pathlib import Path

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.templatetags.static import static
from django.urls import reverse
from django.views.decorators.http import require_safe

from moldcare.light_scripts import light
from moldcare.pages.tablet.version import version_of

_SCRIPT = Path("static/js/worker.js")


@require_safe
def worker(request: HttpRequest) -> HttpResponse:
    """Answer with the worker's script, with the version of what it keeps in front."""
    names = {
        "VERSION": version_of(),
        "STATIC": settings.STATIC_URL,
        "STORE": static("js/store.js"),
        "CONTACT": reverse("contact"),
        "PACK": reverse("tablet-pack"),
        "SIGN_ON": reverse("tablet-sign-on"),
        "HOME": reverse("tablet"),
    }
    head = "".join(f"const {name} = {json.dumps(value)};\n" for name, value in names.items())
    script = light((settings.BASE_DIR / _SCRIPT).read_text())
    answer = HttpResponse(
        '"use strict";\n' + head + script, content_type="text/javascript; charset=utf-8"
    )
    # asked anew each time: a browser must not miss a new version for a day
    answer.headers["Cache-Control"] = "no-cache"
    return answer
