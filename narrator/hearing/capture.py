"""The microphone as a source: one sample clock through overflows, unplugging and coming back.

The device's callback only copies into a bounded queue. Whoever iterates takes the blocks out, makes them
16 kHz mono, and sees to it that the sample clock goes on over every stretch that was lost, with a ``Gap`` for
each. PortAudio does not tell when a device is pulled out: sound that stays away is the sign.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from narrator.errors import NarratorError
from narrator.hearing.blocks import Block, BlockQueue
from narrator.hearing.device import Device, Stream, steady_time
from narrator.hearing.level import Meter
from narrator.hearing.source import new_resampler, to_mono
from narrator.values import SAMPLE_RATE, AudioChunk, Gap

OVERFLOW = "sound was lost because the machine was too slow"
LOST = "the microphone gave no sound"


@dataclass(frozen=True, slots=True)
class CaptureOptions:
    """All in seconds."""

    queue: float = 12.0
    """Sound that may wait to be taken."""
    patience: float = 2.0
    """A microphone that gives nothing for so long is lost."""
    retry: float = 1.0
    """How often it is tried again."""
    poll: float = 0.1


class Capture:
    """A ``Source``: sound of an input device until ``stop`` is called, or until a replayed file ends.

    ``told`` hears of what happens, in words: the microphone is lost, or is back.

    Raises:
        NarratorError: E601 to E603 on construction, when the device cannot be opened.
    """

    seconds = None

    def __init__(
        self,
        device: Device,
        name: str | None = None,
        *,
        options: CaptureOptions | None = None,
        told: Callable[[str, bool], None] = lambda text, trouble: None,
        clock: Callable[[], float] = steady_time,
    ) -> None:
        self.meter = Meter()
        self._device, self._told, self._clock = device, told, clock
        self._options = options or CaptureOptions()
        self._stopped = threading.Event()
        self._first = 0
        self._due: _Due
        self._queue: BlockQueue
        self._resampler = _resampler(SAMPLE_RATE)
        self._stream: Stream | None = None
        self._absent_since: float | None = None
        self._open(name)
        self.name = self._stream.name if self._stream else ""

    @property
    def position(self) -> int:
        """The sample clock: number of the next sample."""
        return self._first

    @property
    def patient(self) -> bool:
        """Whether the device waits when its sound is not taken."""
        return self._device.patient

    @property
    def absent(self) -> bool:
        """Whether the microphone is gone just now."""
        return self._absent_since is not None

    def stop(self) -> None:
        """Let the iteration end after what has already arrived."""
        self._stopped.set()

    def close(self) -> None:
        """Let go of the device where nobody will take its sound."""
        self._close()

    def __iter__(self) -> Iterator[AudioChunk | Gap]:
        """Give sound as it comes."""
        try:
            while not self._stopped.is_set():
                block = self._queue.get(self._options.poll)
                if block is not None:
                    yield from self._take(block)
                elif self._stream is not None and self._stream.ended():
                    break
                elif self._too_long(self._clock()):
                    yield from self._lose()
            yield from self._rest()
        finally:
            self._close()
        if self._stream is not None and self._stream.failure is not None:
            raise self._stream.failure

    # ------------------------------------------------------------ blocks

    def _take(self, block: Block) -> Iterator[AudioChunk | Gap]:
        seconds = len(block.samples) / self._due.rate
        if self._absent_since is None and self._too_long(block.arrived - seconds):
            self._absent_since = self._due.last  # the machine slept, or nobody looked meanwhile
            yield from self._flush()
        if self._absent_since is not None:
            yield from self._gap(block.arrived - seconds - self._absent_since, LOST)
            self._absent_since = None
            self._told(f"{self.name} is back", False)
        missed = self._due.missed(block)
        if missed:
            yield from self._flush()
            yield from self._gap(missed, OVERFLOW)
        self.meter.take(block.samples, self._due.rate)
        yield from self._give(to_mono(block.samples))

    def _give(self, mono: NDArray[np.float32], last: bool = False) -> Iterator[AudioChunk]:
        if self._resampler is not None:
            mono = self._resampler.resample_chunk(mono, last=last)
        if len(mono):
            # Rounded to what the tape keeps, so that hearing the tape again hears the same.
            samples = (np.clip(np.rint(mono * 32768), -32768, 32767) / 32768).astype(np.float32)
            yield AudioChunk(samples, self._first)
            self._first += len(samples)

    def _flush(self) -> Iterator[AudioChunk]:
        """Give what the resampler still holds, and begin with a fresh one."""
        if self._resampler is not None:
            yield from self._give(np.zeros(0, np.float32), last=True)
            self._resampler = _resampler(self._due.rate)

    def _gap(self, seconds: float, reason: str) -> Iterator[Gap]:
        samples = max(1, round(seconds * SAMPLE_RATE))
        yield Gap(self._first / SAMPLE_RATE, (self._first + samples) / SAMPLE_RATE, reason)
        self._first += samples

    def _rest(self) -> Iterator[AudioChunk | Gap]:
        """What is left when it ends: blocks that wait, the resampler's tail, or the gap until now."""
        self._close()
        while (block := self._queue.get(0.0)) is not None:
            yield from self._take(block)
        yield from self._flush()
        if self._queue.dropped:
            yield from self._gap(self._queue.dropped / self._due.rate, OVERFLOW)
        if self._absent_since is not None:
            yield from self._gap(self._clock() - self._absent_since, LOST)

    # ------------------------------------------------------------ the device

    def _too_long(self, now: float) -> bool:
        return not self._device.patient and now - self._due.last > self._options.patience

    def _open(self, name: str | None) -> None:
        self._queue = BlockQueue(self._options.queue, self._device.patient, self._clock)
        self._stream = self._device.open(name, self._queue.put)
        self._queue.rate = self._stream.rate
        self._due = _Due(self._stream.rate, self._clock())
        self._resampler = _resampler(self._stream.rate)

    def _close(self) -> None:
        if self._stream is not None:
            self._queue.close()
            self._stream.close()

    def _lose(self) -> Iterator[AudioChunk]:
        """The device is gone: give what the resampler holds, then try to have it back by its name."""
        if self._absent_since is None:
            self._absent_since = self._due.last
            self._told(f"{self.name} gives no sound", True)
            yield from self._flush()
        self._close()
        while not self._stopped.wait(self._options.retry):
            try:
                self._open(self.name)
            except NarratorError:
                continue
            return


class _Due:
    """When blocks are due: finds out how much is missing where the device only says that some is.

    How far arrival lags behind the samples counted is compared with the least lag of late; that may creep up
    by a thousandth, so that a device whose clock runs slow does not seem to lose sound.
    """

    def __init__(self, rate: int, now: float) -> None:
        self.rate = rate
        self.last = now
        self._began: float | None = None
        self._counted = 0.0
        self._least = 0.0

    def missed(self, block: Block) -> float:
        """Seconds lost before this block."""
        seconds = len(block.samples) / self.rate
        if self._began is None:
            self._began = block.arrived - seconds
        self.last = block.arrived
        self._counted += seconds + block.dropped / self.rate
        lag = block.arrived - self._began - self._counted
        lost = block.dropped / self.rate
        if block.overflow:
            more = max(seconds, lag - self._least)
            lost, lag = lost + more, lag - more
            self._counted += more
        self._least = min(self._least + seconds / 1000, lag)
        return lost


def _resampler(rate: int) -> Any:  # soxr has no types
    return new_resampler(rate) if rate != SAMPLE_RATE else None
