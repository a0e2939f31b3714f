"""A process that listens to a file with a scripted engine; for tests that kill it.

``python -m tests.faults.listen_process HOME SOUND LINES SPEED``. It reports on standard output how many
samples its device has given (``given COUNT``) and which utterances the store has confirmed
(``kept SESSION ID``), so that whoever kills it knows what must be there afterwards.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

from narrator.hearing.apart import TendedDecoder
from narrator.hearing.capture import Capture
from narrator.hearing.replay import Replay
from narrator.hearing.tape import TapeOptions
from narrator.live.session import LiveOptions, LiveSession
from narrator.store import Writer
from narrator.values import Utterance
from tests.live.helpers import ByLength, segmenter


class Reporting(Writer):
    def add_utterances(self, session: str, utterances: object) -> None:
        new: list[Utterance] = list(utterances)  # type: ignore[call-overload]
        super().add_utterances(session, new)
        for one in new:
            say(f"kept {session} {one.id}")


def say(line: str) -> None:
    os.write(1, f"{line}\n".encode())


class ReportingReplay(Replay):
    """Says how much sound the device has given."""

    def open(self, name: str | None, callback: object) -> object:  # type: ignore[override]
        given = [0]

        def told(samples: object, lost: bool) -> None:
            callback(samples, lost)  # type: ignore[operator]
            given[0] += len(samples)  # type: ignore[arg-type]
            say(f"given {given[0]}")

        return super().open(name, told)


def main(argv: list[str]) -> None:
    home, path, lines, speed = Path(argv[0]), Path(argv[1]), int(argv[2]), float(argv[3])
    said = [f"line number {n} of the talk" for n in range(lines)]
    options = LiveOptions(tape=TapeOptions(segment=1.5, sync=0.5), segmenter=segmenter, show=False)
    with Reporting(home) as writer:
        session = LiveSession(
            writer, Capture(ReportingReplay(path, speed)),
            lambda told: TendedDecoder(lambda: ByLength(said), told=told), options=options,
        )  # fmt: skip
        say("began")
        session.run(every=0.05)
    say("ended")


if __name__ == "__main__":
    main(sys.argv[1:])
