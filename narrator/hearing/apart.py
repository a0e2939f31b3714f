"""An engine in a process of its own, so that its crash or its appetite for memory is not ours.

``ApartDecoder`` is the process; ``TendedDecoder`` keeps one going: starts it again when it fails, and at a
pause when it has grown too large.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, Literal, Protocol

import numpy as np
import psutil

from narrator.errors import NarratorError
from narrator.hearing.apart_main import CALLS, EARLY, HEAD, LENGTH, PHRASES
from narrator.hearing.recognizer import Decoder
from narrator.hearing.segmenter import Segment
from narrator.settings import Settings
from narrator.values import Word

_START_S = 120.0
_SLOWEST = 4.0
"""A piece may take this many times its length, and ten seconds more, before the engine counts as hung."""

_ONE_THREAD = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
"""Small matrices gain nothing by more threads, and the tape needs the processor too."""


class Engine(Decoder, Protocol):
    """A decoder that can be ended and weighed."""

    def memory(self) -> int:
        """Bytes of memory that it holds."""
        ...

    def close(self) -> None:
        """End it."""
        ...


class ApartDecoder:
    """A ``Decoder`` in a child process. In ``haste`` an engine of two ears uses one; ``name`` and ``timing``
    are those of the last piece.

    Raises:
        NarratorError: the engine's own error (E201 to E207) where it cannot be opened; E606 when it dies,
            hangs or says that it failed.
    """

    def __init__(self, command: Sequence[str], environment: dict[str, str] | None = None) -> None:
        self.name = command[-1]
        self.timing: Literal["aligned", "estimated"] = "estimated"
        self._process = subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
            env=os.environ | _ONE_THREAD | (environment or {}),
        )  # fmt: skip
        self.haste = False
        self._lock = threading.Lock()
        try:
            hello = self._read(_START_S)
            self.name, self.timing = hello["name"], hello["timing"]
        except BaseException:
            self.close()
            raise

    def decode(self, segment: Segment) -> list[Word]:
        """See ``Decoder``."""
        samples = np.ascontiguousarray(segment.samples, "<f4").tobytes()
        voiced = np.ascontiguousarray(segment.voiced, np.bool_).tobytes()
        head = HEAD.pack(segment.first, len(segment.samples), len(segment.voiced), self.haste)
        with self._lock:
            try:
                assert self._process.stdin is not None
                self._process.stdin.write(head + samples + voiced)
                self._process.stdin.flush()
            except OSError as error:
                raise NarratorError("E606", engine=self.name, why=self._end(error)) from error
            answer = self._read(10.0 + _SLOWEST * (segment.end - segment.start))
        self.name, self.timing = answer["name"], answer["timing"]
        return [Word(*row) for row in answer["words"]]

    def memory(self) -> int:
        """See ``Engine``."""
        try:
            return int(psutil.Process(self._process.pid).memory_info().rss)
        except psutil.Error:
            return 0

    def close(self) -> None:
        """See ``Engine``."""
        for pipe in (self._process.stdin, self._process.stdout):
            if pipe is not None:
                try:
                    pipe.close()
                except OSError:  # it died with a request unread
                    continue
        try:
            self._process.wait(2.0)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()

    def _read(self, patience: float) -> dict[str, Any]:
        """One answer; a process that takes too long is killed, which ends the reading."""
        assert self._process.stdout is not None
        watch = threading.Timer(patience, self._process.kill)
        watch.daemon = True
        watch.start()
        try:
            head = self._process.stdout.read(LENGTH.size)
            data = self._process.stdout.read(LENGTH.unpack(head)[0]) if len(head) == LENGTH.size else b""
        finally:
            watch.cancel()
        if not data:
            raise NarratorError("E606", engine=self.name, why=self._end(None))
        answer: dict[str, Any] = json.loads(data)
        if "error" in answer:
            raise NarratorError.again(*answer["error"])
        if "failed" in answer:
            raise NarratorError("E606", engine=self.name, why=answer["failed"])
        return answer

    def _end(self, error: OSError | None) -> str:
        try:
            return f"its process ended with {self._process.wait(2.0)}"
        except subprocess.TimeoutExpired:
            return str(error)


def open_apart(
    settings: Settings,
    engine: str | None = None,
    model: Path | None = None,
) -> ApartDecoder:
    """The engine of the settings, or the one named, in a process of its own."""
    command = [sys.executable, "-m", "narrator.hearing.apart_main", engine or settings.engine]
    if model is not None:
        command.append(str(model))
    environment = {"NARRATOR_HOME": str(settings.home)}
    if settings.vosk_model is not None:
        environment["NARRATOR_VOSK_MODEL"] = str(settings.vosk_model)
    return ApartDecoder(command, environment)


def open_early_apart(settings: Settings) -> ApartDecoder:
    """The decoder of partial text in a process of its own, so that it never waits for a whole piece."""
    command = [sys.executable, "-m", "narrator.hearing.apart_main", EARLY]
    return ApartDecoder(command, {"NARRATOR_HOME": str(settings.home)})


def open_calls_apart(settings: Settings, calls: Sequence[Sequence[str]]) -> ApartDecoder:
    """The ear of commands (``CallEar``) in a process of its own."""
    command = [sys.executable, "-m", "narrator.hearing.apart_main", CALLS]
    return ApartDecoder(command, {"NARRATOR_HOME": str(settings.home), PHRASES: json.dumps([*calls])})


class TendedDecoder:
    """A ``Decoder`` over engines that may fail: a piece that one fails on is given to a new one.

    When that fails too, the piece has no words, ``failures`` counts it and ``told`` hears of it.
    """

    def __init__(
        self,
        opener: Callable[[], Engine],
        *,
        told: Callable[[str, bool], None] = lambda text, trouble: None,
        limit: int = 1_500_000_000,
        rest_s: float = 600.0,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._opener, self._told, self._limit, self._rest, self._clock = opener, told, limit, rest_s, clock
        self._engine: Engine | None = opener()
        self._renewed = -rest_s
        self.name = self._engine.name
        self.timing: Literal["aligned", "estimated"] = self._engine.timing
        self.haste = False
        """Whether to be quicker rather than better, where the engine can."""
        self.failures = 0
        self.restarts = 0
        self._lock = threading.Lock()

    def decode(self, segment: Segment) -> list[Word]:
        """See ``Decoder``; several threads may ask."""
        with self._lock:
            return self._decoded(segment)

    def _decoded(self, segment: Segment) -> list[Word]:
        for _ in range(2):
            try:
                engine = self._ready()
                if isinstance(engine, ApartDecoder):
                    engine.haste = self.haste
                words = engine.decode(segment)
                self.name, self.timing = engine.name, engine.timing
                return words
            except NarratorError as error:
                self._told(error.message, True)
                self._drop()
        self.failures += 1
        self._told(f"{segment.end - segment.start:.0f} s could not be turned into text", True)
        return []

    def tend(self) -> bool:
        """To be called at a pause: begin afresh with an engine that has grown too large."""
        now = self._clock()
        if self._engine is None or now - self._renewed < self._rest or self._engine.memory() <= self._limit:
            return False
        self._renewed = now
        self._drop()
        self._ready()
        return True

    def memory(self) -> int:
        """See ``Engine``."""
        return self._engine.memory() if self._engine is not None else 0

    def close(self) -> None:
        """See ``Engine``."""
        self._drop()

    def _ready(self) -> Engine:
        if self._engine is None:
            self.restarts += 1
            self._engine = self._opener()
            self._told("the recognizer is running again", False)
        return self._engine

    def _drop(self) -> None:
        if self._engine is not None:
            engine, self._engine = self._engine, None
            engine.close()
