"""What comes of wiggling or tapping a thing: nothing, where it is sound; the fault, where it is not.

*Wiggle test on the plug, nothing changes* clears the plug; *i wiggle it and it dies* does not. The words are
data (``[stirred]`` in ``grammars/outcome.toml``).
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from narrator.job.line import Line
from narrator.job.outcome_words import outcome_words
from narrator.phrases import Phrases

_DENIED = 2


@lru_cache(maxsize=1)
def _phrases() -> dict[str, Phrases[bool]]:
    """Each list of the table."""
    table = outcome_words()["stirred"]
    return {name: Phrases((one.replace("'s", " 's"), True) for one in told) for name, told in table.items()}


def when_stirred(line: Line, earlier: Sequence[Line] = ()) -> float | None:
    """+1 where a thing was moved and nothing came of it, -1 where the fault did, None where nothing tells.

    It may have been moved in the line before. So is a thing put out of action for nothing (+1).
    """
    if (idle := _first(line.tokens, "idle")) is not None and _first(line.tokens[idle:], "same") is not None:
        return 1.0
    here = _first(line.tokens, "moves")
    if here is None and not (earlier and _first(earlier[-1].tokens, "moves") is not None):
        return None
    said = line.tokens[here or 0 :]
    if _first(said, "same") is not None:
        return 1.0
    at = _first(said, "changes")
    if at is None:
        return None
    return 1.0 if not _phrases()["denied"].starts.keys().isdisjoint(said[max(0, at - _DENIED) : at]) else -1.0


def _first(tokens: Sequence[str], name: str) -> int | None:
    """Where the first of these phrases stands."""
    found = _phrases()[name].first(tokens)
    return found[0] if found else None
