"""A sound file played as if it were the microphone."""

from __future__ import annotations

import threading
import time
from pathlib import Path

from narrator.errors import NarratorError
from narrator.hearing.device import BLOCK_S, Callback, Stream
from narrator.hearing.source import FileSource
from narrator.values import SAMPLE_RATE, AudioChunk


class Replay:
    """A device that plays ``path`` ``speed`` times as fast as it was recorded (0: as fast as it is taken).

    Its callback may wait, which a microphone cannot: so faster than life it never loses sound.

    Raises:
        NarratorError: what is wrong with the file (E10x).
    """

    patient = True

    def __init__(self, path: Path, speed: float = 1.0) -> None:
        self._source = FileSource(path)
        self._speed = speed

    def open(self, name: str | None, callback: Callback) -> Stream:
        """See ``Device``."""
        return _Playing(self._source, self._speed, callback)


class _Playing:
    rate = SAMPLE_RATE

    def __init__(self, source: FileSource, speed: float, callback: Callback) -> None:
        self.name = source.path.name
        self.failure: NarratorError | None = None
        self._source, self._speed, self._callback = source, speed, callback
        self._stop, self._done = threading.Event(), threading.Event()
        self._thread = threading.Thread(target=self._play, name="replay", daemon=True)
        self._thread.start()

    def ended(self) -> bool:
        return self._done.is_set()

    def close(self) -> None:
        self._stop.set()
        if self._thread is not threading.current_thread():
            self._thread.join()

    def _play(self) -> None:
        began, played = time.monotonic(), 0
        block = int(SAMPLE_RATE * BLOCK_S)
        try:
            for chunk in self._source:
                if not isinstance(chunk, AudioChunk):
                    continue
                for at in range(0, len(chunk.samples), block):
                    piece = chunk.samples[at : at + block]
                    played += len(piece)
                    due = began + played / SAMPLE_RATE / self._speed if self._speed else 0.0
                    if self._stop.wait(max(0.0, due - time.monotonic())):
                        return
                    self._callback(piece[:, None], False)
        except NarratorError as error:
            self.failure = error
        finally:
            self._done.set()
