"""Make the sample sessions again: ``python sample_sessions/make.py [NAME ...]`` (all without a name).

Reads ``NAME/script.toml`` and writes ``NAME/sound.opus`` (24 kHz mono, Ogg Opus) and
``NAME/utterances.jsonl``: what a recognizer that makes no mistake would give, lower case, unpunctuated,
numbers as words, with the times at which the lines are spoken. See docs/samples.md for the tools it needs.
"""

from __future__ import annotations

import json
import re
import sys
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from noise import NOISES
from voices import RATE, Sound, speak

HERE = Path(__file__).resolve().parent
TAIL = 1.5
SEED = 20_251
SPOKEN = {"psi": "P S I"}
"""Words that the voices read wrongly as they are written, and how to write them for speaking."""

_PUNCTUATION = re.compile(r"[.,;:?!]+")


def as_heard(say: str) -> str:
    """A written line as a dictation engine gives it: lower case, no punctuation; a hyphen parts two words."""
    return " ".join(_PUNCTUATION.sub(" ", say.lower()).replace("x-ray", "xray").replace("-", " ").split())


def for_speaking(say: str) -> str:
    """A written line as the voices need it written."""
    return re.sub(r"\w+", lambda found: SPOKEN.get(found.group(), found.group()), say)


def perform(script: dict[str, Any]) -> tuple[Sound, list[dict[str, Any]]]:
    """All lines in order with their pauses: the sound and the utterances that it holds."""
    pieces: list[Sound] = []
    rows: list[dict[str, Any]] = []
    at = 0
    for number, line in enumerate(script["line"], start=1):
        pause = np.zeros(int(line["pause"] * RATE), dtype=np.float32)
        voice = line.get("voice", script["voice"])
        spoken = speak(for_speaking(line["say"]), voice, script["speed"])
        start, end = at + len(pause), at + len(pause) + len(spoken)
        rows.append(
            {"id": number, "start": round(start / RATE, 2), "end": round(end / RATE, 2),
             "text": as_heard(line["say"])}
        )  # fmt: skip
        pieces += [pause, spoken]
        at = end
    sound = np.concatenate([*pieces, np.zeros(int(TAIL * RATE), dtype=np.float32)])
    return sound + NOISES[script["noise"]](len(sound), SEED), rows


def write_sound(path: Path, sound: Sound) -> None:
    """Write Ogg Opus in blocks of one second (the encoder is happier with little at a time)."""
    with soundfile.SoundFile(
        path, "w", RATE, 1, format="OGG", subtype="OPUS", compression_level=0.91
    ) as file:
        for start in range(0, len(sound), RATE):
            file.write(np.clip(sound[start : start + RATE], -0.99, 0.99))


def make(folder: Path) -> str:
    """Make one session and tell how long and how large it came out."""
    script = tomllib.loads((folder / "script.toml").read_text(encoding="utf-8"))
    sound, rows = perform(script)
    write_sound(folder / "sound.opus", sound)
    lines = "".join(json.dumps(row, ensure_ascii=False) + "\n" for row in rows)
    (folder / "utterances.jsonl").write_text(lines, encoding="utf-8")
    size = (folder / "sound.opus").stat().st_size
    return f"{folder.name}: {len(rows)} utterances, {len(sound) / RATE:.0f} s, {size / 1024:.0f} KiB"


def main(names: list[str]) -> None:
    """Make the named sessions, or all."""
    for script in sorted(HERE.glob("*/script.toml")):
        if not names or script.parent.name in names:
            sys.stderr.write(make(script.parent) + "\n")


if __name__ == "__main__":
    main(sys.argv[1:])
