"""What a test lamp showed: *test light on the solenoid, nothing*, *at the switch it lights up*.

The words are data (``[lamp]`` in ``grammars/outcome.toml``).
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from narrator.job.line import Line
from narrator.job.outcome_words import outcome_words
from narrator.phrases import Phrases

_SHORT = 8
"""A remark of so many words at most tells what the lamp of the line before showed."""


@lru_cache(maxsize=1)
def _phrases() -> dict[str, Phrases[bool]]:
    """Each list of the table."""
    return {name: Phrases((one, True) for one in told) for name, told in outcome_words()["lamp"].items()}


def shown(line: Line, earlier: Sequence[Line] = ()) -> float | None:
    """+1 where a test lamp lit, -1 where it did not, None where there is none, or nothing is said of it."""
    here = _says(line, "names")
    if not here and not (earlier and _says(earlier[-1], "names") and len(line.tokens) <= _SHORT):
        return None
    if _says(line, "without"):
        return None
    if _says(line, "dark"):
        return -1.0
    return 1.0 if _says(line, "lit") else None


def _says(line: Line, name: str) -> bool:
    return _phrases()[name].first(line.tokens) is not None
