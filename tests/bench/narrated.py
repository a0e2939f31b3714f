"""Speaks whole narrations: ``python -m tests.bench.narrated FOLDER OUT --voices V...``.

Each ``*.jsonl`` of FOLDER (a ``text`` a line) becomes OUT/NAME-VOICE.flac, a second of near silence between
the lines. For measuring what speech without commands triggers, and for trying ``narrator listen``.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from models.train.voices import REPORTED, speak
from narrator.values import SAMPLE_RATE

_PAUSE = np.zeros(SAMPLE_RATE, np.float32)


def narrated(lines: list[str], voice: str, seed: int) -> NDArray[np.float32]:
    """The lines one after the other, over the faint noise of a room."""
    parts = [_PAUSE]
    for line in lines:
        try:
            parts += [speak(line, voice), _PAUSE]
        except ValueError:  # a line without a word, such as a cough
            continue
    sound = np.concatenate(parts)
    noise = np.random.default_rng(seed).normal(0, 0.0005, len(sound))
    return np.asarray(sound + noise, np.float32)


def main() -> None:
    """See the module."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--voices", nargs="+", default=list(REPORTED))
    given = parser.parse_args()
    given.out.mkdir(parents=True, exist_ok=True)
    seconds = 0.0
    for number, path in enumerate(sorted(given.folder.glob("*.jsonl"))):
        texts = [json.loads(row)["text"] for row in path.read_text(encoding="utf-8").splitlines()]
        for voice in given.voices:
            out = given.out / f"{path.stem}-{voice.replace(':', '_')}.flac"
            if not out.exists():
                soundfile.write(out, narrated(texts, voice, number), SAMPLE_RATE)
            seconds += soundfile.info(out).duration
    print(f"{seconds / 3600:.2f} h of sound")


if __name__ == "__main__":
    main()
