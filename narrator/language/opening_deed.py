"""Lines that begin with work done to a thing: *greased the king pins*, *just did the oil and filter*."""

from __future__ import annotations

from narrator.language.tables import load
from narrator.language.tokens import Notes

_T = load("acts")["deed"]
_DONE, _LEADS, _OBJECTS, _DID_AFTER = (
    frozenset(_T[name].split()) for name in ("done", "leads", "objects", "did_after")
)


def opens_with_deed(notes: Notes) -> bool:
    """Whether a line begins with work done to a thing: *greased the king pins*, *so i welded it up*."""
    words = notes.words
    start = next((n for n, word in enumerate(words[:4]) if word not in _LEADS), len(words))
    did = words[start : start + 2] in (["did", "the"], ["did", "both"])  # "just did the oil and filter"
    if start + 1 >= len(words) or not (did or words[start] in _DONE):
        return False
    thing = start + 1 + did
    ends = [e.at[1] for e in notes.entities if e.at[0] == thing and e.type in ("component", "material")]
    named = any(not did or n in (*notes.marks, len(words)) or words[n] in _DID_AFTER for n in ends)
    return named or (not did and words[thing] in _OBJECTS)
