from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest

from narrator.hearing import both_ears
from narrator.hearing.both_ears import BothEars
from narrator.hearing.fusion import chance, differences
from narrator.hearing.segmenter import Segment
from narrator.hearing.spoken import in_words
from narrator.values import Word

PIECE = Segment(32_000, np.zeros(48_000, np.float32), np.ones(150, np.bool_))


def said(text: str, conf: float = 0.9) -> list[Word]:
    return [Word(word, 2.0, 2.5, conf) for word in text.split()]


class Language:
    def __init__(self, good: str) -> None:
        self.good = good.split()

    def score(self, words: Sequence[str]) -> float:
        return -3.0 * len(words) - 8.0 * (list(words) != self.good)

    def knows(self, word: str) -> bool:
        return word in self.good


class Ear:
    """A second ear that hears what it is told to, and finds that what was said fits the sound best."""

    def __init__(self, hears: str, truth: str, sure: float = 1.0) -> None:
        self.language: Any = Language(truth)
        self.own: Any = None
        self._hears, self._truth, self._sure = hears, truth.split(), sure

    def hear(self, segment: Segment) -> list[Word]:
        return said(self._hears, self._sure)

    def scores(self, samples: Any) -> Any:
        return samples

    def fits(self, scores: Any, texts: Sequence[Sequence[str]]) -> list[float]:
        return [100.0 - 30.0 * (list(text) != self._truth) for text in texts]

    def times(self, scores: Any, text: Sequence[str]) -> list[tuple[float, float]]:
        return [(i / 10, i / 10 + 0.1) for i in range(len(text))]


class First:
    name = "first"

    def __init__(self, words: list[Word]) -> None:
        self._words = words

    def decode(self, segment: Segment) -> list[Word]:
        return self._words


def both(dictated: list[Word], ear: Ear) -> list[Word]:
    return BothEars(First(dictated), ear).decode(PIECE)  # type: ignore[arg-type]


def test_agreement_raises_certainty_and_times_are_measured() -> None:
    words = both(said("two bolts", 0.6), Ear("two bolts", "two bolts"))
    assert [(w.word, w.start, w.end, w.conf) for w in words] == [
        ("two", 2.0, 2.1, pytest.approx(0.8)),
        ("bolts", 2.1, 2.2, pytest.approx(0.8)),
    ]


def test_what_fits_the_sound_and_the_trade_better_is_taken() -> None:
    truth = "there were two ten mil bolts left in"
    words = both(said("there were To 10mm boats left in", 0.05), Ear(truth, truth))
    assert " ".join(w.word for w in words) == truth


def test_a_sure_dictation_is_kept() -> None:
    words = both(said("Four fourteen", 0.99), Ear("four forty", "four fourteen"))
    assert " ".join(w.word for w in words) == "Four fourteen"


def test_nothing_heard_stays_nothing() -> None:
    assert both([], Ear("two bolts", "two bolts")) == []


@pytest.mark.parametrize(
    ("dictated", "heard"),
    [
        ("so 210mm bolts out", "so two ten mil bolts out"),
        ("one two three", "three two one"),
        ("a", "a b c"),
        ("a b c", "c"),
        ("12.4 volts", "twelve point five volts"),
    ],
)
def test_taking_every_difference_gives_what_the_second_ear_heard(dictated: str, heard: str) -> None:
    words, other = said(dictated), said(heard)
    ear: Any = Ear(heard, heard)
    for stretch in reversed(differences(words, other, PIECE.samples, ear)):
        words[stretch.first : stretch.last] = stretch.words
    assert in_words(" ".join(w.word for w in words)) == heard


