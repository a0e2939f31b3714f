"""How good a record is when the job was heard: ``python -m tests.bench.jobs_in_sound NAMES --out DIR``.

NAMES are annotated narrations (``--folder``, by default models/understanding/narrations). Each is spoken
line by line in one voice, with pauses drawn between two limits (``--pauses``, seconds), over one of the
noises where ``--snr`` is given, and heard as ``narrator hear`` hears a file: detector of speech, both ears,
remarks parted. What was heard is compiled and held against the annotation (``tests.bench.gold``), beside the
same job compiled from the text. An utterance counts for the line that was being said for most of it; where
several were heard of one line, what they do and name is put together.

Sound and words are kept in DIR by what they were made from, so that a change of understanding alone is
measured in seconds; ``--anew`` hears again. ``--errors`` prints the two texts of every line heard otherwise.
"""

from __future__ import annotations

import argparse
import json
import random
from collections.abc import Sequence
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import soundfile
from numpy.typing import NDArray

from models.train.voices import UNHEARD, speak
from models.understanding.narrations import build
from narrator.hearing.hear import hear
from narrator.hearing.recognizer import open_recognizer
from narrator.job.compile import compile_record
from narrator.language import Reader
from narrator.settings import Settings, default_home
from narrator.utterances import parse_lines, to_json
from narrator.values import SAMPLE_RATE, AudioChunk, Utterance
from tests.bench.gold import Figures, score
from tests.bench.spoken import noisy, own_noises

Sound = NDArray[np.float32]
Row = dict[str, Any]
SHOWN = ("acts", "entities", "suspects", "causes", "fastener ledger", "measurements")
_BLOCK = SAMPLE_RATE // 10


class Job(NamedTuple):
    """A job as it is spoken: its name, who speaks it, and what is behind the voice."""

    name: str
    voice: str
    level: float | None
    """Signal to noise in dB; nothing behind it where there is none."""
    noise: int
    """Which of the noises, where there is one."""
    pauses: tuple[float, float]

    def file(self, folder: Path, ending: str) -> Path:
        """Where something of it is kept."""
        voice = self.voice.replace(":", "_").replace("+", "_")
        level = "quiet" if self.level is None else f"{self.level:g}db{self.noise}"
        low, high = self.pauses
        return folder / f"{self.name}-{voice}-{level}-{low:g}-{high:g}.{ending}"


def sound_of(
    job: Job, texts: Sequence[str], noises: Sequence[Sound]
) -> tuple[Sound, list[tuple[float, float]]]:
    """The job as one sound, and when each of its lines is said in it (seconds)."""
    rng = random.Random(f"{job.name} {job.voice}")
    parts, spans, at = [np.zeros(SAMPLE_RATE, np.float32)], [], SAMPLE_RATE
    for text in texts:
        try:
            said = speak(text, job.voice)
        except ValueError:  # a line without a word, such as a cough
            said = np.zeros(0, np.float32)
        pause = np.zeros(round(SAMPLE_RATE * rng.uniform(*job.pauses)), np.float32)
        spans.append((at / SAMPLE_RATE, (at + len(said)) / SAMPLE_RATE))
        parts += [said, pause]
        at += len(said) + len(pause)
    whole = np.concatenate(parts)
    return noisy(whole, job.level, list(noises), job.noise), spans


def heard_of(sound: Sound) -> list[Utterance]:
    """What ``narrator hear`` makes of a sound."""
    recognizer = open_recognizer(Settings(home=default_home()))
    blocks = (AudioChunk(sound[at : at + _BLOCK], at) for at in range(0, len(sound), _BLOCK))
    return [one for one in hear(blocks, recognizer) if isinstance(one, Utterance)]


def lines_of(heard: Sequence[Utterance], spans: Sequence[tuple[float, float]]) -> dict[int, int]:
    """For each utterance heard (by number) the line (from 1) that was being said for most of it."""

    def shared(one: Utterance, span: tuple[float, float]) -> float:
        return min(one.end, span[1]) - max(one.start, span[0])

    lines = range(1, len(spans) + 1)
    return {one.id: max(lines, key=lambda n, one=one: shared(one, spans[n - 1])) for one in heard}  # type: ignore[misc]


def by_lines(record: Row, lines: dict[int, int]) -> Row:
    """A record of what was heard, its utterances numbered and put together by what was said."""
    together: dict[int, Row] = {}
    for row in record["utterances"]:
        number = lines[row["id"]]
        known = together.setdefault(number, {"id": number, "acts": [], "entities": []})
        known["acts"] += [act for act in row["acts"] if act not in known["acts"]]
        known["entities"] += row["entities"]
    return {**record, "utterances": list(together.values())}


