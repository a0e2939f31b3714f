"""Kills a listening process at random moments and looks at what the next start makes of it.

``python -m tests.faults.kill [TRIALS] [SEED]`` prints one line a trial that went wrong and the worst figures.
What must hold each time: at most a second of the sound that the device gave is missing; every utterance that
the store confirmed is there; hearing the rest gives what an undisturbed run gives; a rebuilt record is the
same byte for byte; recovering again changes nothing.
"""

from __future__ import annotations

import os
import random
import signal
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile

from narrator.hearing.archive import read_samples
from narrator.live.recover import recover_sessions
from narrator.session import derive
from narrator.store import Reader, Writer
from narrator.store.erase import sound_folder
from narrator.values import SAMPLE_RATE, Utterance
from tests.faults import listen_process
from tests.live.helpers import ByLength, recording, segmenter

LINES = 6
SPEED = 6.0


@dataclass(frozen=True)
class Outcome:
    lost_s: float
    """Sound that the device gave and the tape lacks, in seconds of sound (it runs at six times life)."""
    missing: int
    """Utterances that were confirmed and are gone."""
    reheard: int
    problems: tuple[str, ...]


def run_and_kill(folder: Path, after: float) -> list[str]:
    """Start, kill after so many seconds from its beginning, and give what it had reported."""
    path = recording(folder / "talk.wav", LINES, pause=0.9)
    home = folder / "home"
    home.mkdir()
    reading, writing = os.pipe()
    child = os.fork()  # everything is imported already: a trial takes seconds less
    if child == 0:
        os.dup2(writing, 1)
        try:
            listen_process.main([str(home), str(path), str(LINES), str(SPEED)])
        finally:
            os._exit(0)
    os.close(writing)
    with os.fdopen(reading) as reports:
        lines = [reports.readline().strip()]
        time.sleep(after)
        os.kill(child, signal.SIGKILL)
        lines += reports.read().splitlines()
    os.waitpid(child, 0)
    return lines


def examine(folder: Path, lines: list[str]) -> Outcome:
    """Recover as the next start does, and compare."""
    home = folder / "home"
    given = max((int(line.split()[1]) for line in lines if line.startswith("given ")), default=0)
    kept = [line.split()[1:] for line in lines if line.startswith("kept ")]
    said = [f"line number {n} of the talk" for n in range(LINES)]
    with Writer(home) as writer:
        found = recover_sessions(writer, lambda: ByLength(said), segmenter=segmenter)
        again = recover_sessions(writer, lambda: ByLength(said), segmenter=segmenter)
        with Reader(home) as reader:
            rows = reader.sessions()
        problems = ["recovered twice"] if again else []
        if not rows:
            return Outcome(given / SAMPLE_RATE, len(kept), 0, tuple(problems))
        (row,) = rows
        with Reader(home) as reader:
            facts, stored = reader.facts(row.id), reader.record(row.id)
        first = stored.text if stored else derive(writer, row.id).text
        writer.drop_records()
        if derive(writer, row.id).text != first:
            problems.append("the rebuilt record differs")
    problems += _compare(folder, row.id, facts.utterances, row.audio_seconds or 0.0)
    if row.state == "open":
        problems.append("still open")
    there = {(row.id, str(one.id)) for one in facts.utterances}
    lost = given / SAMPLE_RATE - (row.audio_seconds or 0.0)
    return Outcome(
        lost,
        len([k for k in kept if tuple(k) not in there]),
        sum(f.reheard for f in found),
        tuple(problems),
    )


def _compare(folder: Path, session: str, utterances: tuple[Utterance, ...], seconds: float) -> list[str]:
    """The tape against the sound that was played; the text against what an undisturbed run hears in it."""
    problems = []
    played, _ = soundfile.read(folder / "talk.wav", dtype="float32")
    end = round(seconds * SAMPLE_RATE)
    if not np.array_equal(read_samples(sound_folder(folder / "home", session), 0, end), played[:end]):
        problems.append("the tape differs from what was played")
    said = [f"line number {n} of the talk" for n in range(LINES)]
    texts = [one.text for one in utterances]
    # The kill may have cut the last remark short, and the engine goes by length.
    cut = bool(utterances) and seconds - utterances[-1].end < 0.1
    sure = texts[:-1] if cut else texts
    if sure != said[: len(sure)]:
        problems.append(f"the text differs: {texts}")
    return problems


def main() -> None:
    trials = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    chance = random.Random(seed)
    worst, missing, reheard, bad, ended = 0.0, 0, 0, 0, 0
    for trial in range(trials):
        with tempfile.TemporaryDirectory() as name:
            after = chance.uniform(0.0, 2.2)
            lines = run_and_kill(Path(name), after)
            outcome = examine(Path(name), lines)
        worst, missing = max(worst, outcome.lost_s), missing + outcome.missing
        reheard += outcome.reheard
        ended += "ended" in lines
        if outcome.problems or outcome.missing or outcome.lost_s > 1.0:
            bad += 1
            print(f"trial {trial}: killed after {after:.3f} s: {outcome}", flush=True)
    print(f"{trials} trials (seed {seed}), {ended} of them ended before the kill: {bad} bad;"
          f" worst loss of sound {worst * 1000:.0f} ms; {missing} confirmed utterances missing;"
          f" {reheard} utterances heard after the kill")  # fmt: skip
    sys.exit(bool(bad))


if __name__ == "__main__":
    main()
