from __future__ import annotations

from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from narrator.hearing.homophones import numbers_restored, pairs
from narrator.hearing.language_model import LanguageModel
from narrator.paths import MODELS
from narrator.values import Word


class Liking:
    """A language that likes some texts by so much."""

    def __init__(self, **gains: float) -> None:
        self._gains = {name.replace("_", " "): gain for name, gain in gains.items()}

    def score(self, words: Sequence[str]) -> float:
        return self._gains.get(" ".join(words), 0.0)


def words(text: str) -> list[Word]:
    return [Word(word, 0.0, 1.0, 0.9) for word in text.split()]


def test_a_number_is_taken_for_a_word_of_the_same_sound_and_the_word_is_told() -> None:
    found = numbers_restored(words("ten point for, cranking."), Liking(ten_point_four_cranking=5.0))
    assert [(w.word, w.other) for w in found] == [
        ("ten", None), ("point", None), ("four,", "for,"), ("cranking.", None),
    ]  # fmt: skip
    assert found[2].conf is not None and found[2].conf < 0.9


def test_less_is_enough_where_another_text_has_the_number() -> None:
    liking = Liking(back_two_seven_mil=2.0)
    assert [w.word for w in numbers_restored(words("back to seven mil"), liking)][1] == "to"
    heard = pairs([["back", "two", "clips"]])
    assert [w.word for w in numbers_restored(words("back to seven mil"), liking, heard)][1] == "two"


def test_a_letter_is_taken_beside_a_number_or_another_letter_alone() -> None:
    liking = Liking(p_see_four=5.0, i_c_it=5.0)
    assert [w.word for w in numbers_restored(words("P see four"), Liking(p_c_four=5.0))] == ["P", "c", "four"]
    assert [w.word for w in numbers_restored(words("I see it"), liking)] == ["I", "see", "it"]


@given(st.lists(st.sampled_from(["one", "two", "four", "eight", "for", "to", "bolts", "c", "see"])))
def test_no_number_is_given_up(texts: list[str]) -> None:
    class Anything:
        def score(self, said: Sequence[str]) -> float:
            return float(hash(tuple(said)) % 20)

    found = numbers_restored([Word(text, 0.0, 1.0, 0.9) for text in texts], Anything())
    for before, after in zip(texts, found, strict=True):
        assert after.word == before or before in ("for", "to", "see")


@pytest.mark.parametrize(
    ("dictated", "meant"),
    [
        ("twelve point six resting and ten point for cranking", "four"),
        ("two ten mil nuts and for thirteen mil bolts", "four"),
        ("waiting for the parts to come", "for"),
        ("back to the shop for lunch", "to"),
    ],
)
def test_the_trades_language_tells_numbers_from_words(dictated: str, meant: str) -> None:
    language = LanguageModel(MODELS / "shop" / "language.arpa.gz")
    found = [word.word for word in numbers_restored(words(dictated), language)]
    assert meant in found and len(found) == len(dictated.split())
    if meant in dictated.split():
        assert " ".join(found) == dictated
