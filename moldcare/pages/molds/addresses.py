"""Molds' numbers in addresses: any sign may be stamped on a plate."""

from django.urls import register_converter
from django.urls.converters import get_converters

# a slash would end the part of the address, and a part of dots alone is taken away by browsers
_ESCAPES = (("~", "~t"), ("/", "~s"), ("\\", "~b"), (".", "~d"))


class MoldNumber:
    """A mold's number as one part of an address.

    Examples
    --------
    >>> MoldNumber().to_url("17/3~a")
    '17~s3~ta'
    >>> MoldNumber().to_python("17~s3~ta")
    '17/3~a'
    """

    regex = r"[^/]+"

    def to_python(self, value: str) -> str:
        """Return the number that an address means."""
        for sign, escape in reversed(_ESCAPES):
            value = value.replace(escape, sign)
        return value

    def to_url(self, value: str) -> str:
        """Return how the number stands in an address."""
        for sign, escape in _ESCAPES:
            if sign != "." or not value.strip("."):
                value = value.replace(sign, escape)
        return value


def use_mold_numbers() -> None:
    """Let addresses name molds as <mold_number:number>; to say so twice changes nothing."""
    if "mold_number" not in get_converters():
        register_converter(MoldNumber, "mold_number")
