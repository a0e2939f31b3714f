"""New fasteners that go in beside old ones: *three old and one new*, *and two out of the packet*."""

from __future__ import annotations

from narrator.job.ledger_words import ledger_words, number
from narrator.job.motion import Motion

_W = ledger_words()
_OUT_OF = frozenset((a, b) for a in ("out", "off") for b in ("of", "the", "my", "a"))
_AN = frozenset(("a", "an", "another"))
_WANTED = _W["never.wanted"] | {"order", "ordered", "buy", "want"}
_SURE = 0.8
_WITHIN = 5
"""So many words after a number its source may be named."""


def new_ones(motion: Motion, start: int, end: int) -> int:
    """How many new ones the words from ``start`` to ``end`` add to old ones told before; 0 where none."""
    words = motion.words
    for i in range(start, end):
        value = 1 if words[i] in _AN else number(words[i])
        if value is None or i in motion.nouns or not _WANTED.isdisjoint(words[max(0, i - 2) : i]):
            continue  # "it wants a new one"
        if _is_new(motion, i + 1) or (words[i] not in _AN and _is_from_stock(motion, i + 1)):
            return value
        if (
            value == 1
            and words[i] not in _AN
            and motion.before(i) == "and"
            and _is_from_others(motion, i + 1)
        ):
            return value
    for i in range(start, end - 2):
        if words[i : i + 2] == ("for", "the") and words[i + 2] in _W["new.stands_for"]:
            return 1  # "and one for the one that broke"
    return 0


def _is_from_others(motion: Motion, i: int) -> bool:
    """*And one from the roadside fitter*, *and one that was good still*: told after some that go back."""
    if motion.words[i : i + 2] in (("that", "was"), ("that", "is"), ("that", "'s")):
        return motion.word(i + 2) in ("good", "still", "fine", "usable", "ok")
    on = motion.line.surely_moves(i - 1, i, _SURE, on=True)
    return on and motion.word(i) == "from" and i + 2 not in motion.parts and i + 1 not in motion.parts


def _is_new(motion: Motion, i: int) -> bool:
    """*One new*, *a fresh one for the chewed one*, *two brand new ones*: no other noun is new."""
    if motion.word(i) in ("very", "nice", "shiny", "good", "single"):
        i += 1
    if motion.word(i) not in _W["new.words"]:
        return False
    while motion.word(i) in _W["new.words"]:
        i += 1
    ends = i in motion.breaks or motion.word(i) in _W["new.ends"] or motion.word(i) == ""
    return motion.word(i) in _W["new.ones"] or (ends and motion.word(i - 1) != "brand")


def _is_from_stock(motion: Motion, i: int) -> bool:
    """*Out of the jar*, *stainless from my own box*, *more off the shelf* from token ``i`` on."""
    if motion.word(i) in _W["new.of_stock"]:
        i += 1
    two = motion.words[i : i + 2]
    if two[:1] != ("from",) and two not in _OUT_OF:
        return False
    after = motion.words[i : i + _WITHIN]
    return not _W["new.sources"].isdisjoint(after) or "own" in after
