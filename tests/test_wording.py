"""One spelling for what engines write in many ways, and the word error count."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from num2words import num2words

from narrator.wording import plain_words, spell, word_errors


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("twelve point four volts", "12.4 Volts."),
        ("one hundred and fifty five", "155"),
        ("forty eight dollars and fifty cents", "$48.50"),
        ("part number k t four two one seven", "Part number KT4217"),
        ("thirteen millimeter nuts", "13mm nuts"),
        ("nineteen mil lug nuts", "19-mill lug nuts"),
        ("ninety four thousand two hundred miles", "94,200 miles"),
        ("twenty thirteen", "2013"),
        ("both torx twenty screws", "both Torx 20 screws"),
        ("it's not the pump", "Its not the pump"),
        ("p zero three zero three", "P0303"),
        ("three thirteens and two eighteens", "three 13s and two eighteen s"),
        ("ninety one pounds and twenty pence", "£91.20"),
        ("halfway up, x-ray", "half way up, xray"),
        ("six s alpha", "6 S Alpha"),
    ],
)
def test_the_same_speech_written_differently_is_the_same(one: str, other: str) -> None:
    assert plain_words(one) == plain_words(other)


@pytest.mark.parametrize(
    ("said", "heard", "errors"),
    [
        ("two ten mil bolts", "two ten mil bolts", 0),
        ("two ten mil bolts", "two ten mil volts", 1),
        ("twelve point four", "12.5", 1),
        ("torque the caliper bolts", "talk the bolts", 2),
        ("", "hello there", 2),
    ],
)
def test_word_errors(said: str, heard: str, errors: int) -> None:
    assert word_errors(plain_words(said), plain_words(heard)) == errors


@given(st.integers(0, 999_999))
def test_numbers_are_spelled_as_a_reference_library_does(number: int) -> None:
    theirs = num2words(number).replace("-", " ").replace(",", "").replace(" and ", " ")
    assert spell(number) == theirs


@given(st.text())
def test_any_text_has_words(text: str) -> None:
    assert all(plain_words(text))
