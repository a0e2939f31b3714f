from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from narrator.hearing.acoustics import Floats
from narrator.hearing.homophones import numbers_restored, pairs
from narrator.hearing.language_model import LanguageModel
from narrator.hearing.readings import Judge
from narrator.paths import MODELS
from narrator.values import Word

SOUND = np.zeros((3, 3), np.float32)


class Liking:
    """An ear whose language likes some texts by so much, and to which some words fit better."""

    def __init__(self, *fitting: str, **gains: float) -> None:
        self._gains = {name.replace("_", " "): gain for name, gain in gains.items()}
        self._fitting = fitting
        self.language = self

    def score(self, words: Sequence[str]) -> float:
        return self._gains.get(" ".join(words), 0.0)

    def fits(self, scores: Floats, texts: Sequence[Sequence[str]]) -> list[float]:
        return [4.0 * sum(word in self._fitting for word in text) for text in texts]


def restored(said: list[Word], ear: Judge, heard: Collection[tuple[str, str]] = ()) -> list[Word]:
    return numbers_restored(said, SOUND, ear, heard)


def words(text: str) -> list[Word]:
    return [Word(word, 0.0, 1.0, 0.9) for word in text.split()]


def test_a_number_is_taken_for_a_word_of_the_same_sound_and_the_word_is_told() -> None:
    found = restored(words("ten point for, cranking."), Liking(ten_point_four_cranking=5.0))
    assert [(w.word, w.other) for w in found] == [
        ("ten", None), ("point", None), ("four,", "for,"), ("cranking.", None),
    ]  # fmt: skip
    assert found[2].conf is not None and found[2].conf < 0.9


def test_less_is_enough_where_another_text_has_the_number() -> None:
    liking = Liking(back_two_seven_mil=2.0)
    assert [w.word for w in restored(words("back to seven mil"), liking)][1] == "to"
    heard = pairs([["back", "two", "clips"]])
    assert [w.word for w in restored(words("back to seven mil"), liking, heard)][1] == "two"


def test_a_letter_is_taken_beside_a_number_or_another_letter_alone() -> None:
    liking = Liking(p_see_four=5.0, i_c_it=5.0)
    assert [w.word for w in restored(words("P see four"), Liking(p_c_four=5.0))] == ["P", "c", "four"]
    assert [w.word for w in restored(words("I see it"), liking)] == ["I", "see", "it"]


def test_what_sounds_nearly_the_same_must_fit_the_sound_too() -> None:
    text, liking = words("from when pair of cables"), {"from_one_pair_of_cables": 3.0}
    assert [w.word for w in restored(text, Liking(**liking))][1] == "when"
    assert [w.word for w in restored(text, Liking("one", **liking))][1] == "one"
    assert [w.word for w in restored(text, Liking("one"))][1] == "when"


def test_a_unit_is_taken_after_a_number_alone() -> None:
    liking = Liking("mil", thirteen_mil_bolts=3.0, there_mil_bolts=3.0)
    assert [w.word for w in restored(words("thirteen no bolts"), liking)] == ["thirteen", "mil", "bolts"]
    assert [w.word for w in restored(words("there no bolts"), liking)] == ["there", "no", "bolts"]


@given(st.lists(st.sampled_from(["one", "two", "four", "eight", "for", "to", "bolts", "c", "see"])))
def test_no_number_is_given_up(texts: list[str]) -> None:
    class Anything(Liking):
        def score(self, words: Sequence[str]) -> float:
            return float(hash(tuple(words)) % 20)

    found = restored([Word(text, 0.0, 1.0, 0.9) for text in texts], Anything())
    for before, after in zip(texts, found, strict=True):
        assert after.word == before or before in ("for", "to", "see")


@pytest.mark.parametrize(
    ("dictated", "meant"),
    [
        ("twelve point six resting and ten point for cranking", "four"),
        ("two ten mil nuts and for thirteen mil bolts", "four"),
        ("two fifteenths out of the bracket", "fifteens"),
        ("nine sixteenths on the nut", "sixteenths"),
        ("waiting for the parts to come", "for"),
        ("back to the shop for lunch", "to"),
    ],
)
def test_the_trades_language_tells_numbers_from_words(dictated: str, meant: str) -> None:
    ear = Liking()
    ear.language = LanguageModel(MODELS / "shop" / "language.arpa.gz")  # type: ignore[assignment]
    found = [word.word for word in restored(words(dictated), ear)]
    assert meant in found and len(found) == len(dictated.split())
    if meant in dictated.split():
        assert " ".join(found) == dictated
