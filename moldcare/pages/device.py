"""The name of a tablet or desk, kept in a signed cookie: wrong tries are counted by it."""

from uuid import uuid4

from django.core import signing
from django.http import HttpRequest, HttpResponse

COOKIE = "device"
KEPT_S = 400 * 24 * 3600


def device_of(request: HttpRequest) -> str:
    """Return the device's name; empty where it has none yet or made one up."""
    try:
        return str(request.get_signed_cookie(COOKIE))
    except (KeyError, signing.BadSignature):
        return ""


def name_device(request: HttpRequest, response: HttpResponse) -> None:
    """Give a device that has none a name, once somebody signed in on it."""
    if device_of(request):
        return
    response.set_signed_cookie(
        COOKIE,
        uuid4().hex,
        max_age=KEPT_S,
        secure=request.is_secure(),
        httponly=True,
        samesite="Lax",
    )
