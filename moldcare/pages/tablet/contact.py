"""The contact of a tablet: the server's time, who is signed in, what PINs are sealed to.

It is asked before anything is handed in, and from time to time. It says nothing that a stranger may
not know, unless somebody is signed in, and it is no form: it wants a header that no other site can
make a browser send.
"""

import json
from collections.abc import Mapping
from typing import Any
from uuid import UUID

from django.contrib.auth import login, logout
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_POST

from moldcare.acts.sign_in import check_pin
from moldcare.acts.tablets import contact_of, meet_tablet
from moldcare.core.errors import DomainError
from moldcare.handin.passes import give_pass
from moldcare.handin.sealing import SealBroken, open_seal, sealing_key
from moldcare.pages.device import device_of, name_device
from moldcare.pages.tablet.version import version_of
from moldcare.pages.waiting import instant_of, kind_of
from moldcare.plant.models import Person

HEADER = "X-Outbox"
MOST_BYTES = 20_000
# nobody signs on more often than this between two contacts
MOST_SIGN_ONS = 20


@csrf_exempt
@never_cache
@require_POST
def contact(request: HttpRequest) -> HttpResponse:
    """Answer a tablet, and write down what it says of itself."""
    if HEADER not in request.headers:
        return JsonResponse({"said": "This is not asked by a tablet of ours."}, status=403)
    sent = _sent(request)
    now = timezone.now()
    if sent.get("sign_off") is True:
        logout(request)
    device = device_of(request)
    sign_ons = [
        _signed_on(request, each, device=device, here=sent.get("here"))
        for each in _list(sent.get("sign_ons"))
    ]
    person = request.user if isinstance(request.user, Person) else None
    sent_at = instant_of(str(sent.get("sent_at")))
    if device and sent_at is not None:
        offset_ms = int((now - sent_at).total_seconds() * 1000)
        said = contact_of(sent, oldest_at=instant_of(str(sent.get("oldest"))), offset_ms=offset_ms)
        meet_tablet(device, person=person, contact=said, now=now)
    key = sealing_key(now=now)
    answer = JsonResponse(
        {
            "now": now.isoformat(),
            "csrf": get_token(request),
            "key": {"id": key.pk, "public": key.public},
            "device": bool(device),
            "person": _bearer(person, device=device) if person is not None else None,
            "sign_ons": sign_ons,
            "version": version_of(),
        }
    )
    if person is not None:
        name_device(request, answer)
    return answer


def _sent(request: HttpRequest) -> Mapping[str, Any]:
    body = request.body[: MOST_BYTES + 1]
    try:
        found = json.loads(body) if len(body) <= MOST_BYTES else None
    except ValueError:
        found = None
    return found if isinstance(found, dict) else {}


def _list(value: Any) -> list[dict[str, Any]]:
    rows = value if isinstance(value, list) else []
    return [each for each in rows if isinstance(each, dict)][:MOST_SIGN_ONS]


def _bearer(person: Person, *, device: str) -> dict[str, Any]:
    """Return who somebody is on a tablet, with the pass that they hand in by from there."""
    return {
        "person": person.pk,
        "name": person.name,
        "badge": person.badge or "",
        "language": person.language,
        "pass": give_pass(person, device=device) if device else "",
    }


def _signed_on(
    request: HttpRequest, sent: Mapping[str, Any], *, device: str, here: Any
) -> dict[str, Any]:
    """Look at a badge and PIN that were typed while there was no net.

    Whoever is still there is signed in by it, and everything that was filled in since then is
    handed in with the pass.
    """
    name, badge = str(sent.get("id", "")), str(sent.get("badge", ""))[:40]
    found: dict[str, Any] = {"id": name, "state": "wrong", "said": "", "person": None}
    try:
        pin = open_seal(str(sent.get("seal", "")), hand_in=str(UUID(name)))
    except (SealBroken, ValueError):
        found["said"] = _("The PIN cannot be read any more. Sign on again.")
        return found
    try:
        person = check_pin(badge, pin=pin, device=device, now=timezone.now())
    except DomainError as error:
        kind = kind_of(error)
        return {**found, "state": "slow" if kind == "slow" else "wrong", "said": str(error)}
    if here == name:
        login(request, person)
    return {**found, "state": "good", "person": _bearer(person, device=device)}
