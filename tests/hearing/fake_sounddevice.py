"""A stub of the sounddevice module: its ``query_devices`` and ``InputStream``, driven by the test.

The test owns a ``FakePortAudio``: which devices are there, and what each gives. ``run`` plays samples into
the open stream at once or in real time, with or without overflow marks; ``pull`` takes the device away as a
real one goes: it just stops calling back.
"""

from __future__ import annotations

import threading
import time
from types import ModuleType, SimpleNamespace
from typing import Any

import numpy as np


class PortAudioError(Exception):
    pass


class FakePortAudio:
    def __init__(self, *devices: tuple[str, int, int]) -> None:
        self.devices = list(devices)
        self._listed = list(devices)
        self.streams: list[FakeStream] = []
        self.played: list[tuple[int, int]] = []
        self.rescans = 0

    def module(self) -> ModuleType:
        sd: Any = ModuleType("sounddevice")
        sd.PortAudioError = PortAudioError
        sd.default = SimpleNamespace(device=[0, 0])
        sd.query_devices = self.query_devices
        sd.InputStream = lambda **how: FakeStream(self, **how)
        sd.play = self.play
        sd._terminate = lambda: None
        sd._initialize = self.rescan
        module: ModuleType = sd
        return module

    def rescan(self) -> None:
        self.rescans += 1
        self._listed = list(self.devices)

    def query_devices(self, index: int | None = None) -> Any:
        rows = [
            {"name": name, "max_input_channels": channels, "default_samplerate": float(rate)}
            for name, channels, rate in self._listed
        ]
        return rows if index is None else rows[index]

    def play(self, samples: np.ndarray, rate: int, blocking: bool) -> None:
        self.played.append((len(samples), rate))

    def pull(self, name: str) -> None:
        """Unplug: the open stream goes silent; the list shows it only after a rescan."""
        self.devices = [row for row in self.devices if row[0] != name]
        for stream in self.streams:
            if stream.name == name:
                stream.dead = True

    def plug(self, name: str, channels: int, rate: int) -> None:
        self.devices.append((name, channels, rate))

    @property
    def open_stream(self) -> FakeStream:
        return self.streams[-1]


class FakeStream:
    def __init__(self, system: FakePortAudio, device: int, channels: int, samplerate: int, blocksize: int,
                 dtype: str, latency: str, callback: Any) -> None:  # fmt: skip
        assert dtype == "float32"
        self.name, most, self.rate = system._listed[device]
        if (self.name, most, self.rate) not in system.devices:
            raise PortAudioError("Device unavailable")
        self.channels, self.blocksize, self._callback = channels, blocksize, callback
        self.dead = self.started = self.closed = False
        system.streams.append(self)

    def start(self) -> None:
        self.started = True

    def close(self) -> None:
        self.closed = True

    def run(self, mono: np.ndarray, *, speed: float = 0.0, overflow_at: tuple[int, ...] = ()) -> None:
        """Call back with blocks of this sound; the buffer is reused and overwritten, as PortAudio's is."""
        buffer = np.zeros((self.blocksize, self.channels), np.float32)
        began = time.monotonic()
        for number, at in enumerate(range(0, len(mono) - self.blocksize + 1, self.blocksize)):
            if self.dead or self.closed:
                return
            buffer[:] = mono[at : at + self.blocksize, None]
            self._callback(
                buffer, self.blocksize, None, SimpleNamespace(input_overflow=number in overflow_at)
            )
            buffer[:] = np.nan
            if speed:
                due = began + (at + self.blocksize) / self.rate / speed
                time.sleep(max(0.0, due - time.monotonic()))

    def run_later(self, mono: np.ndarray, speed: float = 1.0) -> threading.Thread:
        thread = threading.Thread(target=self.run, args=(mono,), kwargs={"speed": speed}, daemon=True)
        thread.start()
        return thread
