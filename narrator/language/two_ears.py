"""Where two recognizers heard a number differently and neither was clearly right: both, for a look."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from narrator.values import Look, Utterance

_EDGE = ".,;:!?"


def _letters(text: str) -> str:
    """Letters and digits alone, in small letters, each doubled letter once."""
    kept = [c for c in text.lower() if c.isalnum()]
    return "".join(c for n, c in enumerate(kept) if c.isdigit() or n == 0 or c != kept[n - 1])


def ear_looks(utterance: Utterance) -> Iterator[Look]:
    """One look for each stretch of words that was heard in two ways, in order."""
    for other, stretch in groupby(utterance.words, key=lambda word: word.other):
        if other is None:
            continue
        own = " ".join(word.word for word in stretch).strip(_EDGE)
        if other and _letters(own) == _letters(other):
            continue  # *mill-bolts* and *mil bolts*: the same thing spelled in two ways
        reason = f"heard as “{own}” and as “{other}”" if other else f"“{own}” was heard by one ear only"
        yield Look("ears", reason, utterance.id, None)
