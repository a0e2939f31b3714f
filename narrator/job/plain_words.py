"""Dialect words of a line as the ledger of fasteners reads them: *oot*, *aff*, *two a dem*."""

from __future__ import annotations

from copy import copy

from narrator.job.ledger_words import ledger_words
from narrator.job.line import Line

_W = ledger_words()
_OF = frozenset(("a", "o", "o'"))
_AFTER_OF = _W["plain.after_of"]


def in_plain_words(line: Line) -> Line:
    """The line itself, or where it has dialect words one that has them in plain words, at the same places."""
    said = line.tokens
    if _W.plain.keys().isdisjoint(said) and (_OF.isdisjoint(said) or _AFTER_OF.isdisjoint(said)):
        return line
    words = [_W.plain.get(word, word) for word in said]
    for i in range(len(words) - 1):
        if said[i] in _OF and words[i + 1] in _AFTER_OF:
            words[i] = "of"  # "two o thae", "five a di six"
    if tuple(words) == said:
        return line
    plain = copy(line)
    plain.tokens, plain.bare, plain.kept = tuple(words), None, None
    return plain
