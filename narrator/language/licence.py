"""Whether the words around a number without a unit allow it to be a reading at all."""

from __future__ import annotations

from typing import TYPE_CHECKING

from narrator.language.amounts import is_measured
from narrator.language.context import FOLLOW, LIMITING, READING, ROAD
from narrator.language.guesses import distance
from narrator.language.leftover import Unsaid
from narrator.language.numberwords import STARTERS

if TYPE_CHECKING:
    from narrator.language.readings import Guesser

_ASKED = frozenset(("asks", "ask", "asked", "asking", "calls", "called", "looking", "look", "wants"))
_DRIVEN = frozenset(("at", "to", "past", "over", "above", "about", "till", "until"))
"""Before these a number may be how fast the road was driven."""
_LIMITED, _COMPARED = 5, 0.4
"""How many tokens before a number a word of limits may stand, and how unlike what was read it may be."""
MOVING = frozenset(
    "drops dropped falls fell climbs climbed jumps jumped rises sags sagged dips dipped sinks".split()
)


def licensed(guesser: Guesser, one: Unsaid, shares: dict[str, float]) -> bool:
    """Whether the words around a number allow a reading at all."""
    before = guesser.word(one.start - 1)
    after = guesser.word_after(one)
    if before in ("last", "that", "this", "those", "both", "new") and one.inches:
        return False  # "the last three eighths": a fastener
    if before in ("a", "an", "the") and one.single and not one.exact:
        return False  # "the cable's a thirteen"
    if before == "the" and one.value is not None and one.value >= 100:
        return False  # "the six fifty": a model
    asked = before == "for" and guesser.word(one.start - 2) in _ASKED
    if (
        _within(guesser, one)
        or asked
        or _in_turn(guesser, one)
        or (is_measured(shares) and not one.small and before != "for")
    ):
        return True
    near = any(0 <= one.start - end <= 2 for _, end, _ in guesser.contexts)
    near = near or (before in _DRIVEN and not one.small and ROAD.first(guesser.words) is not None)
    near = near and not (one.small and before in ("on", "for", "in", "number"))
    if not after and not one.small and not guesser.fasteners and not guesser.times:
        near = near or bool(guesser.here) or not MOVING.isdisjoint(guesser.words[: one.start])
    precise = not one.single or one.exact or (one.value is not None and one.value != int(one.value))
    alone = not before or one.start in guesser.notes.marks
    stays = before == "on" and guesser.word(one.start - 2) in READING  # "sitting on five"
    ends = not after or after in FOLLOW or after in STARTERS
    if not before and one.small:
        ends = not after
    return precise or near or ((before in READING or alone or stays or _echoes(guesser, one)) and ends)


def _within(guesser: Guesser, one: Unsaid) -> bool:
    """Whether a number limits what this utterance reads (*eight mil off shut and the book gives ten*)."""
    told = not LIMITING.isdisjoint(guesser.words[max(0, one.start - _LIMITED) : one.start])
    return told and any(
        0 < distance(one.value or 0, past.value) < _COMPARED
        for past in guesser.here
        if one.value and past.at[1] <= one.start
    )


def _in_turn(guesser: Guesser, one: Unsaid) -> bool:
    """Whether a number is of the next of a row of like things (*twelve percent on one, eight on two*)."""
    words, first = guesser.words, one.start in guesser.notes.marks or guesser.word(one.start - 1) == "and"
    return (
        first
        and words[one.end : one.end + 1] == ["on"]
        and any(past.at[1] <= one.start and words[past.at[1]] == "on" for past in guesser.here)
    )


def _echoes(guesser: Guesser, one: Unsaid) -> bool:
    """Whether a number is about what was read a moment ago (*no different, ninety six*)."""
    return not one.small and any(
        guesser.memory.turn - past.turn <= 3 and 0 < distance(one.value or 0, past.value) < 0.04
        for past in guesser.memory.readings[-4:]
    )
