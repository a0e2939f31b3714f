"""Whether a line repeats what was done before."""

from __future__ import annotations

from narrator.job.ledger_words import ledger_words, number
from narrator.job.line import Line
from narrator.values import Act, Fastener, Measurement, Position

_SIDE = frozenset(("side", "other", "opposite", "left", "right"))

SIDES = _SIDE | {"nearside", "offside", "driver", "driver's", "passenger", "passenger's"}
_W = ledger_words()
_SHORT = 8
"""A line that repeats what was done is not longer."""
_VERY_SHORT = 4
"""*Right same*: nothing but that."""
_NO_WORK: tuple[Act, ...] = ("plan", "caution", "confirmed", "test", "verification")
"""*Same as before* said with these is of what the machine does."""
_AS = frozenset(("same", "likewise", "ditto", "alike", "like", "mirror"))


def is_again(line: Line) -> bool:
    """*Same again on the other side*, *same nuts and bolts as before*."""
    words = line.tokens
    if "same" in words and any(number(w) and more_of_the_same(words, i) for i, w in enumerate(words)):
        return False  # "the handle sits on six more of the same"
    if not line.does("step"):
        sided = bool(line.entities(Position)) or not _SIDE.isdisjoint(words)
        if not sided or line.entities(Measurement) or line.does(*_NO_WORK):
            return False
    if line.has("repeat.same_again") or ("same" in words and "before" in words):
        return True
    works = line.does("step") or (len(words) <= _VERY_SHORT and line.does("result", "observation"))
    short = len(words) <= _SHORT and works and not line.entities(Fastener)
    return (
        short and not line.entities(Measurement) and any(_repeats_at(words, k, 0) for k in range(len(words)))
    )


def is_plainly_again(line: Line) -> bool:
    """*The mirror image on the right*: a short line of work that says nothing but that."""
    brief = len(line.tokens) <= _SHORT and line.does("step") and not line.components
    return brief and names_side(line) and any(_repeats_at(line.tokens, k, 0) for k in range(len(line.tokens)))


def repeats_in_line(words: tuple[str, ...], end: int) -> bool:
    """*One bolt on the left, and the same again on the right*: said of the other after token ``end``."""
    return any(_repeats_at(words, k, end) for k in range(end, len(words)))


def more_of_the_same(words: tuple[str, ...], i: int) -> int:
    """Where *six more of the same*, *another four the same* end whose number is token ``i``; else 0."""
    k = i + 1 + (words[i + 1 : i + 2] == ("more",))
    k += words[k : k + 1] == ("of",)
    told = words[i - 1 : i] == ("another",) or words[i + 1 : i + 2] == ("more",)
    same = words[k : k + 2] == ("the", "same")
    return k + 2 if told and same else 0


def _repeats_at(words: tuple[str, ...], k: int, low: int) -> bool:
    """Whether token ``k`` says that it is the same where another place is named beside it."""
    after = words[k + 1] if k + 1 < len(words) else ""
    if words[k] not in _AS or (words[k] == "same" and after and after not in _W["again.of"]):
        return False  # "the same size", "the same coolant"
    if words[k] == "mirror" and after not in ("image", "of"):
        return False  # "the mirror on the left"
    if words[k] == "like" and (after not in ("it", "that") or k + 2 < len(words)):
        return False
    beside = words[max(low, k - 4) : k] + words[k + 1 : k + 5]
    return not _W["again.elsewhere"].isdisjoint(beside)


def names_side(line: Line) -> bool:
    """Whether a line names a side of the machine."""
    return not SIDES.isdisjoint(line.tokens)
