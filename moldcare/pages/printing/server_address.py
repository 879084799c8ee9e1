"""The address by which phones and tablets reach the program, as printed codes hold it."""

from typing import Final
from urllib.parse import urlsplit

from django.utils.translation import gettext as _

from moldcare.core.errors import DomainError

LONGEST_ADDRESS: Final = 120
_THIS_MACHINE: Final = ("localhost", "127.0.0.1", "::1")
_IN_NO_ADDRESS: Final = frozenset(" <>\"'\\?#")


class AddressRefused(DomainError):
    """A text is no address of a server that a phone would open."""


def server_address(text: str) -> str:
    """Return an address without what follows the server's name and path.

    Raises
    ------
    AddressRefused
        If it does not begin with http:// or https://, or names no server.
    """
    address = text.strip().rstrip("/")
    if (
        len(address) > LONGEST_ADDRESS
        or set(address) & _IN_NO_ADDRESS
        or not address.isprintable()
        or not _names_a_server(address)
    ):
        raise AddressRefused(_("Write the whole address, such as https://molds.plant.example."))
    return address


def _names_a_server(address: str) -> bool:
    try:
        parts = urlsplit(address)
        # a port that is none is refused here and not by the phone
        return parts.scheme in ("http", "https") and bool(parts.hostname) and parts.port != 0
    except ValueError:
        return False


def is_of_this_machine(address: str) -> bool:
    """Return whether an address opens only on the machine that printed it."""
    return urlsplit(address).hostname in _THIS_MACHINE
