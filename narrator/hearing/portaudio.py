"""Sound inputs and outputs through PortAudio: the only module that imports sounddevice."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import numpy as np
from numpy.typing import NDArray

from narrator.errors import NarratorError
from narrator.hearing.device import BLOCK_S, Callback, InputInfo, Stream


def _library() -> Any:  # sounddevice has no types
    try:
        import sounddevice  # noqa: PLC0415  (needs the system's PortAudio; loaded only where sound is used)
    except (ImportError, OSError) as error:
        raise NarratorError("E601", why=error) from error
    return sounddevice


@contextmanager
def _coded(name: str | None) -> Iterator[None]:
    try:
        yield
    except (ValueError, OSError) as error:
        raise NarratorError("E603", name=name or "the default microphone", why=error) from error
    except Exception as error:
        if type(error).__name__ != "PortAudioError":
            raise
        raise NarratorError("E603", name=name or "the default microphone", why=error) from error


def inputs() -> list[InputInfo]:
    """The system's sound inputs, as PortAudio lists them now.

    Raises:
        NarratorError: E601 without PortAudio.
    """
    sd = _library()
    with _coded(None):
        rows = list(sd.query_devices())
    chosen = sd.default.device[0]
    return [
        InputInfo(
            str(row["name"]), int(row["max_input_channels"]), int(row["default_samplerate"]), i == chosen
        )
        for i, row in enumerate(rows)
        if row["max_input_channels"] > 0
    ]


class PortAudio:
    """Opens microphones."""

    patient = False

    def __init__(self) -> None:
        self._opened = False

    def open(self, name: str | None, callback: Callback) -> Stream:
        """See ``Device``. A part of the name will do, if only one input has it."""
        sd = _library()
        if self._opened:
            _look_again(sd)
        self._opened = True
        return _Input(sd, _index(sd, name), name, callback)


def _look_again(sd: Any) -> None:
    """PortAudio lists its devices only when it starts; a device that came back is not seen before that."""
    with _coded(None):
        sd._terminate()
        sd._initialize()


def _index(sd: Any, name: str | None) -> int:
    """Number of the input called ``name``; PortAudio's numbers change, so that only names are kept."""
    with _coded(name):
        rows = list(sd.query_devices())
    able = [i for i, row in enumerate(rows) if row["max_input_channels"] > 0]
    known = ", ".join(str(rows[i]["name"]) for i in able) or "none"
    if name is None:
        chosen = int(sd.default.device[0])
        if chosen in able or able:
            return chosen if chosen in able else able[0]
        raise NarratorError("E603", name="the microphone", why="none is there")
    same = [i for i in able if rows[i]["name"] == name]
    alike = [i for i in able if name.casefold() in str(rows[i]["name"]).casefold()]
    if not same and len(alike) != 1:
        raise NarratorError("E602", name=name, known=known)
    return (same or alike)[0]


class _Input:
    failure: NarratorError | None = None

    def __init__(self, sd: Any, index: int, asked: str | None, callback: Callback) -> None:
        with _coded(asked):
            row = sd.query_devices(index)
            self.name = str(row["name"])
            self.rate = int(row["default_samplerate"])

            def called(data: NDArray[np.float32], frames: int, when: Any, status: Any) -> None:
                callback(data, bool(status and status.input_overflow))

            self._stream = sd.InputStream(
                device=index,
                channels=min(2, int(row["max_input_channels"])),
                samplerate=self.rate,
                blocksize=int(self.rate * BLOCK_S),
                dtype="float32",
                latency="high",  # seconds of safety cost nothing here; a late callback costs sound
                callback=called,
            )
            self._stream.start()

    def ended(self) -> bool:
        return False

    def close(self) -> None:
        try:
            self._stream.close()
        except Exception as error:  # a device that was pulled out cannot be closed politely
            if type(error).__name__ != "PortAudioError":
                raise


def play(samples: NDArray[np.float32], rate: int) -> bool:
    """Play mono sound to its end through the default output; False where there is none that works."""
    try:
        sd = _library()
        sd.play(samples, rate, blocking=True)
    except NarratorError:
        return False
    except Exception as error:
        if type(error).__name__ not in ("PortAudioError", "ValueError", "OSError"):
            raise
        return False
    return True
