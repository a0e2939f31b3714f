"""What a meter that is only called *the meter* measures: volts on what is live, ohms on what is unplugged."""

from __future__ import annotations

from narrator.language.tables import load
from narrator.language.tokens import Notes
from narrator.phrases import Phrases

_T = load("quantities")["meter"][0]
METERS = frozenset(_T["words"])
_LIVE, _DEAD = (Phrases((phrase, True) for phrase in _T[name]) for name in ("live", "dead"))
_READS, _PARTS = (frozenset(_T[name]) for name in ("reads", "parts"))
ELECTRICAL = frozenset(("voltage", "current", "resistance", "frequency"))


def meter_at(notes: Notes) -> int | None:
    """Where a meter is named without what it measures."""
    words = notes.words
    return None if METERS.isdisjoint(words) else next(i for i, word in enumerate(words) if word in METERS)


def metered(notes: Notes, told: set[str], before: str | None) -> str | None:
    """What the line's meter measures; ``told`` by words of the line, ``before`` by the lines so far."""
    plain = told & ELECTRICAL
    if plain:
        return plain.pop() if len(plain) == 1 else before
    at = meter_at(notes)
    if at is not None and at + 1 < len(notes.words) and notes.words[at + 1] in _READS:
        return before  # "plug out and the meter falls to nineteen": it was in place
    if _LIVE.first(notes.words):
        return "voltage"
    if _DEAD.first(notes.words) or (before is None and not _PARTS.isdisjoint(notes.words)):
        return "resistance"
    return before
