"""Numbers that may stand for fasteners, kept for the session's memory to settle."""

from __future__ import annotations

from dataclasses import dataclass

from narrator.language.tokens import Notes
from narrator.values import Fastener


@dataclass(slots=True)
class Candidate:
    """A number that may stand for fasteners; ``strong`` when its surroundings say so."""

    fastener: Fastener
    strong: bool


def candidates(notes: Notes) -> list[Candidate]:
    """The utterance's candidates, for the memory to settle."""
    found: list[Candidate] = notes.scratch.setdefault("candidates", [])  # type: ignore[assignment]
    return found
