from __future__ import annotations

import numpy as np
import pytest

from narrator.hearing.clearness import NOISY_DB, clear_by
from narrator.hearing.moonshine_engine import TUNED, model_folder, tuned
from narrator.values import SAMPLE_RATE


def spoken(noise: float) -> np.ndarray:
    """Half a second of a tone of 600 Hz, between silences of a quarter, in hiss."""
    time = np.arange(SAMPLE_RATE) / SAMPLE_RATE
    tone = 0.1 * np.sin(2 * np.pi * 600 * time) * (abs(time - 0.5) < 0.25)
    return (tone + np.random.default_rng(0).normal(0, noise, len(time))).astype(np.float32)


def test_a_piece_in_noise_is_told_from_a_clear_one() -> None:
    assert clear_by(spoken(0.0005)) > NOISY_DB + 5
    assert clear_by(spoken(0.05)) < NOISY_DB - 5


@pytest.mark.parametrize("gain", [0.01, 0.1, 5.0])
def test_loudness_does_not_matter(gain: float) -> None:
    piece = spoken(0.005)
    assert clear_by(piece * np.float32(gain)) == pytest.approx(clear_by(piece), abs=0.5)


@pytest.mark.parametrize("samples", [0, 319, 320, 16_000])
def test_next_to_nothing_and_silence_are_not_clear(samples: int) -> None:
    assert clear_by(np.zeros(samples, np.float32)) == 0.0


def test_only_the_bundled_model_takes_the_tuned_weights() -> None:
    folder = model_folder()
    assert folder is not None
    assert tuned(folder) == TUNED
    assert tuned(folder.parent) is None
