"""The bounded queue between a device's callback and whoever takes the sound."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, eq=False)
class Block:
    """Samples of shape (n, channels) and when they arrived.

    ``dropped`` frames were lost before it for want of room; with ``overflow`` the device lost some more, it
    does not say how many.
    """

    samples: NDArray[np.float32]
    arrived: float
    dropped: int = 0
    overflow: bool = False


class BlockQueue:
    """Holds ``limit`` seconds. When full it drops and counts, or waits where the device is ``patient``."""

    def __init__(self, limit: float, patient: bool, clock: Callable[[], float]) -> None:
        self.rate = 0
        """Samples a second; nothing counts as full before it is known."""
        self._limit, self._patient, self._clock = limit, patient, clock
        self._blocks: deque[Block] = deque()
        self._frames = 0
        self.dropped = 0
        """Frames lost since the last block that was taken in."""
        self._overflow = False
        self._closed = False
        self._changed = threading.Condition()

    def put(self, samples: NDArray[np.float32], overflow: bool = False) -> None:
        """Copy a block in; called by the device, whose buffer it is."""
        arrived = self._clock()
        copy = samples.copy()
        with self._changed:
            if self._patient:
                self._changed.wait_for(lambda: self._closed or self.seconds < self._limit / 2)
            if self._closed:
                return
            self._overflow |= overflow
            if self.rate and self.seconds >= self._limit:
                self.dropped += len(copy)
                return
            self._blocks.append(Block(copy, arrived, self.dropped, self._overflow))
            self._frames += len(copy)
            self.dropped, self._overflow = 0, False
            self._changed.notify_all()

    def get(self, wait: float) -> Block | None:
        """The next block, or None when none comes within ``wait`` seconds."""
        with self._changed:
            self._changed.wait_for(lambda: self._blocks, wait)
            if not self._blocks:
                return None
            block = self._blocks.popleft()
            self._frames -= len(block.samples)
            self._changed.notify_all()
            return block

    def close(self) -> None:
        """Take nothing more in; what is there can still be taken out."""
        with self._changed:
            self._closed = True
            self._changed.notify_all()

    @property
    def seconds(self) -> float:
        """How much waits."""
        return self._frames / self.rate if self.rate else 0.0
