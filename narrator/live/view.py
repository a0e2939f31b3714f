"""What the screen shows: one frozen picture of the session, taken a few times a second."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from narrator.hearing.level import Level

State = Literal["starting", "listening", "paused", "trouble", "stopping"]

LAST_LINES = 6


@dataclass(frozen=True, slots=True)
class Understanding:
    """What the record says so far: open suspects, fasteners still off, the last lines as understood."""

    lines: tuple[str, ...] = ()
    suspects: tuple[str, ...] = ()
    off: tuple[str, ...] = ()
    looks: int = 0


@dataclass(frozen=True, slots=True)
class View:
    """``message`` is the last thing that happened, ``question`` what the session waits to be answered.

    ``minutes_left`` is how long sound fits on the disk, None while no sound is kept (``kept`` is false).
    """

    state: State
    microphone: str
    seconds: float
    level: Level
    partial: str = ""
    understanding: Understanding = Understanding()
    vehicle: str = ""
    message: str = ""
    question: str = ""
    utterances: int = 0
    gaps: int = 0
    behind: float = 0.0
    kept: bool = True
    minutes_left: float | None = None
