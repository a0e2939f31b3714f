"""Measures hearing on recordings of people: ``python -m tests.bench.people MANIFEST [--systems plain
steered both]``.

MANIFEST as for ``tests.bench.hearing``. Clips as one piece each; only
officially transcribed ones, no spelled strings. Prints word errors, and trade words put in where none was
said.
"""

from __future__ import annotations

import argparse
import json
import time
from pathlib import Path

from models.train.texts import names
from narrator.wording import plain_words, word_errors
from tests.bench.hearing import load
from tests.bench.spoken import SYSTEMS


def main() -> None:
    """Measure quiet, at 10 dB and at 5 dB."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("manifest", type=Path)
    parser.add_argument("--systems", nargs="+", default=["plain", "steered", "both"])
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--show", action="store_true")
    given = parser.parse_args()
    rows = [json.loads(line) for line in given.manifest.read_text(encoding="utf-8").splitlines()]
    clips = [
        row for row in rows
        if row["type"] == "speech"
        and row["transcript"].startswith("official")
        and "spelled" not in row["kind"]
    ][:: given.every]  # fmt: skip
    trade = {word for name in names() for word in plain_words(name) if len(word) > 3}
    said = {word for clip in clips for word in plain_words(clip["text"])}
    for name in given.systems:
        system = SYSTEMS[name]()
        for level in ("quiet", "10db", "5db"):
            errors = words = invented = 0
            seconds, began = 0.0, time.process_time()
            for clip in clips:
                sound = load(given.manifest.parent, clip, level)
                heard, truth = plain_words(system(sound)), plain_words(clip["text"])
                seconds += len(sound) / 16_000
                errors += word_errors(truth, heard)
                words += len(truth)
                invented += sum(word in trade and word not in said for word in heard)
                if given.show and heard != truth:
                    print(f"{level} | {' '.join(truth)} | {' '.join(heard)}")
            spent = (time.process_time() - began) / seconds
            print(
                f"{name:>8} {level:>5}: {100 * errors / words:5.1f} % of {words} words, "
                f"{invented} trade words put in, {spent:.3f} s a second",
                flush=True,
            )


if __name__ == "__main__":
    main()