def compiled(said: Sequence[Utterance]) -> Row:
    """The record of what was said, as the contract has it."""
    record: Row = json.loads(compile_record(Reader().read(said)).model_dump_json())
    return record


def kept(job: Job, folder: Path, noises: Sequence[Sound], *, anew: bool) -> list[Utterance]:
    """What was heard of a job, from the folder when it is there."""
    words, spans = job.file(folder, "jsonl"), job.file(folder, "spans.json")
    if anew or not (words.exists() and spans.exists()):
        folder.mkdir(parents=True, exist_ok=True)
        texts = [row["text"] for row in build.build(_source(job.name))[0]]
        sound, said_at = sound_of(job, texts, noises)
        soundfile.write(job.file(folder, "flac"), sound, SAMPLE_RATE)
        heard = heard_of(sound)
        spans.write_text(json.dumps(said_at), encoding="utf-8")
        rows = (json.dumps(to_json(one), ensure_ascii=False) + "\n" for one in heard)
        words.write_text("".join(rows), encoding="utf-8")
    return list(parse_lines(words.read_text(encoding="utf-8").splitlines()))


FOLDER = [build.HERE]


def _source(name: str) -> Path:
    return FOLDER[0] / f"{name}.toml"


def measured(job: Job, folder: Path, heard: Sequence[Utterance], *, errors: bool) -> tuple[Figures, Figures]:
    """Figures of a job as read and as heard."""
    rows, gold = build.build(_source(job.name))
    gold = json.loads(json.dumps(gold))
    read, by_ear = Figures(), Figures()
    said = list(parse_lines([json.dumps(row) for row in rows]))
    score(gold, compiled(said), read)
    spans = json.loads(job.file(folder, "spans.json").read_text(encoding="utf-8"))
    lines = lines_of(heard, spans)
    score(gold, by_lines(compiled(heard), lines), by_ear)
    if errors:
        for one in said:
            words = " / ".join(u.text for u in heard if lines[u.id] == one.id)
            if words != one.text:
                print(f"  {job.name} {one.id}: {one.text}\n  {'':>{len(job.name) + 4}} {words}")
    return read, by_ear


def row_of(name: str, read: Figures, by_ear: Figures) -> str:
    """Each figure as read and as heard."""

    def shown(figures: Figures, figure: str) -> str:
        found = figures.f1(figure)
        return "  – " if found is None else f"{found:.3f}"

    cells = " | ".join(f"{shown(read, figure)} {shown(by_ear, figure)}" for figure in SHOWN)
    return f"| {name} | {cells} |"


def main() -> None:
    """See the module."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="+")
    parser.add_argument("--folder", type=Path, default=build.HERE)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--voices", nargs="+", default=list(UNHEARD))
    parser.add_argument("--snr", type=float, help="in dB; quiet where it is not given")
    parser.add_argument("--noises", type=Path, help="folder of 16 kHz noises; the project's own by default")
    parser.add_argument("--pauses", type=float, nargs=2, default=(0.7, 1.6), metavar=("LOW", "HIGH"))
    parser.add_argument("--anew", action="store_true")
    parser.add_argument("--errors", action="store_true")
    given = parser.parse_args()
    FOLDER[0] = given.folder
    files = sorted(given.noises.glob("*.flac")) if given.noises else []
    noises = [soundfile.read(file, dtype="float32")[0] for file in files] or own_noises()
    read, by_ear = Figures(), Figures()
    print(f"| as read, as heard | {' | '.join(SHOWN)} |\n|---|{'---|' * len(SHOWN)}")
    for number, name in enumerate(given.names):
        job = Job(name, given.voices[number % len(given.voices)], given.snr, number, tuple(given.pauses))
        heard = kept(job, given.out, noises, anew=given.anew)
        one, other = measured(job, given.out, heard, errors=given.errors)
        print(row_of(f"{name} {job.voice}", one, other), flush=True)
        read.update(one)
        by_ear.update(other)
    print(row_of("together", read, by_ear))
    sure = [f"{figures.precision('causes') or 0:.3f}" for figures in (read, by_ear)]
    print(f"precision of causes: {sure[0]} as read, {sure[1]} as heard")


if __name__ == "__main__":
    main()
