"""What a code reader typed: marks around a code, and keys of another keyboard."""

import re
from dataclasses import dataclass

#: Longest text that a label or badge of ours holds.
LONGEST_CODE = 300
# Readers put an identifier of the symbology before the code when asked to: "]", a letter and a
# digit (ISO/IEC 15424); "*" begins and ends Code 39, and old readers send it along.
_IDENTIFIER = re.compile(r"^\][A-Za-z][0-9A-Za-z]")
_ADDRESS = re.compile(
    r"^https?://[^/?#\s]+(?P<path>/[^?#\s]*)?(?:\?[^#\s]*)?(?P<part>#\S*)?$", re.I
)

# A reader that is set to one keyboard presses the keys of that one; a tablet that is set to
# another shows other signs. Left: what a US keyboard has on a key; right: the signs on the same
# keys, plain and with shift, of the layouts "de", "fr" and "es" as xkeyboard-config lists them.
_KEYS_US = (
    "`1234567890-=qwertyuiop[]asdfghjkl;'zxcvbnm,./~!@#$%^&*()_+QWERTYUIOP{}ASDFGHJKL:\"ZXCVBNM<>?"
)
_KEYS = {
    "German": (
        '^1234567890ß´qwertzuiopü+asdfghjklöäyxcvbnm,.-°!"§$%&/()=?`QWERTZUIOPÜ*ASDFGHJKLÖÄYXCVBNM;:_'
    ),
    "French": (
        "²&é\"'(-è_çà)=azertyuiop^$qsdfghjklmùwxcvbn,;:!~1234567890°+AZERTYUIOP¨£QSDFGHJKLM%WXCVBN?./§"
    ),
    "Spanish": (
        "º1234567890'¡qwertyuiop`+asdfghjklñ´zxcvbnm,.-ª!\"·$%&/()=?¿QWERTYUIOP^*ASDFGHJKLÑ¨ZXCVBNM;:_"
    ),
}


@dataclass(frozen=True, kw_only=True, slots=True)
class OtherKeyboard:
    """A code as it was meant, and the keyboard whose signs came in its place."""

    keyboard: str
    meant: str


def scanned_code(text: str) -> str:
    r"""Return the code that a reader typed, without the marks that it puts around it.

    Parameters
    ----------
    text : str
        As it came: with or without Enter, Tab, line feed, an identifier of the symbology or the
        start and end mark of Code 39.

    Returns
    -------
    str
        The code; empty where there was nothing but marks.

    Notes
    -----
    An identifier is "]", a letter and a sign after ISO/IEC 15424, Data carrier identifiers. A
    code of ours begins with neither "]" nor "*".

    Examples
    --------
    >>> [scanned_code(text) for text in ("0417", "*0417*", "]Q10417", "0417\r\n", "\t0417 ")]
    ['0417', '0417', '0417', '0417', '0417']
    """
    plain = "".join(sign if sign.isprintable() else " " for sign in text).strip()
    plain = _IDENTIFIER.sub("", plain)
    return plain.strip("*").strip()[:LONGEST_CODE]


def address_path(code: str) -> str | None:
    """Return the path, with its part, of an address that a code holds; None where it is none.

    Examples
    --------
    >>> address_path("https://moldcare.plant/molds/M-1042#circuit-3")
    '/molds/M-1042#circuit-3'
    >>> address_path("M-1042") is None
    True
    """
    found = _ADDRESS.match(code)
    if found is None:
        return None
    return f"{found['path'] or '/'}{found['part'] or ''}"


def other_keyboards(code: str) -> list[OtherKeyboard]:
    """Return what a code may have been before keys of another keyboard came in its place.

    Parameters
    ----------
    code : str
        As it came, without marks.

    Returns
    -------
    list of OtherKeyboard
        What the same keys mean on the other keyboard, where that can be a code of ours: an
        address, or a text with digits. Never more than a guess: it is said, and not acted upon.

    Notes
    -----
    Both ways round: the reader is set to a US keyboard and the tablet to another, or the reader
    to another and the tablet to a US one.

    Examples
    --------
    >>> other_keyboards("&à'&è")[0]
    OtherKeyboard(keyboard='French', meant='10417')
    >>> other_keyboards("10417")
    []
    """
    found: list[OtherKeyboard] = []
    for keyboard, keys in _KEYS.items():
        for came, meant in ((keys, _KEYS_US), (_KEYS_US, keys)):
            text = code.translate(dict(zip(map(ord, came), meant, strict=True)))
            guess = OtherKeyboard(keyboard=keyboard, meant=text)
            if text != code and guess not in found and _can_be_ours(text, came_as=code):
                found.append(guess)
    return found


def _can_be_ours(text: str, *, came_as: str) -> bool:
    if not text.isascii():
        return False
    if address_path(text) is not None:
        return address_path(came_as) is None
    has_digit = any(sign.isdigit() for sign in text)
    return has_digit and text.replace("-", "").replace(" ", "").isalnum()
