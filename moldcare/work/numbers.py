"""Numbers as people type them at value lines, and the limits that they keep or not."""

import re
from decimal import Decimal, InvalidOperation

from django.utils.translation import gettext as _

from moldcare.core.errors import DomainError

MOST_DECIMALS = 6
MOST_DIGITS = 18
# languages in which 1,200 is a thousand two hundred; in the others 1.200 is
_COMMA_GROUPS = ("en",)


class NoNumber(DomainError):
    """What was typed at a value line is no number, or could be two."""


def number_from_text(text: str, *, language: str) -> Decimal:
    """Return the number that a person typed: comma and point both part decimals.

    Parameters
    ----------
    text : str
        As typed: 4.25, 4,25, -0,015, 12400, 12 400, 12.400,5.
    language : str
        Of the person: it tells 12,400 from 12.400 apart, one of which is a whole number.

    Raises
    ------
    NoNumber
        If it is none, has too many digits, or could be two numbers.

    Examples
    --------
    >>> number_from_text("4,25", language="en")
    Decimal('4.25')
    >>> number_from_text("12.400,5", language="de")
    Decimal('12400.5')
    """
    plain = re.sub(r"(?<=\d)[\s\u00a0\u202f'’](?=\d{3}(\D|$))", "", text.strip())
    plain = plain.replace("\u2212", "-")
    signs = re.findall(r"[.,]", plain)
    if len(set(signs)) == 2:
        mark, group = (signs[-1], signs[0])
        if signs.count(mark) > 1 or not re.fullmatch(
            rf"[+-]?\d{{1,3}}(\{group}\d{{3}})+\{mark}\d+", plain
        ):
            raise NoNumber(_no_number(text))
        plain = plain.replace(group, "").replace(mark, ".")
    elif len(signs) > 1:
        if not re.fullmatch(rf"[+-]?\d{{1,3}}(\{signs[0]}\d{{3}})+", plain):
            raise NoNumber(_no_number(text))
        plain = plain.replace(signs[0], "")
    elif signs:
        groups = "," if language.split("-")[0] in _COMMA_GROUPS else "."
        if signs[0] == groups and re.fullmatch(r"[+-]?[1-9]\d{0,2}[.,]\d{3}", plain):
            raise NoNumber(
                _(
                    "%(text)s could be two numbers. Write it without the sign between thousands, "
                    "or with another number of decimals."
                )
                % {"text": text}
            )
        plain = plain.replace(",", ".")
    if not re.fullmatch(r"[+-]?(\d+(\.\d*)?|\.\d+)", plain, re.ASCII):
        raise NoNumber(_no_number(text))
    try:
        number = Decimal(plain)
    except InvalidOperation:
        raise NoNumber(_no_number(text)) from None
    whole, _point, decimals = plain.lstrip("+-").partition(".")
    if len(decimals) > MOST_DECIMALS or len(whole.lstrip("0")) > MOST_DIGITS - MOST_DECIMALS:
        raise NoNumber(
            _("%(text)s has too many digits: at most 12 before and 6 after the decimal sign.")
            % {"text": text}
        )
    return number


def is_within(number: Decimal, *, low: Decimal | None, high: Decimal | None) -> bool | None:
    """Return whether the number keeps the limits, both included; None where there are none."""
    if low is None and high is None:
        return None
    return (low is None or number >= low) and (high is None or number <= high)


def limits_text(*, low: Decimal | None, high: Decimal | None, unit: str = "") -> str:
    """Return the limits in words, for a sentence; empty where there are none."""
    behind = f" {unit}" if unit else ""
    if low is not None and high is not None:
        return _("%(low)s to %(high)s%(unit)s") % {
            "low": plain_decimal(low),
            "high": plain_decimal(high),
            "unit": behind,
        }
    if low is not None:
        return _("at least %(low)s%(unit)s") % {"low": plain_decimal(low), "unit": behind}
    if high is not None:
        return _("at most %(high)s%(unit)s") % {"high": plain_decimal(high), "unit": behind}
    return ""


def plain_decimal(number: Decimal) -> str:
    """Return the number without needless zeros and without an exponent."""
    text = format(number, "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def _no_number(text: str) -> str:
    return _("%(text)s is no number. Write digits and one decimal sign, as 4.25 or 4,25.") % {
        "text": text or "-"
    }
