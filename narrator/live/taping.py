"""The first thread: takes sound from the microphone, tapes it, and only then hands it on."""

from __future__ import annotations

import shutil
import threading
import time
from collections.abc import Callable
from pathlib import Path

from narrator.errors import NarratorError
from narrator.hearing.capture import Capture
from narrator.hearing.tape import BYTES
from narrator.live.feed import Begin, End, Feed
from narrator.live.job import Job
from narrator.values import SAMPLE_RATE, AudioChunk, Gap

PAUSED = "paused"
FULL = "sound could not be kept on the disk; it was heard"
_CHECK_S = 2.0
_AHEAD_S = 30.0
_NEAR_S = 0.3
_WARN_MINUTES = 60.0


def minutes_left(folder: Path, reserve_mb: int) -> float:
    """Minutes of raw sound that fit on the disk beside the reserve; packed sound takes about half."""
    while not folder.exists():
        folder = folder.parent
    free = shutil.disk_usage(folder).free - reserve_mb * 1_000_000
    return max(0.0, free / (SAMPLE_RATE * BYTES * 60))


class Taping:
    """Runs from the first block to ``capture.stop()``; a job may be changed at a pause in speech.

    With ``judging`` (whether something that was heard is not dealt with yet) a file waits until all of it is,
    so that a spoken command takes hold where it was said, however long hearing takes.
    """

    def __init__(
        self,
        capture: Capture,
        feed: Feed,
        new_job: Callable[[int, str | None], Job],
        *,
        reserve_mb: int,
        told: Callable[[str, bool], None],
        speaking: Callable[[], bool],
        judging: Callable[[], bool] | None = None,
        room: Callable[[Path, int], float] = minutes_left,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._capture, self._feed, self._new_job, self._told = capture, feed, new_job, told
        self._speaking, self._room, self._clock = speaking, room, clock
        self._judging = judging
        self._reserve = reserve_mb
        self._lock = threading.Lock()
        self._wanted: tuple[str | None] | None = None
        self._pause_from: int | None = None
        self._untaped_from: int | None = None
        self._next_check = 0.0
        self._warned = False
        self.job: Job | None = None
        self.failure: NarratorError | None = None
        self.minutes: float | None = None

    @property
    def position(self) -> int:
        """The job's next sample."""
        return self._capture.position - (self.job.offset if self.job else 0)

    @property
    def paused(self) -> bool:
        """Whether nothing is kept just now."""
        return self._pause_from is not None

    @property
    def taping(self) -> bool:
        """Whether sound gets onto the disk."""
        return self._untaped_from is None

    def pause(self) -> None:
        """Keep no sound from the next block on."""
        with self._lock:
            if self._pause_from is None and self.job is not None:
                self._end_untaped()
                self._pause_from = self.position

    def go_on(self) -> None:
        """Keep sound again."""
        with self._lock:
            if self._pause_from is not None:
                self._feed.put(Gap(self._pause_from / SAMPLE_RATE, self.position / SAMPLE_RATE, PAUSED))
                self._pause_from = None

    def next_job(self, vehicle: str | None) -> None:
        """Begin another job as soon as nobody is speaking."""
        self._wanted = (vehicle,)

    def run(self, vehicle: str | None = None) -> None:
        """Work until the capture ends; the error of a replayed file is kept in ``failure``."""
        try:
            self._start(vehicle)
            for block in self._capture:
                if self._capture.patient:  # a file can wait for the ears, a microphone cannot
                    self._wait()
                if self._wanted is not None and isinstance(block, AudioChunk) and not self._speaking():
                    self._switch(block.first)
                with self._lock:
                    self._take(block)
        except NarratorError as error:
            self.failure = error
        finally:
            self._finish(None)
            self._feed.close()

    def _wait(self) -> None:
        if self._judging is None:
            while self._feed.behind > _AHEAD_S and not self._feed.closed:
                time.sleep(0.02)
            return
        while (self._feed.behind > _NEAR_S or self._judging()) and not self._feed.closed:
            time.sleep(0.002)

    # ------------------------------------------------------------ blocks

    def _take(self, block: AudioChunk | Gap) -> None:
        assert self.job is not None
        if isinstance(block, Gap):
            if not self.paused:
                self._feed.put(self.job.gap(block))
            return
        chunk = self.job.chunk(block)
        taped = not self.paused and self._tape(chunk)
        self._feed.put(chunk, self.job if taped else None)

    def _tape(self, chunk: AudioChunk) -> bool:
        assert self.job is not None
        now = self._clock()
        if now >= self._next_check:
            self._next_check = now + _CHECK_S
            self._look_at_disk(chunk.first)
        if not self.taping:
            return False
        try:
            self.job.tape.write(chunk)
        except NarratorError as error:
            self._stop_taping(self.job.tape.end, error.message)
            return False
        return True

    def _look_at_disk(self, at: int) -> None:
        assert self.job is not None
        try:
            self.minutes = self._room(self.job.folder, self._reserve)
        except OSError:
            return
        if self.minutes <= 0 and self.taping:
            try:
                self.job.tape.seal()
            except NarratorError as error:
                self._told(error.message, True)
            self._stop_taping(at, "the disk is full: sound is no longer kept, text is")
        elif self.minutes > 1.0 and not self.taping:
            self._end_untaped()
            self._told("sound is kept again", False)
        elif self.minutes < _WARN_MINUTES and not self._warned:
            self._warned = True
            self._told(f"the disk has room for {self.minutes:.0f} minutes of sound", True)

    def _stop_taping(self, at: int, why: str) -> None:
        self._untaped_from = at
        self._told(why, True)

    def _end_untaped(self) -> None:
        """Keep that there is no sound from where taping stopped until here."""
        if self._untaped_from is not None:
            start, self._untaped_from = self._untaped_from, None
            if self.position > start:
                self._feed.put(Gap(start / SAMPLE_RATE, self.position / SAMPLE_RATE, FULL))

    # ------------------------------------------------------------ jobs

    def _start(self, vehicle: str | None) -> None:
        self.job = self._new_job(self._capture.position, vehicle)
        self._feed.put(Begin(self.job))

    def _switch(self, first: int) -> None:
        """End the job before sample ``first`` and begin another with it, if the store lets us."""
        assert self._wanted is not None
        (vehicle,), self._wanted = self._wanted, None
        try:
            job = self._new_job(first, vehicle)
        except NarratorError as error:
            self._told(f"no new job: {error.message}", True)
            return
        self._finish(first)
        self.job = job
        self._feed.put(Begin(job))

    def _finish(self, first: int | None) -> None:
        """End the job at the capture's sample ``first``, or where it is now."""
        if self.job is None:
            return
        self.go_on()
        self._end_untaped()
        job, self.job = self.job, None
        try:
            job.tape.seal()
        except NarratorError as error:
            self._told(error.message, True)
        self._feed.put(End(job, (self._capture.position if first is None else first) - job.offset))
