"""Noises out of recordings of machines, tools, crowds and music: ``python -m models.train.recorded PACK
FOLDER ... [--count N] [--without FOLDER]``.

FOLDER are folders of sound files of any kind and length (the README of ``models/dictation`` names those that
were used). Long ones are taken as they are, from a place and at a pace drawn at random; short ones are
repeated as a tool's blows or thrown in at random, over a long one. Files that are also in the folder of
``--without`` (noises to measure with) are left out. PACK gets ``noises.opus``: ``N`` noises of ten seconds
in a row.
"""

from __future__ import annotations

import argparse
import subprocess
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
import soundfile
import soxr

from models.train.augment import NOISE_SAMPLES, RATE, Floats

KINDS = {".wav", ".ogg", ".flac", ".mp3"}
SHORT = int(1.6 * RATE)
"""Shorter sounds are blows."""
LONGEST_S, SHORTEST_S = 60, 0.05
ALIKE = 0.5
"""Correlation from which on two sounds hold the same recording."""
FADE = RATE // 20
FILE = "noises.opus"


def sounds(folders: Sequence[Path]) -> Iterator[tuple[Path, Floats]]:
    """Every sound that can be read, mono at 16 kHz, 1 rms, at most a minute from its middle."""
    paths = sorted(path for folder in folders for path in folder.rglob("*") if path.suffix.lower() in KINDS)
    for path in paths:
        try:
            with soundfile.SoundFile(path) as file:
                rate, most = file.samplerate, LONGEST_S * file.samplerate
                file.seek(max(0, (file.frames - most) // 2))
                sound = file.read(most, dtype="float32", always_2d=True).mean(1)
        except soundfile.LibsndfileError as error:
            print(f"left out: {path.name}: {error}")
            continue
        sound = np.asarray(soxr.resample(sound, rate, RATE), np.float32)
        if len(sound) > SHORTEST_S * RATE and sound.std() > 1e-4:
            yield path, sound / sound.std()


def alike(one: Floats, other: Floats) -> float:
    """The highest correlation of the shorter sound with any part of the longer, from 0 to 1."""
    short, long = sorted((one, other), key=len)
    size = 1 << (len(short) + len(long)).bit_length()
    found = np.fft.irfft(np.fft.rfft(long, size) * np.conj(np.fft.rfft(short, size)), size)
    power = np.concatenate([[0.0], np.cumsum(np.square(long, dtype=np.float64))])
    least = 1e-3 * len(short) * float(np.square(long).mean())
    there = np.maximum(power[len(short) :] - power[: -len(short)], least)
    fits = np.abs(found[: len(there)]) / np.sqrt(there * np.square(short).sum())
    return float(fits.max())


def drawn(long: list[Floats], short: list[Floats], rng: np.random.Generator) -> Floats:
    """A noise of ten seconds, 1 rms: half of them of a long sound alone, half with blows over it."""
    under = _running(long[int(rng.integers(len(long)))], rng)
    if not short or rng.random() < 0.5:
        return _even(under)
    blows = np.zeros(NOISE_SAMPLES, np.float32)
    kinds = [short[int(k)] for k in rng.integers(len(short), size=int(rng.integers(1, 5)))]
    for start, every, many in _runs(rng):
        blow = _paced(kinds[int(rng.integers(len(kinds)))], rng)
        for k in range(many):
            at = start + int(k * every * RATE * rng.uniform(0.93, 1.07))
            if at < NOISE_SAMPLES:
                end = min(NOISE_SAMPLES, at + len(blow))
                blows[at:end] += blow[: end - at] * np.float32(rng.uniform(0.4, 1))
    return _even(_even(blows) + np.float32(rng.uniform(0.02, 0.6)) * _even(under))


def _runs(rng: np.random.Generator) -> Iterator[tuple[int, float, int]]:
    """Runs of blows: first sample, seconds from one to the next, how many."""
    at = int(rng.uniform(0, 1) * RATE)
    while at < NOISE_SAMPLES:
        fast = rng.random() < 0.4
        every = 1 / rng.uniform(8, 35) if fast else rng.uniform(0.15, 0.9)
        many = int(rng.integers(8, 60) if fast else rng.integers(1, 6))
        yield at, every, many
        at += int((every * many + rng.uniform(0.1, 1.2)) * RATE)


def _running(sound: Floats, rng: np.random.Generator) -> Floats:
    """Ten seconds of a sound at a pace of its own, gone round as often as it takes, its ends faded into each
    other."""
    sound = np.roll(_paced(sound, rng), -int(rng.integers(len(sound))))
    if len(sound) > 4 * FADE:
        rise = np.linspace(0, 1, FADE, dtype=np.float32)
        sound = np.concatenate([sound[:FADE] * rise + sound[-FADE:] * (1 - rise), sound[FADE:-FADE]])
    return np.resize(sound, NOISE_SAMPLES).astype(np.float32)


def _paced(sound: Floats, rng: np.random.Generator) -> Floats:
    pace = rng.uniform(0.8, 1.25)
    at = np.arange(int(len(sound) / pace)) * pace
    return np.interp(at, np.arange(len(sound)), sound).astype(np.float32)


def _even(sound: Floats) -> Floats:
    sound = sound - sound.mean()
    return np.asarray(sound / (sound.std() + 1e-6), np.float32)


def read(pack: Path) -> Floats:
    """The noises of a PACK, (count, samples), 1 rms; none if it has none."""
    if not (pack / FILE).is_file():
        return np.zeros((0, NOISE_SAMPLES), np.float32)
    sound, _ = soundfile.read(pack / FILE, dtype="float32")
    rows = sound[: len(sound) // NOISE_SAMPLES * NOISE_SAMPLES].reshape(-1, NOISE_SAMPLES)
    return np.stack([_even(row) for row in rows])


def main() -> None:
    """See the module."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("pack", type=Path)
    parser.add_argument("folders", type=Path, nargs="+")
    parser.add_argument("--count", type=int, default=500)
    parser.add_argument("--without", type=Path, help="leave out what is also in this folder of sounds")
    parser.add_argument("--kilobits", type=int, default=24)
    given = parser.parse_args()
    kept = [sound for _, sound in sounds([given.without])] if given.without else []
    long: list[Floats] = []
    short: list[Floats] = []
    for path, sound in sounds(given.folders):
        if len(sound) > RATE // 2 and any(alike(sound, other) > ALIKE for other in kept):
            print(f"left out: {path.name} is for measuring")
            continue
        (short if len(sound) < SHORT else long).append(sound)
    if not long:
        raise SystemExit("no sound of more than a second and a half in these folders")
    rng = np.random.default_rng(17)
    joined = given.pack / "noises.wav"
    with soundfile.SoundFile(joined, "w", RATE, 1, "PCM_16") as file:
        for _ in range(given.count):
            noise = drawn(long, short, rng)
            file.write(noise * (0.9 / np.abs(noise).max()))
    target = given.pack / FILE
    subprocess.run(["opusenc", "--quiet", "--bitrate", str(given.kilobits), joined, target], check=True)
    joined.unlink()
    print(f"{len(long)} long and {len(short)} short sounds, {given.count} noises")


if __name__ == "__main__":
    main()
