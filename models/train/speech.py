"""Synthesizes training speech: ``python -m models.train.speech OUT [--count N] [--part K --parts N]
[--tuning]``.

``--tuning`` is for the dictation: more than half of the lines are of jobs of which only the talk is written
down, and the voices are drawn with a pitch or an accent of their own. OUT gets ``speech-K.wav`` (all clips
one after the other, 16 kHz mono) and ``speech-K.json``: rows of first sample, samples, text and voice.
Seeded: the same part gives the same texts and voices.
"""

from __future__ import annotations

import argparse
import json
import random
from collections.abc import Callable
from pathlib import Path

import numpy as np
import soundfile

from models.train.phrases import sentences
from models.train.texts import examples, framed, narrated, orders
from models.train.voices import TRAINED, drawn, speak
from models.understanding.corpus import unmarked
from narrator.hearing.readings import readings
from narrator.hearing.spoken import in_words, numeric
from narrator.values import SAMPLE_RATE

LONGEST_WORDS = 22
SLOW, SLOW_WORDS = ("kokoro:", "piper:", "festival:"), 14
"""Which voices are slow, and how many words they are given at most where there are others."""
TALK = 0.6
"""Share of the lines for tuning that are talk of whole jobs."""
ATTENTION, ATTENDED = "okay narrator", 0.6
"""What an order may begin with, and how often it does in training."""


Chooser = Callable[[str, random.Random], str]
"""Gives a voice for a line."""
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


def tuning_lines(count: int, seed: int) -> list[str]:
    """What the dictation is tuned on: talk of whole jobs, lines with numbers three times as often, and the
    rest as for the second ear."""
    rng = random.Random(seed)
    said = [_said(line, rng) for _, lines in unmarked() for line in lines]
    told = [line for line in said if 1 < len(line.split()) <= LONGEST_WORDS]
    weights = [3 if any(map(numeric, line.split())) else 1 for line in told]
    many = int(TALK * count)
    lines = rng.choices(told, weights, k=many) + training_lines(count - many, seed)
    rng.shuffle(lines)
    return lines


def _said(line: str, rng: random.Random) -> str:
    """A line in words, every second figure in a way drawn from those in which it may be said."""
    words = []
    for word in line.split():
        ways = readings(word) if rng.random() < 0.5 else ()
        words.append(rng.choice(ways[:6]) if ways else in_words(word))
    return " ".join(" ".join(words).split())


def voice_of(line: str, tools: list[str], rng: random.Random) -> str:
    """A voice drawn for tuning; of the slow ones mostly short lines are wanted."""
    voice = drawn(rng, tools)
    return drawn(rng, tools) if voice.startswith(SLOW) and len(line.split()) > SLOW_WORDS else voice


def synthesize(lines: list[str], part: int, parts: int, out: Path, choose: Chooser) -> None:
    """Speak every ``parts``-th line, from the ``part``-th on, each in a voice of its own."""
    rows, at = [], 0
    with soundfile.SoundFile(out / f"speech-{part}.wav", "w", SAMPLE_RATE, 1, "PCM_16") as file:
        for number, line in enumerate(lines):
            rng = random.Random(number * 7919 + 13)
            voice, speed = choose(line, rng), rng.uniform(0.85, 1.2)
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
    parser.add_argument("--tuning", action="store_true", help="lines and voices for tuning the dictation")
    given = parser.parse_args()
    given.out.mkdir(parents=True, exist_ok=True)
    lines = (tuning_lines if given.tuning else training_lines)(given.count, given.seed)
    voices = [voice for voice in TRAINED if not given.tools or voice.split(":")[0] in given.tools]

    def choose(line: str, rng: random.Random) -> str:
        return voice_of(line, given.tools, rng) if given.tuning else rng.choice(voices)

    synthesize(lines, given.part, given.parts, given.out, choose)


if __name__ == "__main__":
    main()
