"""What a test lamp showed: *test light on the solenoid, nothing*, *at the switch it lights up*.

The words are data (``[lamp]`` in ``grammars/outcome.toml``).
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise

from narrator.job.line import Line
from narrator.job.outcome_words import outcome_words

_SHORT = 8
"""A remark of so many words at most tells what the lamp of the line before showed."""


@lru_cache(maxsize=1)
def _words() -> dict[str, tuple[str, ...]]:
    return {name: tuple(f" {phrase} " for phrase in told) for name, told in outcome_words()["lamp"].items()}


def shown(line: Line, earlier: Sequence[Line] = ()) -> float | None:
    """+1 where a test lamp lit, -1 where it did not, None where there is none, or nothing is said of it."""
    here = _has_lamp(line)
    if not here and not (earlier and _has_lamp(earlier[-1]) and len(line.tokens) <= _SHORT):
        return None
    words, said = _words(), f" {' '.join(line.tokens)} "
    if any(word in said for word in words["without"]):
        return None
    for name, verdict in (("dark", -1.0), ("lit", 1.0)):
        if any(phrase in said for phrase in words[name]):
            return verdict
    return None


def _has_lamp(line: Line) -> bool:
    return any(f" {a} {b} " in _words()["names"] for a, b in pairwise(line.tokens))
