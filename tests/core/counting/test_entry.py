"""What is refused, held or known already at the door."""

import pytest

from moldcare.core.counting import CounterStay, check_entry, read_count, stay_at
from moldcare.core.counting.entry import duration_words
from moldcare.core.counting.values import CounterSetup, HoldReason
from moldcare.core.errors import ReadingRefused
from tests.core.counting.builders import HOUR, MINUTE, at

SIX_DIGITS = CounterSetup(digits=6)
NOW = at("12:00")


def entry(value=100, *, at_us=NOW, setup=SIX_DIGITS, **more):
    return check_entry(value, at_us=at_us, received_us=NOW, setup=setup, **more)


def test_a_plain_reading_passes():
    assert entry().hold is HoldReason.NONE
    assert not entry().is_duplicate


@pytest.mark.parametrize(("value", "sentence"), [(-1, "negative"), (1_000_000, "ends at 999999")])
def test_values_a_counter_cannot_show_are_refused(value, sentence):
    with pytest.raises(ReadingRefused, match=sentence):
        entry(value)


def test_a_given_rollover_is_the_end_of_the_counter():
    setup = CounterSetup(rollover=65_536, digits=6)
    assert entry(65_535, setup=setup).hold is HoldReason.NONE
    with pytest.raises(ReadingRefused, match="ends at 65535"):
        entry(65_536, setup=setup)


def test_a_typed_reading_from_the_future_is_refused_beyond_the_clock_error():
    assert entry(at_us=NOW + 5 * MINUTE).hold is HoldReason.NONE
    with pytest.raises(ReadingRefused, match="2 h 5 min in the future"):
        entry(at_us=NOW + 2 * HOUR + 5 * MINUTE)


def test_a_device_ahead_is_held_with_a_corrected_instant():
    found = entry(at_us=NOW + 2 * HOUR, is_from_device=True)
    assert found.hold is HoldReason.CLOCK_IS_OFF
    assert (found.clock_off_by_us, found.proposed_at_us) == (2 * HOUR, NOW)


def test_a_device_that_says_its_clock_is_corrected_by_it():
    # Read an hour before it was sent; the device's clock is 3 h ahead.
    found = entry(at_us=NOW + 2 * HOUR, is_from_device=True, device_sent_us=NOW + 3 * HOUR)
    assert (found.clock_off_by_us, found.proposed_at_us) == (3 * HOUR, NOW - HOUR)


def test_a_device_clock_that_explains_nothing_is_not_believed():
    found = entry(at_us=NOW + 2 * HOUR, is_from_device=True, device_sent_us=NOW - HOUR)
    assert found.proposed_at_us == NOW


def test_a_repeated_reading_is_a_duplicate_even_when_it_was_held():
    assert entry(known={(NOW, 100)}).is_duplicate
    assert not entry(known={(NOW, 101), (NOW - 1, 100)}).is_duplicate


def test_a_reading_before_the_fitting_is_refused():
    with pytest.raises(ReadingRefused, match="60 days before this counter was fitted"):
        entry(fitted_from_us=NOW + 60 * 24 * HOUR)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("1217400", 1_217_400),
        ("0001217", 1217),
        ("1.217.400", 1_217_400),
        ("1,217,400", 1_217_400),
        ("1 217 400", 1_217_400),
        ("1\u00a0217\u202f400", 1_217_400),
        ("1217.0", 1217),
    ],
)
def test_counts_are_read_as_people_write_them(text, value):
    assert read_count(text).value == value
    assert not read_count(text).is_estimated


@pytest.mark.parametrize("text", ["ca. 313000", "ca 313.000", "approx. 313000", "~313000"])
def test_a_rough_count_is_offered_as_an_estimate(text):
    count = read_count(text)
    assert (count.value, count.is_estimated) == (313_000, True)


@pytest.mark.parametrize(
    "text", ["1.217.40", "12.5", "1,217.400", "12a", "half", "1.2.3", "³", "٣٤", "9" * 19]
)
def test_what_may_mean_several_numbers_or_none_is_refused(text):
    with pytest.raises(ReadingRefused):
        read_count(text)


def test_a_negative_count_is_refused_as_such():
    with pytest.raises(ReadingRefused, match="negative"):
        read_count("-5")


@pytest.mark.parametrize("text", ["", "  ", "\u00a0"])
def test_nothing_written_is_nothing(text):
    assert read_count(text) is None


def test_a_reading_dated_before_an_exchange_belongs_to_the_old_counter():
    stays = [
        CounterStay(counter=1, from_us=at("06:00"), to_us=at("10:00")),
        CounterStay(counter=2, from_us=at("10:00")),
    ]
    assert stay_at(stays, at_us=at("09:59")).counter == 1
    assert stay_at(stays, at_us=at("10:00")).counter == 2
    assert stay_at(stays, at_us=at("05:00")) is None
    assert stay_at(stays[:1], at_us=at("10:00")).counter == 1


@pytest.mark.parametrize(
    ("seconds", "words"), [(45, "45 s"), (60, "1 min"), (7501, "2 h 6 min"), (172_800, "2 days")]
)
def test_durations_are_said_in_words(seconds, words):
    assert duration_words(seconds * 1_000_000) == words
