"""Numbers with a unit that measure nothing: a displacement, a spare fuse, stock off the roll, a saying."""

from __future__ import annotations

from narrator.language.pieces import Piece
from narrator.language.tables import load
from narrator.language.terms import Term
from narrator.language.tokens import Notes
from narrator.language.units import UnitHit
from narrator.values import Fastener, Vehicle

_ROWS = {row["id"].removeprefix("noreading."): row for row in load("quantities")["noreading"]}
_WORDS = {name: frozenset(row["words"]) for name, row in _ROWS.items()}
_UNITS = {name: frozenset(row["units"]) for name, row in _ROWS.items()}
_BOUGHT = frozenset(_ROWS["grand"]["bought"])
_IS = frozenset(("is", "'s", "are"))
_AFTER_NAME, _NEAR = 2, 5
"""Tokens between a machine's name and its displacement, and before a one that nothing moved by."""


def measures_nothing(notes: Notes, piece: Piece, hit: UnitHit) -> bool:
    """Whether a number with its unit is none of the job's readings, settings and limits."""
    words, unit = notes.words, hit.words[-1]
    before = words[piece.start - 1] if piece.start else ""
    after = "" if hit.end in notes.marks or hit.end >= len(words) else words[hit.end]
    nearly = words[max(0, piece.start - _NEAR) : piece.start]
    return (
        (piece.value == 1 and not _WORDS["moved"].isdisjoint(nearly))
        or (hit.unit.symbol in _UNITS["displacement"] and _named(notes, piece.start))
        or (unit in _UNITS["spare"] and before in _WORDS["spare"])
        or (unit in _UNITS["force"] and not _WORDS["force"].isdisjoint(words) and not _fastened(notes))
        or (unit in _UNITS["stock"] and after == "of" and _stock(words[hit.end : hit.end + 4]))
        or (unit in _UNITS["weather"] and not _WORDS["weather"].isdisjoint(words) and not _parts(notes))
        or (unit in _UNITS["legs"] and after == "of" and _legs(words[hit.end + 1 : hit.end + 2]))
        or (unit in _UNITS["fuse"] and before not in _IS and not _WORDS["fuse"].isdisjoint(nearly))
        or words[max(0, piece.start - 2) : piece.start] == ["plus", "or"]
        or (unit in _UNITS["gauge"] and after in _WORDS["gauge"])
        or (unit in _UNITS["supply"] and before in _WORDS["supply"])
        or (unit in _UNITS["grand"] and (before not in _WORDS["grand"] or not _BOUGHT.isdisjoint(words)))
        or (unit in _UNITS["praise"] and _praises(piece, before, after))
    )


def _named(notes: Notes, start: int) -> bool:
    return any(isinstance(e, Vehicle) and 0 <= start - e.at[1] <= _AFTER_NAME for e in notes.entities)


def _fastened(notes: Notes) -> bool:
    """Whether the line names a fastener, so that newtons are a torque (*spring new, allens six newton*)."""
    return any(isinstance(e, Fastener) for e in notes.entities)


def _parts(notes: Notes) -> bool:
    """Whether the line names a part or a tool."""
    terms: list[Term] = notes.scratch.get("terms", [])  # type: ignore[assignment]
    return any(term.kind in ("component", "tool") for term in terms)


def _legs(words: list[str]) -> bool:
    return not _WORDS["legs"].isdisjoint(words)


def _stock(words: list[str]) -> bool:
    return not _WORDS["stock"].isdisjoint(words)


def _praises(piece: Piece, before: str, after: str) -> bool:
    """*eighty percent better*, *that turbo is a hundred percent*."""
    return after in _WORDS["praise"] or (piece.value == 100 and before in _IS and not after)
