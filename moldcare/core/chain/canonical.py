"""The one spelling of text, numbers and instants that is hashed."""

import hashlib
import json
import re
import unicodedata
from collections.abc import Mapping
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import NoReturn, TypeAlias

import rfc8785

from moldcare.core.errors import NotWritable

JsonValue: TypeAlias = "bool | int | str | list[JsonValue] | dict[str, JsonValue] | None"

# RFC 8785 builds on I-JSON (RFC 7493, section 2.2): beyond this, JSON readers lose digits.
LARGEST_EXACT_INTEGER = 2**53 - 1

_INSTANT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{6}Z")


def instant_text(instant: datetime) -> str:
    """Spell an instant as RFC 3339 in UTC with six decimals and ``Z``.

    Parameters
    ----------
    instant : datetime
        An aware instant, in any zone.

    Returns
    -------
    str
        Always 27 signs long, so that texts sort as instants do.

    Raises
    ------
    NotWritable
        If the instant has no time zone.

    Examples
    --------
    >>> instant_text(datetime(2026, 11, 3, 14, 5, tzinfo=UTC))
    '2026-11-03T14:05:00.000000Z'
    """
    if instant.utcoffset() is None:
        raise NotWritable(f"The instant {instant.isoformat()} has no time zone.")
    return instant.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ").rjust(27, "0")


def instant_from_text(text: str) -> datetime:
    """Read an instant back from its one spelling; any other spelling is refused.

    Parameters
    ----------
    text : str
        As `instant_text` gives it.

    Returns
    -------
    datetime
        The instant, in UTC.

    Raises
    ------
    NotWritable
        If the text is spelled in another way or names no instant.

    Examples
    --------
    >>> instant_from_text("2026-11-03T14:05:00.000000Z").isoformat()
    '2026-11-03T14:05:00+00:00'
    """
    if _INSTANT.fullmatch(text) is None:
        raise NotWritable(f"{text!r} is not an instant as the logbook spells it.")
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        raise NotWritable(f"{text!r} names no instant.") from None


def normal_text(text: str) -> str:
    r"""Bring a text to Unicode's composed form (NFC), once, before it is hashed.

    Parameters
    ----------
    text : str
        Any text, empty too.

    Returns
    -------
    str
        The same text, composed.

    Raises
    ------
    NotWritable
        If the text holds a zero byte or half of a surrogate pair: not every database keeps them.

    Examples
    --------
    >>> normal_text("Mu\u0308ller") == "M\u00fcller"
    True
    """
    if "\0" in text or any("\ud800" <= sign <= "\udfff" for sign in text):
        raise NotWritable(
            "The text holds a sign that cannot be stored (a zero byte or half a pair)."
        )
    return unicodedata.normalize("NFC", text)


def normal_value(value: object, *, path: str) -> JsonValue:
    """Bring a fact to what the logbook can hash: no floats, one spelling of everything else.

    Parameters
    ----------
    value : object
        None, bool, int, Decimal, str, date, aware datetime, or a list, tuple or mapping of these.
    path : str
        Where the value stands, for the message of an error.

    Returns
    -------
    JsonValue
        Texts composed; decimals and whole numbers past 2^53 - 1 as texts; instants and dates
        as texts; tuples as lists. What comes back may be given again and stays the same.

    Raises
    ------
    NotWritable
        For a float, an unknown type, a decimal that is no number, a key that is no text, two
        keys that are the same once composed, or an instant without a zone. Names the place.

    Examples
    --------
    >>> normal_value({"flow_l_min": Decimal("11.80")}, path="facts")
    {'flow_l_min': '11.80'}
    """
    match value:
        case None | bool():
            return value
        case int():
            return value if abs(value) <= LARGEST_EXACT_INTEGER else str(value)
        case float():
            raise NotWritable(f"{path} is a float ({value!r}); the logbook takes decimals.")
        case Decimal():
            if not value.is_finite():
                raise NotWritable(f"{path} is not a number.")
            return format(value, "f")
        case str():
            return normal_text(value)
        case datetime():
            return instant_text(value)
        case date():
            return value.isoformat()
        case list() | tuple():
            return [normal_value(each, path=f"{path}[{at}]") for at, each in enumerate(value)]
        case Mapping():
            return normal_facts(value, path=path)
    raise NotWritable(f"{path} is of a kind that the logbook cannot write: {type(value).__name__}.")


