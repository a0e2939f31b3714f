"""Where two recognizers heard a number differently and neither was clearly right: both, for a look."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from narrator.values import Look, Utterance

_EDGE = ".,;:!?"


def ear_looks(utterance: Utterance) -> Iterator[Look]:
    """One look for each stretch of words that was heard in two ways, in order."""
    for other, stretch in groupby(utterance.words, key=lambda word: word.other):
        if other is None:
            continue
        own = " ".join(word.word for word in stretch).strip(_EDGE)
        reason = f"heard as “{own}” and as “{other}”" if other else f"“{own}” was heard by one ear only"
        yield Look("ears", reason, utterance.id, None)
