"""The bundled model's own encoder, about the numbers of a noisy piece; all lines are invented."""

from __future__ import annotations

import platform
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from narrator.hearing import memory
from narrator.hearing.both_ears import BothEars
from narrator.hearing.moonshine_engine import MoonshineDecoder, SteeredDecoder, model_folder, open_decoder
from narrator.hearing.moonshine_model import MoonshineModel
from narrator.hearing.segmenter import Segment
from narrator.hearing.third_voice import Opinion, weights
from narrator.settings import Settings
from narrator.values import Word
from tests.hearing.test_both_ears import PIECE, Ear, said


class Voice:
    """Says the same of every piece and counts how often it was asked."""

    def __init__(self, text: str) -> None:
        self.asked, self._text = 0, text

    def decode(self, segment: Segment) -> list[Word]:
        self.asked += 1
        return said(self._text)


def settled(dictated: str, heard: str, third: str, sure: float = 1.0) -> list[Word]:
    ear: Any = Ear(heard, heard)
    return Opinion(Voice(third), PIECE, PIECE.samples, ear).settled(said(dictated), said(heard, sure))


def test_a_number_that_both_others_have_takes_the_place_of_another_and_comes_up_for_a_look() -> None:
    words = settled(
        "housing on thirty. volts back", "housing on three bolts back", "causing on three boats pack"
    )
    assert [w.word for w in words] == ["housing", "on", "three.", "volts", "back"]
    assert (words[2].other, words[2].conf) == ("thirty.", weights()["settled"])
    assert all(w.other is None for w in words if w is not words[2])
    assert [w.word for w in settled("on 14, bolts", "on forty bolts", "on 40 boats")] == [
        "on",
        "forty,",
        "bolts",
    ]


@pytest.mark.parametrize(
    ("dictated", "heard", "third", "sure"),
    [
        ("on thirty bolts", "on three bolts", "on three bolts", 0.9),  # the second ear is not sure
        ("on thirty bolts", "on three bolts", "on forty bolts", 1.0),  # the third voice has another
        ("on thirty bolts", "on three bolts", "", 1.0),  # or nothing
        ("on these bolts", "on three bolts", "on three bolts", 1.0),  # no number is put in
        ("on three bolts", "on these bolts", "on these bolts", 1.0),  # and none given up
        ("on bolts", "on three bolts", "on three bolts", 1.0),
        ("on 113 bolts", "on one fourteen bolts", "on one fourteen bolts", 1.0),  # part of a figure
    ],
)
def test_all_else_stays(dictated: str, heard: str, third: str, sure: float) -> None:
    assert [w.word for w in settled(dictated, heard, third, sure)] == dictated.split()


def test_texts_with_its_numbers_count_for_more() -> None:
    ear: Any = Ear("", "")
    texts = ["cleaned two thirty bolts at twelve", "cleaned to three bolts at twelve"]
    for heard, known in (("queen to three bolts at 12", 3 / 6), ("cleaned to three bolts at 12", 4 / 6)):
        opinion = Opinion(Voice(heard), PIECE, PIECE.samples, ear)
        bonuses = opinion.bonuses([text.split() for text in texts])
        assert bonuses[1] - bonuses[0] == pytest.approx(weights()["shared"] * known)
    assert Opinion(Voice("three"), PIECE, PIECE.samples, ear).bonuses([["ten"], ["three"]]) == [0.0, 0.0]


def test_it_is_asked_once_and_only_where_a_noisy_piece_has_numbers_that_differ() -> None:
    voice, ear = Voice("three bolts"), Ear("three bolts", "three bolts")
    clear = np.zeros(16_000, np.float32)
    clear[4_000:12_000] = 0.1 * np.sin(np.arange(8_000) * 0.24)
    piece = Segment(0, clear, np.ones(50, np.bool_))
    opinion = Opinion(voice, piece, clear, ear)  # type: ignore[arg-type]
    assert opinion.bonuses([["three", "bolts"], ["thirty", "bolts"]]) == [0.0, 0.0]
    assert voice.asked == 0
    opinion = Opinion(voice, PIECE, PIECE.samples, ear)  # type: ignore[arg-type]
    opinion.bonuses([["three", "bolts"], ["three", "volts"]])
    opinion.settled(said("three volts"), said("three bolts"))
    assert voice.asked == 0
    opinion.bonuses([["three", "bolts"], ["thirty", "bolts"]])
    opinion.settled(said("thirty bolts"), said("three bolts", 1.0))
    assert voice.asked == 1


class First:
    """A dictation that wavers between two texts."""

    name = "first"

    def __init__(self, texts: dict[str, float], voice: Voice) -> None:
        self._texts, self._voice = texts, voice

    def third(self) -> Voice:
        return self._voice

    def decode(self, segment: Segment) -> list[Word]:
        raise AssertionError("it has texts")

    def alternatives(self, segment: Segment) -> list[tuple[list[Word], float]]:
        return [(said(text, 0.5), p) for text, p in self._texts.items()]


@pytest.mark.parametrize(("third", "taken"), [("the ten mil fault", "ten"), ("the two mil bolt", "two")])
def test_where_the_dictation_wavers_between_numbers_the_third_voice_counts(third: str, taken: str) -> None:
    first = First({"a two mil bolt": 0.6, "a ten mil bolt": 0.4}, Voice(third))
    ear: Any = Ear("a mil bolt", "none of them")
    assert [w.word for w in BothEars(first, ear).decode(PIECE)][1] == taken


@pytest.mark.engine
def test_only_the_tuned_dictation_has_one(tmp_path: Path) -> None:
    settings = Settings(home=tmp_path)
    steered = open_decoder(settings)
    assert isinstance(steered, SteeredDecoder)
    assert steered.third is not None
    third = steered.third()
    assert type(third) is MoonshineDecoder
    sound = np.random.default_rng(0).normal(0, 0.05, 20_000).astype(np.float32)
    networks = [
        decoder._network
        for decoder in (MoonshineDecoder(MoonshineModel(model_folder() or Path())), third, steered)
    ]
    own, also_own, tuned = (network.encode(sound).hidden for network in networks)
    assert np.allclose(own, also_own)
    assert not np.allclose(own, tuned, atol=0.1)
    assert getattr(open_decoder(settings, steered=False), "third", None) is None


def test_memory_is_given_back_where_there_is_a_way(monkeypatch: pytest.MonkeyPatch) -> None:
    assert memory.give_back() == (platform.libc_ver()[0] == "glibc")
    monkeypatch.setattr(memory, "_TRIM", None)
    assert not memory.give_back()
