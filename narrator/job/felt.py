"""Things that may have play: *bottom ball joints solid*, *loads of play in the wheel bearing*.

The words are data (``[felt]`` in ``grammars/outcome.toml``).
"""

from __future__ import annotations

from functools import lru_cache

from narrator.job.line import Line
from narrator.job.outcome_words import outcome_words
from narrator.values import Component


@lru_cache(maxsize=1)
def _words() -> dict[str, frozenset[str]]:
    return {name: frozenset(words.split()) for name, words in outcome_words()["felt"].items()}


def feels(line: Line, thing: Component, at: int) -> float:
    """1 where the word at a place calls a thing that may have play firm, -1 where slack, else 0.

    *The joint is solid*; but *solid with rust*, and *solid* of what should move, say something else.
    """
    words = _words()
    if line.tokens[at] not in words["firm"] | words["slack"] or thing.name.split()[-1] not in words["things"]:
        return 0.0
    if at + 1 < len(line.tokens) and line.tokens[at + 1] in words["but"]:
        return 0.0
    return 1.0 if line.tokens[at] in words["firm"] else -1.0


def is_felt(line: Line) -> bool:
    """Whether a line tells of the play of something that may have some: whoever says so has felt for it."""
    words = _words()
    things = [c for c in line.components if c.name.split()[-1] in words["things"]]
    if not things:
        return False
    called = any(
        feels(line, c, n) for c in things for n in range(c.at[1], min(c.at[1] + 2, len(line.tokens)))
    )
    return called or not words["play"].isdisjoint(line.tokens)
