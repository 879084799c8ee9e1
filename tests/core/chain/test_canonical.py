"""The one spelling of values, against the standards that define it."""

import json
from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from moldcare.core.chain import canonical_bytes, content_hash, instant_from_text, instant_text
from moldcare.core.chain.canonical import (
    LARGEST_EXACT_INTEGER,
    normal_text,
    normal_value,
    parsed,
)
from moldcare.core.errors import NotWritable

# NIST, examples with intermediate values for FIPS 180-4, SHA-256: one-block and two-block message.
SHA_256_EXAMPLES = [
    (b"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
    (
        b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
        "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
    ),
]


@pytest.mark.parametrize(("message", "digest"), SHA_256_EXAMPLES)
def test_content_hash_is_sha_256_of_fips_180_4(message: bytes, digest: str) -> None:
    assert content_hash(message) == digest


def test_keys_are_sorted_as_in_rfc_8785_section_3_2_3() -> None:
    example = parsed(
        r"""{"\u20ac": "Euro Sign", "\r": "Carriage Return",
        "\ufb33": "Hebrew Letter Dalet With Dagesh", "1": "One",
        "\ud83d\ude00": "Emoji: Grinning Face", "\u0080": "Control",
        "\u00f6": "Latin Small Letter O With Diaeresis"}"""
    )
    assert list(json.loads(canonical_bytes(example)).values()) == [
        "Carriage Return",
        "One",
        "Control",
        "Latin Small Letter O With Diaeresis",
        "Euro Sign",
        "Emoji: Grinning Face",
        "Hebrew Letter Dalet With Dagesh",
    ]


def test_strings_and_literals_are_spelled_as_in_rfc_8785_section_3_2_2() -> None:
    example = parsed(
        r"""{"string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
        "literals": [null, true, false]}"""
    )
    assert canonical_bytes(example).hex(" ") == (
        "7b 22 6c 69 74 65 72 61 6c 73 22 3a 5b 6e 75 6c 6c 2c 74 72 75 65 2c 66 61 6c 73 65 5d "
        "2c 22 73 74 72 69 6e 67 22 3a 22 e2 82 ac 24 5c 75 30 30 30 66 5c 6e 41 27 42 5c 22 5c "
        "5c 5c 5c 5c 22 2f 22 7d"
    )


def test_library_spells_the_numbers_of_rfc_8785_section_3_2_2() -> None:
    numbers = [333333333.33333329, 1e30, 4.50, 2e-3, 0.000000000000000000000000001]
    assert rfc8785.dumps(numbers) == b"[333333333.3333333,1e+30,4.5,0.002,1e-27]"


def test_instants_of_rfc_3339_section_5_8_get_one_spelling() -> None:
    eight_behind = timezone(timedelta(hours=-8))
    twenty_minutes_ahead = timezone(timedelta(minutes=20))
    assert instant_text(datetime(1996, 12, 19, 16, 39, 57, tzinfo=eight_behind)) == (
        "1996-12-20T00:39:57.000000Z"
    )
    assert instant_text(datetime(1937, 1, 1, 12, 0, 27, 870000, tzinfo=twenty_minutes_ahead)) == (
        "1937-01-01T11:40:27.870000Z"
    )


def test_instant_keeps_its_microseconds_and_not_its_zone() -> None:
    two_ahead = timezone(timedelta(hours=2))
    spellings = {
        instant_text(datetime(2026, 7, 1, 12, 0, 0, 500000, tzinfo=two_ahead)),
        instant_text(datetime(2026, 7, 1, 10, 0, 0, 500000, tzinfo=UTC)),
    }
    assert spellings == {"2026-07-01T10:00:00.500000Z"}


def test_instant_without_zone_is_refused() -> None:
    with pytest.raises(NotWritable, match="no time zone"):
        instant_text(datetime(2026, 7, 1, 12))  # noqa: DTZ001 - the missing zone is the point


@given(st.datetimes(timezones=st.just(UTC)))
def test_instant_comes_back_from_its_text(instant: datetime) -> None:
    assert instant_from_text(instant_text(instant)) == instant


@given(
    st.datetimes(min_value=datetime(1, 1, 2), timezones=st.just(UTC)),  # noqa: DTZ001
    st.datetimes(min_value=datetime(1, 1, 2), timezones=st.just(UTC)),  # noqa: DTZ001
)
def test_texts_of_instants_sort_as_instants_do(one: datetime, other: datetime) -> None:
    assert (instant_text(one) < instant_text(other)) == (one < other)


@pytest.mark.parametrize(
    "text",
    [
        "2026-11-03T14:05:00Z",
        "2026-11-03T14:05:00.000000+00:00",
        "2026-11-03 14:05:00.000000Z",
        "2026-13-03T14:05:00.000000Z",
        "2026-11-03T14:05:00.000000Z\n",
        "",
    ],
)
def test_other_spellings_of_instants_are_refused(text: str) -> None:
    with pytest.raises(NotWritable):
        instant_from_text(text)


# Unicode Standard Annex 15, figures 3 and 4 (singletons and canonical composites).
@pytest.mark.parametrize(
    ("given_text", "composed"),
    [
        ("\u212b", "\u00c5"),
        ("\u2126", "\u03a9"),
        ("A\u030a", "\u00c5"),
        ("o\u0302", "\u00f4"),
        ("s\u0307\u0323", "\u1e69"),
        ("d\u0323\u0307", "\u1e0d\u0307"),
    ],
)
def test_text_is_composed_as_in_unicode_annex_15(given_text: str, composed: str) -> None:
    assert normal_text(given_text) == composed


@pytest.mark.parametrize("text", ["a\0b", "\ud83d", "\udc00x"])
def test_text_that_no_database_keeps_is_refused(text: str) -> None:
    with pytest.raises(NotWritable, match="cannot be stored"):
        normal_text(text)


def test_two_spellings_of_a_name_hash_the_same() -> None:
    windows = normal_value({"by": "M\u00fcller"}, path="facts")
    macintosh = normal_value({"by": "Mu\u0308ller"}, path="facts")
    assert canonical_bytes(windows) == canonical_bytes(macintosh)


def test_whole_numbers_are_numbers_up_to_2_53_and_texts_beyond() -> None:
    facts = {"at": LARGEST_EXACT_INTEGER, "beyond": 2**53, "below": -(2**53)}
    assert normal_value(facts, path="facts") == {
        "at": 9007199254740991,
        "beyond": "9007199254740992",
        "below": "-9007199254740992",
    }


def test_decimals_and_dates_are_texts() -> None:
    facts = {
        "flow": Decimal("11.80"),
        "big": Decimal("1E+3"),
        "on": date(2026, 2, 28),
        "at": (datetime(2026, 2, 28, 6, tzinfo=UTC), "early"),
    }
    assert normal_value(facts, path="facts") == {
        "flow": "11.80",
        "big": "1000",
        "on": "2026-02-28",
        "at": ["2026-02-28T06:00:00.000000Z", "early"],
    }


@pytest.mark.parametrize(
    ("facts", "named"),
    [
        ({"a": [1, 0.5]}, r"facts\.a\[1\]"),
        ({"a": Decimal("NaN")}, r"facts\.a"),
        ({"a": b"bytes"}, r"facts\.a"),
        ({1: "a"}, "not text"),
        ({"\u00fc": 1, "u\u0308": 2}, "twice"),
        ({"a": {1, 2}}, "set"),
    ],
)
def test_what_cannot_be_written_is_refused_with_its_place(
    facts: dict[str, object], named: str
) -> None:
    with pytest.raises(NotWritable, match=named):
        normal_value(facts, path="facts")


@pytest.mark.parametrize("value", [0.5, [1, 2.0], {"a": {"b": 1.0}}, 2**53])
def test_canonical_bytes_refuse_floats_and_inexact_numbers(value: object) -> None:
    with pytest.raises(NotWritable):
        canonical_bytes(value)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "text", ['{"a":1,"a":1}', "1.0", "1e3", "NaN", "-Infinity", "{", '{"a":[' * 50_000]
)
def test_json_that_is_not_strict_is_refused(text: str) -> None:
    with pytest.raises(NotWritable):
        parsed(text)


_facts = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.decimals(allow_nan=False, allow_infinity=False)
    | st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0")),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(st.text("abcÄ", max_size=3), inner, max_size=4)
    ),
    max_leaves=12,
)


@given(_facts)
def test_canonical_form_read_back_is_the_same(facts: object) -> None:
    spelled = canonical_bytes(normal_value(facts, path="facts"))
    read = parsed(spelled.decode())
    assert canonical_bytes(normal_value(read, path="facts")) == spelled
    # any database may reorder keys and add blanks
    reordered = json.dumps(json.loads(spelled), indent=2, ensure_ascii=True)
    assert canonical_bytes(parsed(reordered)) == spelled
