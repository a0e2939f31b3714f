"""Figures in the way in which they were said."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from narrator.hearing.readings import as_said, readings
from narrator.hearing.spoken import in_words
from narrator.values import Word

SOUND = np.zeros(1, np.float32)


class Judge:
    """Finds that a text fits the worse, the more of its words differ from what was said."""

    def __init__(self, said: str, language: Any = None) -> None:
        self._said = said.split()
        self.language: Any = self

    def score(self, words: Sequence[str]) -> float:
        return 0.0

    def fits(self, scores: Any, texts: Sequence[Sequence[str]]) -> list[float]:
        return [-10.0 * sum(a != b for a, b in zip(text, self._said, strict=False)) for text in texts]


@pytest.mark.parametrize(
    ("word", "ways"),
    [
        ("113", ["one hundred thirteen", "one thirteen", "one one three"]),
        ("1087,", ["one thousand eighty seven", "ten eighty seven", "one oh eight seven"]),
        ("54.95", ["fifty four point nine five", "fifty four ninety five"]),
        ("2-10", ["two ten", "two dash ten"]),
        ("3/8", ["three eight", "three eighths"]),
        ("1/2", ["one two", "one half"]),
        ("10mm", ["ten millimeters"]),
        ("$81.50", ["eighty one dollars fifty", "eighty one fifty"]),
        ("0.4", ["zero point four", "point four"]),
        ("50,000-60", ["fifty thousand sixty", "fifty thousand dash sixty"]),
    ],
)
def test_ways_to_say_a_figure(word: str, ways: list[str]) -> None:
    assert readings(word)[0] == ways[0] == in_words(word)
    assert set(ways) <= set(readings(word))


@pytest.mark.parametrize("word", ["bolts", "P0301", "-", "", "M8", "3/8/"])
def test_what_is_no_figure_has_none(word: str) -> None:
    assert readings(word) == ()


@pytest.mark.parametrize(
    ("written", "said", "kept"),
    [
        ("113 nut.", "one thirteen nut", "one thirteen nut."),
        ("113 nuts", "one hundred thirteen nuts", "113 nuts"),
        ("113 nuts", "one hundred and thirteen nuts", "113 nuts"),
        ("in 2011", "in two thousand eleven", "in 2011"),
        ("2-10 mil", "two ten mil", "two ten mil"),
        ("a 3/8 bolt", "a three eighths bolt", "a 3/8 bolt"),
        ("off, 3/8 mil", "off three eight mil", "off, three eight mil"),
        ("Number 104824", "number one zero four eight two four", "Number one zero four eight two four"),
        ("at 54.95,", "at fifty four ninety five", "at fifty four ninety five,"),
        ("P0301 and bolts", "p zero three zero one and bolts", "P0301 and bolts"),
    ],
)
def test_a_figure_is_put_as_the_sound_has_it_unless_it_says_that_already(
    written: str, said: str, kept: str
) -> None:
    words = [Word(word, 0.0, 1.0, 0.9) for word in written.split()]
    assert " ".join(word.word for word in as_said(words, SOUND, Judge(said))) == kept


@given(st.text(alphabet="0123456789,.:/-$£€%mv٣", max_size=12))
def test_no_writing_of_figures_is_refused(word: str) -> None:
    readings(word)
    as_said([Word(word, 0.0, 1.0, 0.9)], SOUND, Judge("one"))


@given(st.from_regex(r"[$£]?\d{0,8}(\.\d{1,3})?([-:/]\d{1,3}){0,2}(mm|v)?[.,]?", fullmatch=True))
def test_any_figure_has_a_bounded_number_of_ways(word: str) -> None:
    assert len(readings(word)) <= 60
    as_said([Word(word, 0.0, 1.0, 0.9)], SOUND, Judge("one"))
