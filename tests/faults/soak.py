"""A whole day of listening in less time: ``python -m tests.faults.soak HOURS SPEED SOUND [SOUND...]``.

Plays the sounds over and over as the microphone, through the whole path with the real recognizer (both ears
and that of commands), and prints the memory of both processes each half hour of sound, then the slopes and
what was kept. What must hold: every sample that was given is on the tape or in a counted gap, and memory
grows by 5 MB an hour of sound at most.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import psutil

from narrator.hearing.apart import TendedDecoder, open_apart, open_calls_apart, open_early_apart
from narrator.hearing.archive import segments
from narrator.hearing.capture import Capture
from narrator.hearing.replay import Replay
from narrator.hearing.source import FileSource
from narrator.live.commands import TextControl
from narrator.live.grammar import grammar_path, read_commands
from narrator.live.session import LiveSession
from narrator.live.understander import Apart
from narrator.live.view import View
from narrator.settings import Settings
from narrator.store import Reader, Writer
from narrator.store.erase import sound_folder
from narrator.values import SAMPLE_RATE, AudioChunk


class OverAndOver(FileSource):
    """Several files after each other, again and again, for so many samples."""

    def __init__(self, paths: list[Path], samples: int) -> None:
        super().__init__(paths[0])
        self._paths, self._wanted = paths, samples
        self.given = 0

    def __iter__(self) -> Iterator[AudioChunk]:
        while True:
            for path in self._paths:
                for chunk in FileSource(path):
                    assert isinstance(chunk, AudioChunk)
                    samples = chunk.samples[: self._wanted - self.given]
                    if not len(samples):
                        return
                    yield AudioChunk(samples, self.given)
                    self.given += len(samples)


class Memory:
    """Resident memory of this process and of its children, by hours of sound."""

    def __init__(self) -> None:
        self.rows: list[tuple[float, float, float]] = []
        self._next = 0.0
        self._own = psutil.Process()

    def tick(self, view: View) -> None:
        if view.seconds < self._next:
            return
        self._next = view.seconds + 60
        engines = sum(child.memory_info().rss for child in self._own.children())
        self.rows.append((view.seconds / 3600, self._own.memory_info().rss / 1e6, engines / 1e6))
        if len(self.rows) % 30 == 1:
            hours, own, engine = self.rows[-1]
            print(f"{hours:.2f} h: {own:.0f} MB + others {engine:.0f} MB; behind {view.behind:.1f} s,"
                  f" {view.utterances} utterances, {view.gaps} gaps", flush=True)  # fmt: skip

    def slope(self, column: int, after: float) -> float:
        """Megabytes an hour of sound, from ``after`` hours on."""
        rows = np.array([row for row in self.rows if row[0] >= after])
        return float(np.polyfit(rows[:, 0], rows[:, column], 1)[0]) if len(rows) > 2 else float("nan")


def main() -> None:
    hours, speed, paths = float(sys.argv[1]), float(sys.argv[2]), [Path(p) for p in sys.argv[3:]]
    memory = Memory()
    began = time.monotonic()
    with tempfile.TemporaryDirectory() as name:
        home = Path(name)
        device = Replay(paths[0], speed)
        source = device._source = OverAndOver(paths, round(hours * 3600 * SAMPLE_RATE))
        settings = Settings(home=home)
        commands = read_commands(grammar_path(settings))
        calls = TendedDecoder(lambda: open_calls_apart(settings, commands.calls()))
        with Writer(home) as writer:
            session = LiveSession(
                writer,
                Capture(device),
                lambda told: TendedDecoder(lambda: open_apart(settings), told=told),
                calls=calls,
                control=TextControl(commands, calls),
                understander=Apart(home),
                early=lambda: TendedDecoder(lambda: open_early_apart(settings)),
            )
            (kept,) = session.run(memory.tick)
        calls.close()
        with Reader(home) as reader:
            facts = reader.facts(kept)
        taped = sum(count for _, count, _ in segments(sound_folder(home, kept)))
        size = sum(p.stat().st_size for p in home.rglob("*") if p.is_file())
    wall = time.monotonic() - began
    gaps = sum(gap.end - gap.start for gap in facts.gaps)
    print(f"{hours:g} h of sound in {wall / 60:.1f} min ({hours * 3600 / wall:.1f} times life)")
    print(f"given {source.given} samples, taped {taped}, in {len(facts.gaps)} gaps {gaps:.2f} s;"
          f" not counted: {source.given - taped - round(gaps * SAMPLE_RATE)} samples")  # fmt: skip
    print(f"{len(facts.utterances)} utterances, {len(facts.sounds)} sound files, {size / 1e6:.0f} MB in all")
    one_ear = sum("+shop" not in one.engine for one in facts.utterances)
    print(f"{one_ear} utterances were heard by one ear, because text had fallen behind")
    print(f"memory grows by {memory.slope(1, hours / 8):.2f} MB/h (narrator) and"
          f" {memory.slope(2, hours / 8):.2f} MB/h (others) after the first {hours / 8:g} h")  # fmt: skip
    taken = [strike for strike in facts.strikes if strike.reason.startswith("command")]
    print(f"{len(taken)} utterances were taken for commands")
    print(f"told: {sorted(set(session.log))}")


if __name__ == "__main__":
    main()
