"""Where lines stand that were not said but added: each right after the line that it was added to."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from narrator.store.rows import Addition
from narrator.values import Utterance

FIRST = 0
"""Added before all that was said."""


def in_place(utterances: Iterable[Utterance], additions: Sequence[Addition]) -> list[Utterance]:
    """The utterances in the order in which they were kept, added ones in their places."""
    if not additions:
        return list(utterances)
    every = {one.id: one for one in utterances}
    added = {one.utterance for one in additions}
    order = [ident for ident in every if ident not in added]
    for one in additions:
        order.insert(order.index(one.after) + 1 if one.after in order else 0, one.utterance)
    return [every[ident] for ident in order]


def moment(said: Sequence[Utterance], after: int) -> float:
    """The second at which a line stands that is added after one of these: before the next one begins."""
    place = next((n for n, one in enumerate(said) if one.id == after), -1)
    begins = said[place].start if place >= 0 else 0.0
    ends = said[place].end if place >= 0 else 0.0
    if place + 1 == len(said) or ends < said[place + 1].start:
        return ends
    return (begins + said[place + 1].start) / 2
