"""What kind a bare size is by what it holds: *the ten on the post* is a nut, one on a plate a bolt."""

from __future__ import annotations

from dataclasses import dataclass

from narrator.language.tables import fired, load
from narrator.language.tokens import Notes
from narrator.phrases import Phrases
from narrator.values import Fastener

_LINKS = frozenset("on off from at of for in up down out back under over behind with has and to".split())
_ADJECTIVES = frozenset(
    "the a an its his her my our that this these those each every both old new big little small main tiny"
    " same other next left right front rear upper lower inner outer top bottom first last".split()
)
_OWN_PLACE = frozenset("on off from at of for behind under over".split())
"""After a size these begin where it is itself."""
_NO_PLACE = frozenset("it they she he with and then comes".split())
"""*A seven sixteenths, off it comes*: after these the word before tells no place."""
_WITHIN = 6


@dataclass(frozen=True, slots=True)
class _Row:
    """``most``: of more than so many these words tell nothing, nor of a head smaller than ``least`` (mm)."""

    id: str
    kind: str
    most: int
    least: float


_ROWS = Phrases(
    (word, _Row(row["id"], row["kind"], row["most"], row["least"]))
    for row in load("fasteners")["held"]
    for word in row["words"]
)


def kind_by_holder(notes: Notes, entity: Fastener, *, after: bool) -> str | None:
    """The kind that the part told after a bare size (or before it) speaks for; None where none does."""
    row = _after(notes, entity) if after else _before(notes, entity)
    if row is None or (entity.count or 1) > row.most or entity.size is None:
        return None
    if entity.size.value * (1 if entity.size.unit == "mm" else 25.4) < row.least:
        return None
    fired(notes, row.id)
    return row.kind


def _after(notes: Notes, entity: Fastener) -> _Row | None:
    """*up at the post*, *on the charge wire*: through words that lead to a place."""
    i, led = entity.at[1], False
    while i < min(len(notes.words), entity.at[1] + _WITHIN) and i not in notes.marks:
        if led and (row := _row_at(notes, i)):
            return row
        if notes.words[i] not in _LINKS | _ADJECTIVES:
            return None
        led |= notes.words[i] in _LINKS
        i += 1
    return None


def _before(notes: Notes, entity: Fastener) -> _Row | None:
    """*Rod end off, one 13*, *pipe with both twenty fours*: the thing told last before it."""
    end = entity.at[1]
    own = end not in notes.marks and end + 1 < len(notes.words) and notes.words[end] in _OWN_PLACE
    if own and notes.words[end + 1] not in _NO_PLACE:
        return None
    for i in range(entity.at[0] - 1, max(-1, entity.at[0] - 1 - _WITHIN), -1):
        named = next((e for e in notes.entities if e.at[0] <= i < e.at[1]), None)
        if isinstance(named, Fastener):
            return None
        if row := _row_at(notes, named.at[0] if named else i):
            return row
        if named:
            return None
    return None


def _row_at(notes: Notes, i: int) -> _Row | None:
    """The row of what is named at token ``i``: of a thing of several words its last ones (*charge wire*)."""
    named = next((e for e in notes.entities if e.at[0] == i and not isinstance(e, Fastener)), None)
    if named is None:
        hit = _ROWS.at(notes.words, i)
        return hit[1] if hit else None
    hits = (_ROWS.at(notes.words, k) for k in range(*named.at))
    return next((hit[1] for hit in hits if hit and hit[0] >= named.at[1]), None)
