"""Measures hearing on recordings with known text: ``python tests/bench/hearing.py MANIFEST [--engine E]``.

MANIFEST is JSON Lines; a line of type ``speech`` has ``file`` and ``text``, and for the noisy versions
``noise`` (a file), ``noise_offset`` (its first sample) and ``gain_10db``, ``gain_5db``. All files are 16 kHz
mono. Prints word error rates of single clips and of all clips joined with pauses over running noise, how much
of the speech the segmenter kept, how often it cut inside running speech, and processor seconds a second of
sound.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from numpy.typing import NDArray

from narrator.hearing.recognizer import SegmentRecognizer, open_decoder
from narrator.hearing.segmenter import Segment, Segmenter
from narrator.hearing.voice import FRAME, band_level
from narrator.settings import load_settings
from narrator.values import SAMPLE_RATE, AudioChunk, Utterance
from narrator.wording import plain_words, word_errors

Floats = NDArray[np.float32]
Clip = dict[str, Any]


def load(root: Path, clip: Clip, level: str, before: int = 0, after: int = 0) -> Floats:
    """A clip between silences (in samples), with its noise over all of it unless ``level`` is quiet."""
    speech, _ = soundfile.read(root / clip["file"], dtype="float32")
    mixed = np.pad(speech, (before, after))
    if level != "quiet":
        noise, _ = soundfile.read(root / clip["noise"], dtype="float32")
        noise = np.resize(np.roll(noise, -clip["noise_offset"]), len(mixed))
        mixed = mixed + clip[f"gain_{level}"] * noise
    elif before or after:
        mixed = mixed + np.random.default_rng(0).normal(0, 0.001, len(mixed))
    return (mixed * min(1.0, 0.99 / max(np.abs(mixed).max(), 1e-9))).astype(np.float32)


def rate(pairs: list[tuple[str, str]]) -> float:
    """Word errors in per cent of the words of the known texts, clip by clip."""
    words = [(plain_words(truth), plain_words(heard)) for truth, heard in pairs]
    return 100 * sum(word_errors(a, b) for a, b in words) / sum(len(a) for a, _ in words)


def measure_clips(root: Path, clips: list[Clip], level: str, engine: str) -> None:
    """Each clip as one piece, without the segmenter."""
    decoder = open_decoder(load_settings(), engine)
    pairs, seconds, began = [], 0.0, time.process_time()
    for clip in clips:
        sound = load(root, clip, level)
        seconds += len(sound) / SAMPLE_RATE
        words = decoder.decode(Segment(0, sound, np.ones(len(sound) // FRAME, np.bool_)))
        pairs.append((clip["text"], " ".join(word.word for word in words)))
    spent = time.process_time() - began
    print(f"clips  {level:>5}: {rate(pairs):5.1f} % of words wrong, {spent / seconds:.4f} s a second")


class Watched(Segmenter):
    """A segmenter that remembers where it cut."""

    def __init__(self) -> None:
        super().__init__()
        self.pieces: list[tuple[int, int]] = []

    def _take(self, count: int, rest: Floats | None = None) -> Segment:
        piece = super()._take(count, rest)
        self.pieces.append((piece.first // FRAME, piece.first // FRAME + len(piece.voiced)))
        return piece


def joined(root: Path, clips: list[Clip], level: str) -> Iterator[tuple[Floats, NDArray[np.bool_]]]:
    """Clips between pauses of 0.4 to 1.25 s on each side, and which of their frames are speech.

    Speech is what stands within 25 dB of the loud frames of the clean clip, pauses under 0.1 s included.
    """
    rng = np.random.default_rng(1)
    for clip in clips:
        clean, _ = soundfile.read(root / clip["file"], dtype="float32")
        pad = int(SAMPLE_RATE * rng.uniform(0.4, 1.25))
        count = (len(clean) + 2 * pad) // FRAME
        sound = load(root, clip, level, pad, pad)[: count * FRAME]
        levels = band_level(np.pad(clean, (pad, pad))[: count * FRAME].reshape(-1, FRAME))
        speech = levels > np.percentile(levels[levels > -90], 95) - 25
        for left, right in zip(np.flatnonzero(speech), np.flatnonzero(speech)[1:], strict=False):
            speech[left:right] |= right - left <= 5
        yield sound, speech


def measure_joined(root: Path, clips: list[Clip], level: str, engine: str) -> None:
    """All clips after each other, through the segmenter."""
    segmenter = Watched()
    recognizer = SegmentRecognizer(open_decoder(load_settings(), engine), segmenter)
    parts = list(joined(root, clips, level))
    sound, speech = np.concatenate([s for s, _ in parts]), np.concatenate([v for _, v in parts])
    began = time.process_time()
    heard = [
        h for at in range(0, len(sound), 1600) for h in recognizer.accept(AudioChunk(sound[at:][:1600], at))
    ]
    heard += recognizer.finish()
    spent = (time.process_time() - began) * SAMPLE_RATE / len(sound)
    truth = [word for clip in clips for word in plain_words(clip["text"])]
    words = [word for h in heard if isinstance(h, Utterance) for word in plain_words(h.text)]
    kept = np.zeros(len(speech), np.bool_)
    for start, end in segmenter.pieces:
        kept[start:end] = True
    edges = [edge for piece in segmenter.pieces for edge in piece if 0 < edge < len(speech) - 1]
    inside = sum(bool(speech[edge - 1 : edge + 2].all()) for edge in edges)
    print(
        f"joined {level:>5}: {100 * word_errors(truth, words) / len(truth):5.1f} % of words wrong, "
        f"{spent:.4f} s a second; {len(segmenter.pieces)} pieces, "
        f"{100 * kept[speech].mean():.2f} % of speech kept, "
        f"{100 * kept[~speech].mean():.0f} % of the rest kept, {inside} of {len(edges)} cuts inside speech"
    )


def main() -> None:
    """Measure quiet, at 10 dB and at 5 dB."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("manifest", type=Path)
    parser.add_argument("--engine", default="auto")
    parser.add_argument(
        "--skip", nargs="*", default=[], help="leave out clips with these words in kind or file"
    )
    given = parser.parse_args(sys.argv[1:])
    lines = [json.loads(line) for line in given.manifest.read_text(encoding="utf-8").splitlines()]
    clips = [
        line
        for line in lines
        if line["type"] == "speech" and not any(s in line["kind"] or s in line["file"] for s in given.skip)
    ]
    print(f"{len(clips)} clips, {sum(len(plain_words(c['text'])) for c in clips)} words")
    for level in ("quiet", "10db", "5db"):
        measure_clips(given.manifest.parent, clips, level, given.engine)
        measure_joined(given.manifest.parent, clips, level, given.engine)


if __name__ == "__main__":
    main()
