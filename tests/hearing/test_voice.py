from __future__ import annotations

import numpy as np
import soundfile

from narrator.hearing.voice import FRAME, GatedVad, band_level
from narrator.values import SAMPLE_RATE
from tests.hearing.test_engines import TWO


def frames(samples: np.ndarray) -> np.ndarray:
    return samples[: len(samples) // FRAME * FRAME].reshape(-1, FRAME).astype(np.float32)


def test_level_of_a_full_scale_sine_is_minus_three_db() -> None:
    tone = np.sin(2 * np.pi * 1000 * np.arange(SAMPLE_RATE) / SAMPLE_RATE)
    assert np.allclose(band_level(frames(tone)), -3.0, atol=0.3)


def test_level_ignores_rumble_below_the_band() -> None:
    rumble = np.sin(2 * np.pi * 50 * np.arange(SAMPLE_RATE) / SAMPLE_RATE)
    assert band_level(frames(rumble)).max() < -25


def test_steady_noise_becomes_the_background() -> None:
    noise = np.random.default_rng(2).normal(0, 0.1, 12 * SAMPLE_RATE)
    voiced, _ = GatedVad().detect(frames(noise))
    assert voiced[: 2 * 50].mean() > 0.5  # at first it may be speech: nothing is known of the place
    assert voiced[4 * 50 :].mean() < 0.02


def test_speech_stands_out_of_the_noise_and_is_found_where_it_is() -> None:
    speech, _ = soundfile.read(TWO, dtype="float32")
    noise = np.random.default_rng(3).normal(0, 0.003, 6 * SAMPLE_RATE + len(speech))
    noise[6 * SAMPLE_RATE :] += speech
    voiced, _ = GatedVad().detect(frames(noise))
    said = np.zeros(len(voiced), bool)
    for start, end in ((6.8, 8.0), (9.6, 11.2)):
        said[int(start * 50) : int(end * 50)] = True
    assert voiced[said].mean() > 0.7
    assert voiced[4 * 50 : 6 * 50].mean() < 0.05


def test_digital_silence_is_not_speech() -> None:
    voiced, levels = GatedVad().detect(np.zeros((200, FRAME), np.float32))
    assert not voiced.any()
    assert levels.min() >= -100.0
