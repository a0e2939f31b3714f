"""Voices and lines for tuning the dictation."""

from __future__ import annotations

import random
import shutil

import pytest

pytest.importorskip("soxr")
from models.train import speech
from models.train.speech import tuning_lines, voice_of
from models.train.voices import PANEL, REPORTED, TRAINED, TUNED, UNHEARD, WEIGHED, drawn, speak
from tests.bench.false_commands import VOICES


def test_drawn_voices_are_none_of_those_that_figures_are_told_of() -> None:
    rng = random.Random(3)
    names = {drawn(rng) for _ in range(3000)}
    bare = {name.partition("/")[0] for name in names}
    assert not bare & {*REPORTED, *PANEL}
    accents = {name.partition("~")[0].partition("+")[0] for name in bare if "~" in name}
    assert {"espeak:de", "espeak:ru"} < accents
    assert not accents & {"espeak:nl", "espeak:uk", "espeak:ml"}, "these are left to measure with"
    assert {name.partition(":")[0] for name in names} == {
        "espeak", "flite", "pico", "rhvoice", "piper", "festival", "kokoro"
    }  # fmt: skip


def test_long_lines_are_mostly_for_the_quick_voices() -> None:
    rng = random.Random(4)
    long, short = "bolt " * 20, "bolt " * 5
    slow = [sum(voice_of(line, [], rng).startswith("kokoro") for _ in range(2000)) for line in (long, short)]
    assert slow[0] < slow[1] / 4


def test_tuning_lines_are_repeatable_words(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("narrated", "unmarked"):  # read once: it is what is drawn from them that could differ
        text = list(getattr(speech, name)())
        monkeypatch.setattr(speech, name, lambda text=text: iter(text))
    lines = tuning_lines(60, 5)
    assert lines == tuning_lines(60, 5)
    assert not any(c.isdigit() for line in lines for c in line)


def test_no_voice_is_another_one_under_its_own_name() -> None:
    with pytest.raises(ValueError, match=r"name it en\+Michael"):
        speak("two bolts", "espeak:en-gb+Michael")
    named = {*PANEL, *REPORTED, *TRAINED, *TUNED, *UNHEARD, *VOICES, *WEIGHED}
    assert not [voice for voice in named if voice.startswith("espeak:en-gb+")]


@pytest.mark.skipif(not shutil.which("espeak-ng"), reason="needs espeak-ng, a maker's tool")
def test_an_accent_has_another_language_s_sounds_and_english_words() -> None:
    plain, accent, german = (
        speak("three nuts off", voice) for voice in ("espeak:en-us", "espeak:de~en-us", "espeak:de")
    )
    assert len({sound.tobytes() for sound in (plain, accent, german)}) == 3
    assert 0.4 < len(accent) / len(plain) < 1.6


@pytest.mark.skipif(not shutil.which("espeak-ng"), reason="needs espeak-ng, a maker's tool")
def test_voices_that_figures_are_told_of_sound_otherwise_than_those_trained_on() -> None:
    told = [voice for voice in (*PANEL, *REPORTED) if voice.startswith("espeak:")]
    trained = {speak("two bolts", voice).tobytes() for voice in {*TRAINED} if voice.startswith("espeak:")}
    assert told
    assert not [voice for voice in told if speak("two bolts", voice).tobytes() in trained]