def test_an_open_question_about_a_number_keeps_the_first_reading_and_tells_both(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(both_ears, "chance", lambda stretch: 0.5)
    words = both(said("four fourteen mil", 0.9), Ear("four forty mil", "four forty mil"))
    assert [(w.word, w.other) for w in words] == [("four", None), ("fourteen", "forty"), ("mil", None)]
    assert words[1].conf == both_ears.limits()["doubted"]
    (_, one) = both(said("bolts out", 0.9), Ear("bolts ten out", "bolts ten out"))
    assert one.word == "out" and one.other is None
    (one, _) = both(said("bolts out", 0.9), Ear("bolts ten out", "bolts ten out"))
    assert one.other == "bolts ten"


def test_a_number_taken_from_the_second_ear_tells_the_first_reading_unless_quite_sure(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    for better, other in ((0.96, "fourteen"), (0.995, None)):
        monkeypatch.setattr(both_ears, "chance", lambda stretch, sure=better: sure)
        words = both(said("four fourteen mil", 0.9), Ear("four forty mil", "four forty mil"))
        assert [(w.word, w.other) for w in words] == [("four", None), ("forty", other), ("mil", None)]


@pytest.mark.parametrize(
    ("sure", "better", "taken"), [(1.0, 0.7, True), (0.9, 0.7, False), (0.9, 0.99, True), (1.0, 0.5, False)]
)
def test_a_number_that_only_an_unsure_second_ear_heard_is_not_put_in_but_comes_up_for_a_look(
    sure: float, better: float, taken: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(both_ears, "chance", lambda stretch: better)
    heard = "well twelve point is out"
    words = both(said("well quite is out", 0.3), Ear(heard, heard, sure))
    assert " ".join(w.word for w in words) == (heard if taken else "well quite is out")
    assert taken or [w.other for w in words] == [None, "twelve point", None, None]


@pytest.mark.parametrize(("better", "taken"), [(0.82, True), (0.7, False)])
def test_an_unsure_second_ear_still_has_its_say_of_plain_words_where_it_is_clearly_better(
    better: float, taken: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(both_ears, "chance", lambda stretch: better)
    words = both(said("the boats are out", 0.3), Ear("the bolts are out", "the bolts are out", 0.9))
    assert " ".join(w.word for w in words) == f"the {'bolts' if taken else 'boats'} are out"


@pytest.mark.parametrize(("better", "taken"), [(0.96, True), (0.9, False)])
def test_of_a_piece_that_the_ears_share_a_third_of_the_second_one_must_be_quite_sure(
    better: float, taken: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(both_ears, "chance", lambda stretch: better)
    words = both(said("the boats there", 0.3), Ear("the bolts out", "the bolts out"))
    assert " ".join(w.word for w in words) == ("the bolts out" if taken else "the boats there")


@pytest.mark.parametrize(
    ("dictated", "heard", "kind", "value"),
    [
        ("seventy twenty screws", "seven t twenty screws", "alike", True),
        ("back to seven mil", "back two seven mil", "alike", True),
        ("the knew hose", "the new hose", "alike", False),
        ("back two seven mil", "back the seven mil", "lost", True),
        ("only half a clip", "only not the clip", "lost", True),
        ("four fourteen", "four forty", "number", True),
        ("the boats", "the eight boats", "invented", True),
        ("the boats", "the bolts", "word", False),
    ],
)
def test_what_is_at_stake_where_the_ears_differ(dictated: str, heard: str, kind: str, value: bool) -> None:
    ear: Any = Ear(heard, heard)
    (stretch,) = differences(said(dictated), said(heard), PIECE.samples, ear)
    assert (stretch.kind, stretch.value) == (kind, value)


def test_of_what_sounds_the_same_the_language_decides() -> None:
    heard, other = "back two seven mil", "back to seven mil"
    assert " ".join(w.word for w in both(said(other, 0.99), Ear(heard, heard))) == heard
    assert " ".join(w.word for w in both(said(other, 0.99), Ear(heard, other))) == other
    assert " ".join(w.word for w in both(said(heard, 0.99), Ear(other, other))) == heard


class Several(First):
    """A dictation that gives several texts."""

    def __init__(self, *texts: tuple[str, float]) -> None:
        super().__init__(said(texts[0][0]))
        self._texts = texts

    def alternatives(self, segment: Segment) -> list[tuple[list[Word], float]]:
        return [(said(text), p) for text, p in self._texts]


def test_the_text_that_fits_is_chosen_and_its_figures_are_put_as_said() -> None:
    first: Any = Several(("okay 2 bolts", 0.6), ("okay 113 bolts", 0.4))
    truth = "okay one thirteen bolts"
    ear: Any = Ear(truth, truth)
    assert " ".join(w.word for w in BothEars(first, ear).decode(PIECE)) == truth


def test_what_another_text_of_the_dictation_has_seconds_the_second_ear() -> None:
    ear: Any = Ear("ten bolts out", "ten bolts out")
    texts = [(["tin", "bolts", "out"], 0.7), (["ten", "bolts", "out"], 0.3)]
    (alone,) = differences(said("tin bolts out"), said("ten bolts out"), PIECE.samples, ear)
    (seconded,) = differences(said("tin bolts out"), said("ten bolts out"), PIECE.samples, ear, texts)
    assert chance(seconded) > chance(alone)


def test_where_the_ears_agree_on_little_more_is_needed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(both_ears, "chance", lambda stretch: 0.9)
    first = said("god bless them all forever")
    words = both(first, Ear("plug torqued to seven", "plug torqued to seven"))
    assert [w.word for w in words] == [w.word for w in first]
    assert [w.word for w in both(said("plug talked to seven"), Ear("plug torqued to seven", ""))] == [
        "plug", "torqued", "to", "seven",
    ]  # fmt: skip
