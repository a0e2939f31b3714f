"""Fasteners told in one go, words that are places, tokens that belong to something: asked of one line."""

from __future__ import annotations

from collections.abc import Iterable

from narrator.job.ledger_words import ledger_words, number
from narrator.values import Entity, Fastener

_W = ledger_words()
_JOINED = frozenset(("and", "with", "the", "a", "both", "its", "plus", "then", "my", "old", "new", "same"))
_ANDS = frozenset(("and", "then", "but", "so"))


def chains(words: tuple[str, ...], fasteners: list[Fastener], nouns: set[int]) -> list[tuple[int, int]]:
    """*the circlip and the bolt back in*: fasteners told in one go, from the first to the last."""
    chains: list[tuple[int, int]] = []
    for f in sorted(fasteners, key=lambda f: f.at):
        between = range(chains[-1][1], f.at[0]) if chains else range(0)
        joined = bool(between) and all(words[i] in _JOINED or number(words[i]) or i in nouns for i in between)
        joined = joined and not (_ANDS | {"with"}).isdisjoint(words[i] for i in between)
        if joined:
            chains[-1] = (chains[-1][0], f.at[1])
        else:
            chains.append(f.at)
    return chains


def word_is_place(word: str, after: str, before: str) -> bool:
    """Whether a particle is a preposition here: *on the bracket*, *in the tray*."""
    if word in ("in", "on", "down", "up", "home", "together") and after in _W["on.before_place"]:
        return True
    return word in ("in", "on") and before in ("from", "of", "what")


def covers(entities: Iterable[Entity], i: int) -> bool:
    """Whether token ``i`` belongs to an entity."""
    for entity in entities:
        start, end = entity.at
        if start <= i < end:
            return True
    return False
