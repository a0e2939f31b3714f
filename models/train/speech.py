"""Synthesizes training speech: ``python -m models.train.speech OUT [--count N] [--part K --parts N]``.

OUT gets ``speech-K.wav`` (all clips one after the other, 16 kHz mono) and ``speech-K.json``: rows of
first sample, samples, text and voice. Seeded: the same part gives the same texts and voices.
"""

from __future__ import annotations

import argparse
import json
import random
from pathlib import Path

import numpy as np
import soundfile

from models.train.phrases import sentences
from models.train.texts import examples, framed, narrated, orders
from models.train.voices import TRAINED, speak
from narrator.values import SAMPLE_RATE

LONGEST_WORDS = 22
ATTENTION, ATTENDED = "okay narrator", 0.6
"""What an order may begin with, and how often it does in training."""


SHARES = {"phrase": 30, "spelled": 14, "string": 20, "narrated": 13, "rules": 5, "names": 8, "orders": 10}
"""Per cent of the lines."""


def training_lines(count: int, seed: int) -> list[str]:
    """What is spoken: half values, fasteners, codes and spelled strings, the rest narration, rule examples,
    names and orders, bare or after the attention."""
    rng = random.Random(seed)
    many = {name: count * share // 100 for name, share in SHARES.items()}
    own = [line for line in narrated() if 1 < len(line.split()) <= LONGEST_WORDS]
    rules = [line for line in examples() if 1 < len(line.split()) <= LONGEST_WORDS]
    parts = list(framed(seed))
    lines = sentences(many["phrase"], seed) + sentences(many["spelled"], seed + 1, "spelled")
    lines += sentences(many["string"], seed + 2, "string")
    lines += rng.choices(own, k=many["narrated"]) + rng.choices(rules, k=many["rules"])
    lines += rng.sample(parts, min(len(parts), many["names"]))
    said = rng.choices([order for order in orders() if ATTENTION not in order], k=many["orders"])
    lines += [f"{ATTENTION} {order}" if rng.random() < ATTENDED else order for order in said]
    rng.shuffle(lines)
    return lines


def synthesize(lines: list[str], part: int, parts: int, out: Path, tools: list[str]) -> None:
    """Speak every ``parts``-th line, from the ``part``-th on, in the voices of these tools."""
    voices = [voice for voice in TRAINED if not tools or voice.split(":")[0] in tools]
    rows, at = [], 0
    with soundfile.SoundFile(out / f"speech-{part}.wav", "w", SAMPLE_RATE, 1, "PCM_16") as file:
        for number, line in enumerate(lines):
            rng = random.Random(number * 7919 + 13)
            voice, speed = rng.choice(voices), rng.uniform(0.85, 1.2)
            if number % parts != part:
                continue
            try:
                sound = speak(line, voice, speed)
            except (OSError, ValueError) as error:
                print(f"left out: {error}")
                continue
            file.write(np.clip(sound * 4, -0.98, 0.98))
            rows.append([at, len(sound), line, voice])
            at += len(sound)
    (out / f"speech-{part}.json").write_text(json.dumps(rows), encoding="utf-8")


def main() -> None:
    """See the module."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("out", type=Path)
    parser.add_argument("--count", type=int, default=4500)
    parser.add_argument("--part", type=int, default=0)
    parser.add_argument("--parts", type=int, default=1)
    parser.add_argument("--seed", type=int, default=5)
    parser.add_argument("--tools", nargs="*", default=[], help="voices of these tools only, for speed")
    given = parser.parse_args()
    given.out.mkdir(parents=True, exist_ok=True)
    synthesize(training_lines(given.count, given.seed), given.part, given.parts, given.out, given.tools)


if __name__ == "__main__":
    main()