def normal_facts(facts: Mapping[str, object], *, path: str = "facts") -> dict[str, JsonValue]:
    """Bring named facts to what the logbook can hash: see `normal_value`.

    Parameters
    ----------
    facts : mapping
        Facts by name.
    path : str
        Where they stand, for the message of an error.

    Returns
    -------
    dict
        The same, spelled.

    Raises
    ------
    NotWritable
        As `normal_value` does.
    """
    normal: dict[str, JsonValue] = {}
    for key, value in facts.items():
        if not isinstance(key, str):
            raise NotWritable(f"{path} has a key that is not text: {key!r}.")
        name = normal_text(key)
        if name in normal:
            raise NotWritable(f"{path} has the key {name!r} twice.")
        normal[name] = normal_value(value, path=f"{path}.{name}")
    return normal


def canonical_bytes(value: JsonValue) -> bytes:
    r"""Give the canonical JSON of a value by RFC 8785.

    Parameters
    ----------
    value : JsonValue
        As `normal_value` gives it; floats are refused.

    Returns
    -------
    bytes
        UTF-8, keys sorted by UTF-16 code units, no blanks.

    Raises
    ------
    NotWritable
        If the value holds a float or a whole number past 2^53 - 1.

    Examples
    --------
    >>> canonical_bytes({"b": 1, "a": "\u20ac"}).decode()
    '{"a":"€","b":1}'
    """
    _refuse_floats(value)
    try:
        return rfc8785.dumps(value)
    except rfc8785.CanonicalizationError as error:
        raise NotWritable(f"The logbook cannot write this: {error}.") from error


def _refuse_floats(value: object) -> None:
    if isinstance(value, float):
        raise NotWritable(f"A float ({value!r}) cannot be hashed; the logbook takes decimals.")
    if isinstance(value, dict):
        for each in value.values():
            _refuse_floats(each)
    elif isinstance(value, list):
        for each in value:
            _refuse_floats(each)


def parsed(text: str) -> JsonValue:
    """Read JSON strictly: a float, a doubled key or a wrong spelling is refused.

    Parameters
    ----------
    text : str
        JSON, in any order of keys and with any blanks.

    Returns
    -------
    JsonValue
        What it says.

    Raises
    ------
    NotWritable
        If it is no JSON, or holds a float or a doubled key.

    Examples
    --------
    >>> parsed('{"depth_um": "15"}')
    {'depth_um': '15'}
    """

    def refuse(spelled: str) -> NoReturn:
        raise NotWritable(f"{spelled} is no whole number; the logbook has no other numbers.")

    def once(pairs: list[tuple[str, JsonValue]]) -> dict[str, JsonValue]:
        value = dict(pairs)
        if len(value) != len(pairs):
            raise NotWritable("A key stands there twice.")
        return value

    try:
        value: JsonValue = json.loads(
            text, parse_float=refuse, parse_constant=refuse, object_pairs_hook=once
        )
    except (ValueError, RecursionError):
        raise NotWritable("This is no JSON.") from None
    return value


def content_hash(content: bytes) -> str:
    """Give the SHA-256 (FIPS 180-4) of some bytes, as a photo or an entry's canonical JSON.

    Parameters
    ----------
    content : bytes
        The bytes as they are stored.

    Returns
    -------
    str
        64 hexadecimal digits, small letters.

    Examples
    --------
    >>> content_hash(b"abc")[:16]
    'ba7816bf8f01cfea'
    """
    return hashlib.sha256(content).hexdigest()
