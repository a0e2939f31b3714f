"""Voices and lines for tuning the dictation."""

from __future__ import annotations

import random

import pytest

pytest.importorskip("soxr")
from models.train.speech import tuning_lines, voice_of
from models.train.voices import REPORTED, UNHEARD, drawn


def test_drawn_voices_are_none_of_those_that_figures_are_told_of() -> None:
    rng = random.Random(3)
    names = {drawn(rng) for _ in range(3000)}
    bare = {name.partition("/")[0] for name in names}
    assert not bare & {*REPORTED, *UNHEARD}
    assert {name.partition(":")[0] for name in names} == {
        "espeak", "flite", "pico", "piper", "festival", "kokoro"
    }  # fmt: skip


def test_long_lines_are_mostly_for_the_quick_voices() -> None:
    rng = random.Random(4)
    long, short = "bolt " * 20, "bolt " * 5
    slow = [sum(voice_of(line, [], rng).startswith("kokoro") for _ in range(2000)) for line in (long, short)]
    assert slow[0] < slow[1] / 4


def test_tuning_lines_are_repeatable_words() -> None:
    lines = tuning_lines(60, 5)
    assert lines == tuning_lines(60, 5)
    assert not any(c.isdigit() for line in lines for c in line)
