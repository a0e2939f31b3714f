"""One suspect: its names, how it stands, and what spoke for or against it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from narrator.job.line import LATERAL, Line
from narrator.job.naming import SAME, likeness, opposite
from narrator.job.record import EvidenceRow, HistoryRow, Status


@dataclass(slots=True, eq=False)
class Suspect:
    """One suspect while the session is read."""

    name: str
    statement: str
    status: Status
    history: list[HistoryRow]
    evidence: list[EvidenceRow] = field(default_factory=list)
    names: set[str] = field(default_factory=set)
    fault: str | None = None
    last: int = 0
    raised: int = 0
    """Turn in which it was first suspected, or brought back."""
    consequence: bool = False
    told: frozenset[str] = frozenset()
    """What it was said to do, by the beginnings of these words: *the carb is drowning her*."""
    through: set[str] = field(default_factory=set)
    """Parts of it by which it was said to fail: *the cylinder, it could be going past the piston inside*."""
    places: set[str] = field(default_factory=set)
    """What it was said to be in: *the bearing in the gear head*."""
    when_named: Callable[[str], None] = lambda name: None
    """Told when it gets another name."""

    def fit(self, said: str) -> float:
        """How well a spoken name fits any name this suspect has had."""
        fits = [likeness(said, name) for name in self.names]
        best = max(fits)
        if best and 0.0 in fits and any(opposite(said, name) for name in self.names):
            return 0.0  # *the left bearing*, of what was also called the right one
        return best

    def call(self, name: str) -> None:
        """Keep another name of it; a shorter one would fit other things too (*the pump*)."""
        if name not in self.names and len(name.split()) >= len(self.name.split()):
            self.names.add(name)
            self.when_named(name)

    def settle(self, name: str, line: Line) -> None:
        """Go by what was settled of it in the end: *the brake hose*, where the brake was suspected."""
        self.statement = line.understood.clean
        with_side = name.partition(" ")[0] in LATERAL and name.endswith(f" {self.name}")
        if with_side or (self.fit(name) < SAME and len(name.split()) > len(self.name.split())):
            self.name = name
        self.call(name)
