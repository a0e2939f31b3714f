"""The packed training clips in memory, and the plan of batches for one round through them."""

from __future__ import annotations

import io
import json
import multiprocessing
import random
import tarfile
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from models.train.augment import RATE, Cut
from narrator.hearing.spoken import NUMBER_WORDS

GRID = 48 * 160
"""Lengths of batches are whole multiples of this many samples (0.48 s)."""


@dataclass(frozen=True, slots=True)
class Clip:
    """One clip of the store: first sample, samples, words, whether a person spoke it, and who did."""

    first: int
    samples: int
    text: str
    human: bool
    voice: str = ""


def load(folder: Path, workers: int) -> tuple[NDArray[np.int16], list[Clip]]:
    """Decode everything that ``pack`` packed into one store of samples.

    The synthetic speech may lie bare instead, as ``synthetic.raw`` (16-bit, little-endian): soundfile was
    found not to read one file of 124 hours.
    """
    rows = json.loads((folder / "clips.json").read_text(encoding="utf-8"))
    with tarfile.open(folder / "real.tar") as tar:
        packed = [tar.extractfile(row["file"]).read() for row in rows["real"]]  # type: ignore[union-attr]
    with multiprocessing.Pool(workers) as pool:
        sounds = pool.map(_decoded, packed, chunksize=32)
    clips, at = [], 0
    for row, sound in zip(rows["real"], sounds, strict=True):
        clips.append(Clip(at, len(sound), row["text"], True, row.get("voice", "")))
        at += len(sound)
    synthetic = _synthetic(folder)
    clips += [Clip(at + row["first"], row["samples"], row["text"], False) for row in rows["synthetic"]]
    return np.concatenate([*sounds, synthetic, np.zeros(RATE, np.int16)]), clips


def _synthetic(folder: Path) -> NDArray[np.int16]:
    if (bare := folder / "synthetic.raw").exists():
        return np.fromfile(bare, "<i2")
    sound: NDArray[np.int16] = soundfile.read(folder / "synthetic.opus", dtype="int16")[0]
    return sound


def _decoded(data: bytes) -> NDArray[np.int16]:
    sound, rate = soundfile.read(io.BytesIO(data), dtype="int16", always_2d=True)
    if rate != RATE:
        raise ValueError(f"{rate} samples a second where {RATE} are needed")
    mono: NDArray[np.int16] = np.ascontiguousarray(sound[:, 0])
    return mono


def held_out(clips: list[Clip], count: int, seed: int) -> tuple[list[Clip], list[Clip]]:
    """Clips to train on and ``count`` of people to watch progress with, drawn at random.

    The ears that are shipped were not trained on them, so the weighing of both is fitted on them. Others of
    the same speakers and sentences were, so they do not tell how strangers are heard (``strangers``).
    """
    rng = random.Random(seed)
    human = [clip for clip in clips if clip.human and len(clip.text.split()) > 3]
    watched = set(rng.sample(human, min(count, len(human) // 4)))
    return [clip for clip in clips if clip not in watched], sorted(watched, key=lambda c: c.samples)


COMMON = 0.05
"""Share of the people's clips from which on a speaker is too much of them to be left out."""


def strangers(clips: list[Clip], count: int, seed: int) -> tuple[list[Clip], list[Clip]]:
    """Clips to train on and some ``count`` of people of whom training hears nothing else, and none of their
    sentences from anyone: what is learned by heart does not help with them."""
    rng = random.Random(seed)
    human = [clip for clip in clips if clip.human]
    said = Counter(clip.voice for clip in human)
    speakers = [voice for voice in sorted(said) if said[voice] < COMMON * len(human)]
    rng.shuffle(speakers)
    told = Counter(clip.text for clip in human)
    watched: list[Clip] = []
    left_out: set[str] = set()
    for voice in speakers:
        if len(watched) >= min(count, len(human) // 4):
            break
        own = [clip for clip in human if clip.voice == voice]
        # a sentence that many read would take many clips away from training
        watched += [clip for clip in own if len(clip.text.split()) > 3 and told[clip.text] <= 3]
        left_out.add(voice)
    texts = {clip.text for clip in watched}
    kept = [clip for clip in clips if not (clip.human and (clip.voice in left_out or clip.text in texts))]
    return kept, sorted(watched, key=lambda c: c.samples)


Batch = list[tuple[Cut, str]]


_VALUES = NUMBER_WORDS | {*"bcdefghjklmnopqrstuvwxyz"}


def values_said(text: str) -> bool:
    """Whether half of the words or more say numbers or spell."""
    words = text.split()
    return bool(words) and sum(word in _VALUES for word in words) * 2 >= len(words)


def plan(
    clips: list[Clip],
    synthetic_share: float,
    seconds: float,
    rng: random.Random,
    *,
    paces: tuple[float, float] | None = None,
    human_share: float = 1.0,
) -> list[Batch]:
    """Batches of about ``seconds`` of sound for one round: a share of the human clips, those of numbers and
    letters twice, a share of the others (at a pace between ``paces`` where these are given), bare noise."""
    chosen = [clip for clip in clips if rng.random() < (human_share if clip.human else synthetic_share)]
    chosen += [clip for clip in chosen if clip.human and values_said(clip.text)]
    cuts: Batch = [(_cut(clip, rng, None if clip.human else paces), clip.text) for clip in chosen]
    cuts += [(Cut(0, 0, 1.0, rng.randint(RATE, 3 * RATE), 0), "") for _ in range(len(chosen) // 50)]
    cuts.sort(key=lambda row: -row[0].length)
    batches, at = [], 0
    while at < len(cuts):
        longest = -(-cuts[at][0].length // GRID) * GRID
        size = max(1, int(seconds * RATE / longest))
        batches.append(cuts[at : at + size])
        at += size
    rng.shuffle(batches)
    return batches


def _cut(clip: Clip, rng: random.Random, paces: tuple[float, float] | None = None) -> Cut:
    """A clip at a pace of its own between silences of its own."""
    if paces:
        pace = rng.uniform(*paces)
    else:
        pace = rng.choice([0.9, 1.0, 1.1]) if rng.random() < 0.6 else rng.uniform(0.84, 1.18)
    before, after = (
        int(RATE * (rng.uniform(0, 0.3) if rng.random() < 0.75 else rng.uniform(0.3, 1.2))) for _ in "ab"
    )
    return Cut(clip.first, clip.samples, pace, before, after)
