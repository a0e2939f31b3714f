"""Sounds of our own: cues, and spoken answers where the extra is installed. The screen says it all too."""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from narrator.hearing.portaudio import play
from narrator.live.cues import NAMES, RATE, Cue, cue

Sound = tuple[NDArray[np.float32], int]
OwnSound = Callable[[bool, Cue | None], None]
"""Is told when a sound of ours begins (true) and ends; None stands for a spoken answer."""
_LATE = 3
"""Cues that wait behind others are old news; no more than these are kept."""


class Speaker(Protocol):
    """Text to sound: mono float32 and its rate."""

    def say(self, text: str) -> Sound:
        """Speak ``text``."""
        ...


class Voice:
    """Plays one sound after the other in a thread of its own.

    ``may_play`` is asked before each, so that nothing is played into someone's speech; ``own`` is told when
    one begins and ends, so that we do not hear ourselves.
    """

    def __init__(
        self,
        *,
        cues: bool = True,
        speaker: Speaker | None = None,
        own: OwnSound = lambda begins, cue: None,
        may_play: Callable[[], bool] = lambda: True,
        play: Callable[[NDArray[np.float32], int], bool] = play,
    ) -> None:
        self._cues, self._speaker, self._own, self._may_play, self._play = cues, speaker, own, may_play, play
        self._waiting: queue.Queue[Cue | str | None] = queue.Queue()
        self._stopped = threading.Event()
        self._thread = threading.Thread(target=self._run, name="voice", daemon=True)
        self._thread.start()

    def cue(self, name: Cue) -> None:
        """Play a cue, if cues are wanted."""
        if self._cues and self._waiting.qsize() < _LATE:
            self._waiting.put(name)

    def say(self, text: str) -> None:
        """Speak, if there is a speaker."""
        if self._speaker is not None and text:
            self._waiting.put(text)

    def close(self) -> None:
        """Stop after the sound that is playing."""
        self._stopped.set()
        self._waiting.put(None)
        self._thread.join(5.0)

    def _run(self) -> None:
        while (what := self._waiting.get()) is not None and not self._stopped.is_set():
            name = next((one for one in NAMES if one == what), None)
            sound = (cue(name), RATE) if name else self._spoken(what)
            while not self._may_play() and not self._stopped.wait(0.05):
                pass
            if self._stopped.is_set():
                return
            self._own(True, name)
            try:
                self._play(*sound)
            finally:
                self._own(False, name)

    def _spoken(self, text: str) -> Sound:
        assert self._speaker is not None
        return self._speaker.say(text)
