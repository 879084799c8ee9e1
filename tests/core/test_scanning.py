"""Codes as readers type them. Keys and signs: xkeyboard-config 2.35, symbols/us, de, fr and es."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from moldcare.core.scanning import (
    LONGEST_CODE,
    OtherKeyboard,
    address_path,
    other_keyboards,
    scanned_code,
)

ADDRESS = "https://moldcare.plant/molds/M-1042"


@pytest.mark.parametrize(
    "typed",
    ["*0417", "*0417*", "]Q10417", "]C10417", "0417\t", "0417\r\n", "\n0417\n", " 0417 ", "0417"],
)
def test_marks_before_and_after_are_no_part_of_the_code(typed: str) -> None:
    assert scanned_code(typed) == "0417"


@pytest.mark.parametrize("typed", ["M-1042", "7 A", "rack/B4", "]", "2*3"])
def test_what_is_no_mark_stays(typed: str) -> None:
    assert scanned_code(typed) == typed


def test_a_code_is_never_longer_than_a_label_holds() -> None:
    assert len(scanned_code("9" * 5_000)) == LONGEST_CODE


@given(st.text(max_size=40))
def test_taking_marks_away_leaves_no_sign_that_cannot_be_seen(text: str) -> None:
    code = scanned_code(text)
    assert code.isprintable()
    assert not code.startswith("*")
    assert not code.endswith("*")


@pytest.mark.parametrize(
    ("code", "path"),
    [
        (ADDRESS, "/molds/M-1042"),
        ("HTTP://10.0.0.7:8000/spots/press/7", "/spots/press/7"),
        ("https://a/molds/M%2F1#circuit-3", "/molds/M%2F1#circuit-3"),
        ("https://a/molds/7?x=1", "/molds/7"),
        ("https://a", "/"),
        ("ftp://a/molds/7", None),
        ("M-1042", None),
        ("https:///molds", None),
    ],
)
def test_the_path_of_an_address(code: str, path: str | None) -> None:
    assert address_path(code) == path


@pytest.mark.parametrize(
    ("typed", "keyboard", "meant"),
    [
        # badge 10417: unshifted digits of an AZERTY keyboard are signs
        ("&à'&è", "French", "10417"),
        # a reader that is set to French presses shift for digits; the tablet is set to English
        ("!)$!&", "French", "10417"),
        ("httpsÖ--moldcare.plant-molds-Mß1042", "German", ADDRESS),
        ("https>&&moldcare.plant&molds&M/1042", "German", ADDRESS),
        ("httpsÑ--moldcare.plant-molds-M'1042", "Spanish", ADDRESS),
        ("httpsM!!,oldcqre:plqnt!,olds!?)&à'é", "French", ADDRESS),
    ],
)
def test_keys_of_another_keyboard_are_recognized(typed: str, keyboard: str, meant: str) -> None:
    assert OtherKeyboard(keyboard=keyboard, meant=meant) in other_keyboards(typed)


@pytest.mark.parametrize("code", ["10417", "0417", ADDRESS, "M-1042"])
def test_what_came_through_the_right_keyboard_is_left_alone(code: str) -> None:
    assert [each for each in other_keyboards(code) if address_path(each.meant)] == []
    assert [each for each in other_keyboards(code) if each.meant.isdigit()] == []
