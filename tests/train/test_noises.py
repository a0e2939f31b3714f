"""Other throats, recorded noises, radios: on sounds made here."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

torch = pytest.importorskip("torch")
from models.train import recorded  # noqa: E402
from models.train.augment import NOISE_SAMPLES, RATE, Spoiler  # noqa: E402
from models.train.clips import Clip  # noqa: E402
from models.train.noises import bank, radio  # noqa: E402
from models.train.throats import SIZE, STEP, Throats, envelopes  # noqa: E402


def vowel(pitch: float, formants: tuple[float, ...], seconds: float = 1.0) -> np.ndarray:
    """A train of pulses through resonances 80 Hz wide."""
    sound = np.zeros(int(seconds * RATE))
    sound[:: int(RATE / pitch)] = 1000.0
    for hertz in formants:
        radius = np.exp(-np.pi * 80 / RATE)
        first, second = 2 * radius * np.cos(2 * np.pi * hertz / RATE), -(radius**2)
        out = np.zeros(len(sound) + 2)
        for n, value in enumerate(sound):
            out[n + 2] = value + first * out[n + 1] + second * out[n]
        sound = out[2:]
    return np.asarray(sound, np.float32)


def peak(sound: torch.Tensor, low: int, high: int) -> float:
    """Where the mean envelope is highest between two frequencies, in hertz."""
    window = torch.hann_window(SIZE)
    frames = torch.stft(sound, SIZE, STEP, window=window, return_complex=True)
    mean = envelopes(frames).mean((0, 2))
    hertz = torch.arange(len(mean)) * RATE / SIZE
    mean[(hertz < low) | (hertz > high)] = -1e9
    return float(hertz[int(mean.argmax())])


def test_another_throat_moves_the_resonances_and_keeps_the_pitch() -> None:
    sound = torch.from_numpy(vowel(125.0, (700.0, 2000.0)))[None].repeat(24, 1)
    rng = torch.Generator()
    rng.manual_seed(3)
    changed = Throats(share=1, longer=0.3, apart=0, sharper=0, breathed=0)(sound, rng)
    was = peak(sound[:1], 1400, 2700)
    moved = [peak(one[None], 1400, 2700) / was for one in changed]
    assert min(moved) < 0.88 and max(moved) > 1.12, "envelope n takes that of n times the factor"
    for one in changed:
        spectrum = torch.fft.rfft(one).abs()
        assert int(spectrum[100:160].argmax()) + 100 == 125, "a second of sound: a bin is a hertz"


def test_voices_that_are_not_chosen_stay_as_they_are_and_silence_stays_silent() -> None:
    rng = torch.Generator()
    rng.manual_seed(4)
    sound = torch.from_numpy(vowel(110.0, (500.0,)))[None]
    assert torch.allclose(Throats(share=0)(sound, rng), sound, atol=1e-3 * float(sound.abs().max()))
    assert float(Throats(share=1, breathed=1)(torch.zeros(2, 8000), rng).abs().max()) == 0.0


def test_a_breathed_voice_keeps_its_loudness_and_loses_its_pitch() -> None:
    rng = torch.Generator()
    rng.manual_seed(5)
    sound = torch.from_numpy(vowel(125.0, (700.0,), 2.0))[None].repeat(8, 1)
    breathed = Throats(share=1, longer=0, apart=0, sharper=0, breathed=1)(sound, rng)
    loud = breathed.square().mean(1) / sound.square().mean(1)
    assert bool(((loud > 0.15) & (loud < 1.5)).all())
    even = breathed.unfold(1, 128, 128)  # a pitch period
    alike = [
        float(torch.corrcoef(torch.stack([one[:-1].flatten(), one[1:].flatten()]))[0, 1]) for one in even
    ]
    assert min(alike) < 0.5


def clang(seed: int, seconds: float) -> np.ndarray:
    rng = np.random.default_rng(seed)
    time = np.arange(int(seconds * RATE)) / RATE
    return (rng.standard_normal(len(time)) * np.exp(-3 * time) * 0.2).astype(np.float32)


def test_a_sound_is_known_again_in_a_longer_one_at_another_loudness() -> None:
    whole = clang(1, 3.0)
    assert recorded.alike(whole[8_000:24_000] * 5, whole) > 0.99
    assert recorded.alike(clang(2, 1.0), whole) < recorded.ALIKE


def test_long_sounds_run_through_and_short_ones_are_blows(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "hit.wav", clang(3, 0.3), RATE)
    soundfile.write(tmp_path / "motor.flac", np.sin(np.arange(5 * 44_100) / 90) * 0.3, 44_100)
    (tmp_path / "broken.ogg").write_bytes(b"OggS but no more")
    found = dict(recorded.sounds([tmp_path]))
    assert sorted(path.name for path in found) == ["hit.wav", "motor.flac"]
    assert len(found[tmp_path / "motor.flac"]) == 5 * RATE
    rng = np.random.default_rng(1)
    long, short = [found[tmp_path / "motor.flac"]], [found[tmp_path / "hit.wav"]]
    noises = [recorded.drawn(long, short, rng) for _ in range(12)]
    assert {len(noise) for noise in noises} == {NOISE_SAMPLES}
    assert all(noise.std() == pytest.approx(1, abs=1e-3) for noise in noises)
    peaks = sorted(float(np.abs(noise).max()) for noise in noises)
    assert peaks[0] < 1.6 < 3 < peaks[-1], "a running motor, and blows that stand out of it"


def test_the_bank_takes_in_recordings_where_there_are_some(tmp_path: Path) -> None:
    store = torch.from_numpy((clang(7, 8.0) * 30_000).astype(np.int16))
    clips = [Clip(0, 3 * RATE, "two ten mil bolts", True), Clip(3 * RATE, 4 * RATE, "five volts", True)]

    class Pool:
        @staticmethod
        def starmap(work: object, rows: list[tuple[int, int]]) -> list[np.ndarray]:
            assert callable(work)
            return [work(*row) for row in rows[:1]]

    without = bank(tmp_path, store, clips, 1, Pool())
    tone = np.tile(np.sin(np.arange(NOISE_SAMPLES) / 5), 12).astype(np.float32) * 0.5
    soundfile.write(tmp_path / "noises.wav", tone, RATE)
    (tmp_path / "noises.wav").rename(tmp_path / recorded.FILE)
    whole = bank(tmp_path, store, clips, 1, Pool())
    assert len(whole) == len(without) + 12 + 2, "and a radio for every six of them"
    assert torch.allclose(whole.std(1), torch.ones(len(whole)), atol=1e-2)


def test_a_radio_has_no_low_tones_and_is_heard_all_the_time() -> None:
    store = torch.from_numpy((np.random.default_rng(1).standard_normal(3 * RATE) * 3000).astype(np.int16))
    made = radio(store, [(0, 2 * RATE)], torch.zeros(1, NOISE_SAMPLES), 4, 2)
    spectrum = torch.fft.rfft(made).abs().square()
    bins = NOISE_SAMPLES // RATE
    assert bool(
        (spectrum[:, : 40 * bins].mean(1) < 0.15 * spectrum[:, 1000 * bins : 2000 * bins].mean(1)).all()
    )
    assert bool((made.unfold(1, RATE, RATE).std(2) > 0).all())


def test_a_spoiler_with_throats_draws_other_sound_than_one_without() -> None:
    from models.train.augment import Cut  # noqa: PLC0415

    store = torch.from_numpy((vowel(125.0, (700.0,), 2.0)).clip(-30_000, 30_000).astype(np.int16))
    noises = torch.randn(2, NOISE_SAMPLES, generator=torch.Generator().manual_seed(1))
    cuts = [Cut(0, 20_000, 1.0, 100, 100)] * 4
    plain = Spoiler(store, noises, 0.0, seed=2).spoiled(cuts, 24_000)
    other = Spoiler(store, noises, 0.0, seed=2, throats=Throats(share=1)).spoiled(cuts, 24_000)
    assert plain.shape == other.shape
    assert bool(torch.isfinite(other).all())
    assert float((plain - other).abs().mean()) > 0.01 * float(plain.abs().mean())
