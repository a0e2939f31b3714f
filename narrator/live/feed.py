"""From the tape to the ears: a queue that never makes the tape wait and never grows without bound.

When the recognizer falls so far behind that the queue is full, the sound that does not fit is left to the
tape, which has it already; the ears read it from there when they get so far.
"""

from __future__ import annotations

import threading
from collections import deque
from dataclasses import dataclass

from narrator.hearing.archive import read_samples
from narrator.live.job import Job
from narrator.values import SAMPLE_RATE, AudioChunk, Gap

_READ = 5 * SAMPLE_RATE


@dataclass(slots=True)
class Later:
    """Sound of a job that is only on the tape: samples ``first`` up to ``last``."""

    job: Job
    first: int
    last: int


@dataclass(frozen=True, slots=True)
class Begin:
    """From here on it is this job."""

    job: Job


@dataclass(frozen=True, slots=True)
class End:
    """The job is over, ``samples`` long."""

    job: Job
    samples: int


class Quiet:
    """The microphone is gone or listening pauses: what is open has ended."""


Item = AudioChunk | Gap | Begin | End | Quiet


class Feed:
    """Holds ``limit`` seconds of sound."""

    def __init__(self, limit: float = 300.0) -> None:
        self._limit = round(limit * SAMPLE_RATE)
        self._items: deque[Item | Later] = deque()
        self._held = self._on_tape = 0
        self.closed = False
        """Whether nothing more will be put in."""
        self._changed = threading.Condition()

    def put(self, item: Item, job: Job | None = None) -> None:
        """Add an item; a block whose ``job`` is given is on that job's tape and may be read from there."""
        with self._changed:
            if isinstance(item, AudioChunk):
                if job is not None and self._held >= self._limit:
                    self._leave_to_tape(item, job)
                    return
                self._held += len(item.samples)
            self._items.append(item)
            self._changed.notify()

    def _leave_to_tape(self, chunk: AudioChunk, job: Job) -> None:
        end = chunk.first + len(chunk.samples)
        self._on_tape += len(chunk.samples)
        last = self._items[-1] if self._items else None
        if isinstance(last, Later) and last.job is job and last.last == chunk.first:
            last.last = end
        else:
            self._items.append(Later(job, chunk.first, end))

    def get(self, wait: float) -> Item | None:
        """The next item, or None when none comes within ``wait`` seconds."""
        with self._changed:
            self._changed.wait_for(lambda: self._items or self.closed, wait)
            if not self._items:
                return None
            item = self._items[0]
            if not isinstance(item, Later):
                self._items.popleft()
                if isinstance(item, AudioChunk):
                    self._held -= len(item.samples)
                return item
            first, last = item.first, min(item.last, item.first + _READ)
            item.first = last
            self._on_tape -= last - first
            if item.first >= item.last:
                self._items.popleft()
        return AudioChunk(read_samples(item.job.folder, first, last), first)

    def close(self) -> None:
        """Nothing more will be put in."""
        with self._changed:
            self.closed = True
            self._changed.notify_all()

    @property
    def done(self) -> bool:
        """Whether it is closed and empty."""
        return self.closed and not self._items

    @property
    def busy(self) -> bool:
        """Whether sound is waiting."""
        return len(self._items) > 1

    @property
    def behind(self) -> float:
        """Seconds of sound that wait."""
        return (self._held + self._on_tape) / SAMPLE_RATE
