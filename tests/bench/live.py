"""How soon text is there while it is being said: ``python -m tests.bench.live SOUND [SOUND...]``.

Plays each file as the microphone at real time through the whole path (tape, engine in its own process, store
on this disk) and prints quantiles in milliseconds of

- commit: from the end of speech to the utterance's return from the store. The end of speech is where the
  voice detector lets go, less the 0.1 s for which it holds on (docs/measurements/hearing.md);
- partial age: from the moment a stretch of speech has arrived to the partial or final text that covers it;
- first text: from the first sound of an utterance to its first partial or final text.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from narrator.hearing.apart import TendedDecoder, open_apart, open_early_apart
from narrator.hearing.capture import Capture
from narrator.hearing.live import LiveRecognizer
from narrator.hearing.recognizer import Heard
from narrator.hearing.replay import Replay
from narrator.live.feed import Feed
from narrator.live.session import LiveSession
from narrator.live.understander import Apart
from narrator.settings import Settings
from narrator.store import Writer
from narrator.values import SAMPLE_RATE, AudioChunk, Utterance

_TAIL_S = 0.1
_STEP_S = 0.1


class Watch:
    """Notes when sound arrived, when text was there and when it was kept."""

    def __init__(self) -> None:
        self.began = float("inf")
        self.texts: list[tuple[float, float, float]] = []
        self.commits: list[tuple[Utterance, float]] = []

    def arrived(self, chunk: AudioChunk) -> None:
        self.began = min(self.began, time.monotonic() - (chunk.first + len(chunk.samples)) / SAMPLE_RATE)

    def text(self, heard: Heard) -> None:
        self.texts.append((heard.start, heard.end, time.monotonic()))

    def report(self) -> dict[str, list[float]]:
        commits = [at - self.began - one.end + _TAIL_S for one, at in self.commits]
        ages, firsts = [], []
        for one, _ in self.commits:
            of_it = [(end, at) for start, end, at in self.texts if start < one.end and end > one.start]
            firsts.append(min(at for _, at in of_it) - self.began - one.start)
            for moment in np.arange(one.start + 0.5, one.end - _TAIL_S, _STEP_S):
                covered = min(at for end, at in of_it if end >= moment - 1e-6)
                ages.append(covered - self.began - moment)
        return {"commit": commits, "partial age": ages, "first text": firsts}


def measure(path: Path) -> dict[str, list[float]]:
    watch = Watch()
    put, accept, add = Feed.put, LiveRecognizer.accept, Writer.add_utterances

    def watched_put(self: Feed, item: object, job: object = None) -> None:
        if isinstance(item, AudioChunk):
            watch.arrived(item)
        put(self, item, job)  # type: ignore[arg-type]

    def watched_accept(self: LiveRecognizer, chunk: AudioChunk) -> list[Heard]:
        heard = accept(self, chunk)
        for one in heard:
            watch.text(one)
        return heard

    def watched_add(self: Writer, session: str, utterances: list[Utterance]) -> None:
        add(self, session, utterances)
        watch.commits += [(one, time.monotonic()) for one in utterances]

    Feed.put, LiveRecognizer.accept = watched_put, watched_accept  # type: ignore[method-assign]
    Writer.add_utterances = watched_add  # type: ignore[method-assign, assignment]
    try:
        with tempfile.TemporaryDirectory() as home, Writer(Path(home)) as writer:
            settings = Settings(home=Path(home))
            session = LiveSession(
                writer, Capture(Replay(path)), lambda told: TendedDecoder(lambda: open_apart(settings)),
                understander=Apart(Path(home)),
                early=lambda: TendedDecoder(lambda: open_early_apart(settings)),
            )  # fmt: skip
            session.run()
    finally:
        Feed.put, LiveRecognizer.accept = put, accept  # type: ignore[method-assign]
        Writer.add_utterances = add  # type: ignore[method-assign]
    return watch.report()


def main() -> None:
    print("| sound | what | count | median | p95 | worst |\n|---|---|---|---|---|---|")
    for name in sys.argv[1:]:
        for what, seconds in measure(Path(name)).items():
            ms = np.array(seconds) * 1000
            print(
                f"| {Path(name).parent.name} | {what} | {len(ms)} | {np.median(ms):.0f} ms"
                f" | {np.percentile(ms, 95):.0f} ms | {ms.max():.0f} ms |"
            )


if __name__ == "__main__":
    main()
