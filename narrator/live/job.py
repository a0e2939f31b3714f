"""One job being listened to: its session in the store, its tape, and its place on the capture's clock."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path

from narrator.hearing.tape import Tape
from narrator.live.own_sounds import Own
from narrator.values import SAMPLE_RATE, AudioChunk, Gap


@dataclass(slots=True, eq=False)
class Job:
    """``offset`` is the capture's sample at which the job's clock begins; all else counts from there."""

    session: str
    folder: Path
    tape: Tape
    offset: int
    vehicle: str | None = None
    narrated: int = 0
    """Remarks kept so far, commands not counted."""
    unheard: float = 0.0
    failed: int = 0
    own: list[Own] = field(default_factory=list)
    """Where we made a sound ourselves lately."""

    def chunk(self, chunk: AudioChunk) -> AudioChunk:
        """The block on the job's clock."""
        return replace(chunk, first=chunk.first - self.offset)

    def gap(self, gap: Gap) -> Gap:
        """The gap on the job's clock."""
        shift = self.offset / SAMPLE_RATE
        return replace(gap, start=max(0.0, gap.start - shift), end=gap.end - shift)
