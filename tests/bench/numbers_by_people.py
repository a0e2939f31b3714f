"""Measures the second ear alone on numbers and letters said by people.

    python -m tests.bench.numbers_by_people MANIFEST


MANIFEST as for ``tests.bench.hearing``. The clips whose ``kind`` begins with ``numbers`` or ``spelled`` are
heard with a grammar of about a thousand phrases (numbers, dates, spelled strings, some after "enter" or
"erase"), as they were cut, and with a quarter of a second of the level's sound around them, as the program
hears. Words that the model lacks ("rubout") count as errors.
"""

from __future__ import annotations

import argparse
import json
import random
from pathlib import Path

import numpy as np

from models.train.phrases import filled
from narrator.hearing.second_ear import FOLDER
from narrator.hearing.segmenter import Segment
from narrator.hearing.voice import FRAME
from narrator.hearing.vosk_engine import VoskDecoder
from narrator.wording import word_errors
from tests.bench.hearing import load

SPELLED = "{letter} {letter} {letter} {letter} {teens}"
MADE = {
    "{digits}": 300, "{pairs}": 150, "{teens}": 100, "{small}": 40, "{hundreds}": 100, "{thousands}": 60,
    "{date}": 100, "enter {small}": 24, "enter {teens}": 24, "enter {hundreds}": 24, "enter {digits}": 24,
    "enter {pairs}": 24, SPELLED: 150, f"erase {SPELLED}": 25, f"enter {SPELLED}": 25,
}  # fmt: skip
"""Templates, and how many phrases are made of each."""
BEFORE, AFTER = 4000, 4800
"""Samples around a clip."""


def grammar(seed: int = 1) -> list[str]:
    """The phrases; the same seed gives the same ones."""
    rng = random.Random(seed)
    return sorted({filled(template, rng) for template, count in MADE.items() for _ in range(count)})


def main() -> None:
    """Word errors of numbers and of spelled strings, quiet, at 10 dB and at 5 dB."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("manifest", type=Path)
    parser.add_argument("--shop", type=Path, default=FOLDER)
    parser.add_argument("--show", action="store_true")
    given = parser.parse_args()
    rows = [json.loads(line) for line in given.manifest.read_text(encoding="utf-8").splitlines()]
    ear = VoskDecoder(given.shop)
    ear.set_grammar(grammar(), skip_unknown=True)
    for kind in ("numbers", "spelled"):
        clips = [row for row in rows if row["type"] == "speech" and row["kind"].startswith(kind)]
        for level in ("quiet", "10db", "5db"):
            for before, after in ((0, 0), (BEFORE, AFTER)):
                errors = words = 0
                for clip in clips:
                    sound = load(given.manifest.parent, clip, level, before, after)
                    piece = Segment(0, sound, np.ones(len(sound) // FRAME, np.bool_))
                    said, heard = clip["text"].split(), [word.word for word in ear.decode(piece)]
                    errors, words = errors + word_errors(said, heard), words + len(said)
                    if given.show and said != heard:
                        print(f"{level} | {' '.join(said)} | {' '.join(heard)}")
                around = "with its surroundings" if before else "as cut"
                print(
                    f"{kind:>8} {level:>5} {around:>21}: {errors} of {words} words wrong, "
                    f"{100 * errors / words:.1f} %",
                    flush=True,
                )


if __name__ == "__main__":
    main()
