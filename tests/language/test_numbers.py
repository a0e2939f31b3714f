"""Numbers in words, digits and both; every whole number reads back as it was said."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from num2words import num2words

from narrator.language.figures import Figure, Figures, implied_decimal, join, numeral
from narrator.language.numbers import find_figures
from narrator.language.selfcorrect import drop_corrected
from narrator.language.tokens import split_words


def figures(text: str) -> list[Figure]:
    notes = split_words(text)
    return find_figures(notes.words, notes.marks)


def value(text: str) -> float | None:
    found = figures(text)
    return join(found) if found else None


def test_rows_are_those_of_the_figures_as_they_are_now() -> None:
    four, twenty, eight = Figure(0, 1, 4, "whole"), Figure(1, 2, 20, "whole"), Figure(2, 3, 8, "whole")
    found = Figures([four, twenty, eight], {f.start: f for f in (four, twenty, eight)})
    assert found.run(0, {2: ","}) == found.run(0, {2: ","}) == [four, twenty]
    assert found.run(3, {}) == []
    found.put([four, eight])
    assert found.run(0, {2: ","}) == [four]
    assert found.run(1, {}) == []


@given(st.integers(0, 999_999_999))
def test_words_read_back(number: int) -> None:
    assert value(num2words(number)) == number
    assert value(num2words(number).replace(" and ", " ").replace("-", " ").replace(",", "")) == number


@given(st.integers(0, 9999), st.integers(0, 99))
def test_decimals_read_back(whole: int, part: int) -> None:
    said = f"{num2words(whole)} point {' '.join(num2words(int(d)) for d in f'{part:02d}')}"
    assert value(said) == float(f"{whole}.{part:02d}")


@given(st.integers(100, 999).filter(lambda n: n % 100 > 9))
def test_shop_hundreds_read_back(number: int) -> None:
    said = f"{num2words(number // 100)} {num2words(number % 100)}"
    assert value(said) == number


@given(st.integers(1, 9), st.integers(1, 9))
def test_oh_reads_back(hundreds: int, ones: int) -> None:
    assert value(f"{num2words(hundreds)} oh {num2words(ones)}") == hundreds * 100 + ones


@given(st.integers(0, 2_000_000))
def test_written_numbers_read_back(number: int) -> None:
    assert value(str(number)) == number
    assert value(f"{number:,}") == number


@pytest.mark.parametrize(
    ("said", "wanted"),
    [
        ("four twenty", 420), ("two forty five", 245), ("one oh five", 105), ("three ninety five", 395),
        ("one sixty seven two forty", 167240), ("ninety eight four hundred", 98400),
        ("one twenty two thousand", 122000), ("two oh three thousand one hundred and ten", 203110),
        ("a hundred and forty two thousand six hundred", 142600),
        ("ninety eight thousand four hundred", 98400),
        ("twenty five hundred", 2500), ("eighteen thirty", 1830), ("thirty four fifty", 3450),
        ("five and a half", 5.5), ("two and a quarter", 2.25), ("two and three quarters", 2.75),
        ("seven sixteenths", 0.4375), ("two thirty seconds", 0.0625), ("2 30 seconds", 0.0625),
        ("nine sixteenths", 0.5625), ("one and one sixteenth", 1.0625), ("2 1/4", 2.25), ("3/8", 0.375),
        ("2½", 2.5),
        ("point four", 0.4), ("zero point nine", 0.9), ("point oh oh two", 0.002), ("12 point 4", 12.4),
        ("a couple of", 2), ("a dozen", 12), ("half a dozen", 6), ("98 thousand 400", 98400),
        ("1,299.50", 1299.5),
        ("3,5", 3.5), ("hundred forty", 140), ("one twelve point five", 112.5), ("double", None),
    ],
)  # fmt: skip
def test_as_said(said: str, wanted: float | None) -> None:
    assert value(said) == wanted


@pytest.mark.parametrize(
    ("said", "wanted"),
    [
        ("fourteen two", 14.2),
        ("twelve six five", 12.65),
        ("twelve sixty five", 12.65),
        ("fourteen point two", None),
    ],
)
def test_implied_point(said: str, wanted: float | None) -> None:
    assert implied_decimal(figures(said)) == wanted


@pytest.mark.parametrize(
    ("said", "wanted"),
    [
        ("two ten", [2, 10]), ("one thirteen", [1, 13]), ("four fourteen", [4, 14]),
        ("two five sixteenths", [2, 0.3125]),
        ("three eight", [3, 8]), ("at that point two", [2]), ("half the bolts", []), ("the third one", [1]),
        ("a second look", []), ("one of them", [1]), ("twelve, thirteen", [12, 13]),
    ],
)  # fmt: skip
def test_figures_stay_apart(said: str, wanted: list[float]) -> None:
    assert [f.value for f in figures(said)] == wanted


@pytest.mark.parametrize("said", ["three nine", "two two"])
def test_two_single_digits_are_no_number(said: str) -> None:
    assert value(said) is None


@pytest.mark.parametrize(
    ("said", "stands", "gone"),
    [
        ("four no three ten mil bolts", [3, 10], [(0, 2)]),
        ("thirty five no forty thou", [40], [(0, 3)]),
        ("six sorry seven eight mil bolts", [7, 8], [(0, 2)]),
        ("two i mean three", [3], [(0, 3)]),
        ("twelve make that thirteen volts", [13], [(0, 3)]),
        ("uh ten, no wait, twelve", [12], [(1, 4)]),
        ("two forty no two fifty", [2, 50], [(0, 3)]),
        ("two ten no twelve mil bolts", [2, 12], [(1, 3)]),
        ("thirty foot pounds no forty", [40], [(3, 5)]),
        ("two ten mil bolts no three", [3, 10], [(4, 6)]),
        ("no change four twenty", [4, 20], []),
        ("no thirteen mil nut there", [13], []),
        ("it's twelve. no. three bolts", [12, 3], []),
        ("fuse eight no nine amps", [8, 9], []),
        ("ninety psi no three bolts left", [90, 3], []),
    ],
)
def test_values_taken_back(said: str, stands: list[float], gone: list[tuple[int, int]]) -> None:
    notes = split_words(said)
    kept = drop_corrected(notes, find_figures(notes.words, notes.marks))
    assert [f.value for f in kept] == stands
    assert notes.scratch.get("dropped", []) == gone


@given(st.text(max_size=40))
def test_any_text_gives_figures_inside_it(text: str) -> None:
    notes = split_words(text)
    found = find_figures(notes.words, notes.marks)
    assert all(0 <= f.start < f.end <= len(notes.words) for f in found)
    assert all(a.end <= b.start for a, b in itertools.pairwise(found))


_SHOP = """
one two three ten twelve thirteen twenty thirty hundred thousand point oh no sorry and a half quarter eighths
sixteenths seconds mil bolts nuts volts psi foot pounds minus to of the 12 3.5 210 1/4 dozen couple
"""


@settings(max_examples=400)
@given(st.lists(st.sampled_from(_SHOP.split()), max_size=12))
def test_any_row_of_shop_words_holds_together(words: list[str]) -> None:
    notes = split_words(" ".join(words))
    found = find_figures(notes.words, notes.marks)
    kept = drop_corrected(notes, found)
    assert all(0 <= f.start < f.end <= len(notes.words) for f in kept)
    assert len({f.start for f in kept}) == len(kept)


@pytest.mark.parametrize("word", ["", "٣", "²", "1" * 400, "1.2.3", "50/50", "1/0", "9/7", "-", "1e5"])
def test_what_is_no_number(word: str) -> None:
    assert numeral(word) is None
