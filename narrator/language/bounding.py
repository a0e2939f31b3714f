"""Numbers without a unit that limit what was just read: *four mil left, seven is the least*.

A word of limits right behind such a number, or before it in the line of the reading, leaves no doubt of what
it measures; the reading that it limits gives the quantity and the unit.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from narrator.language.context import CONTEXT, LIMITING, bounded
from narrator.language.guesses import Guess, Reading, coarser, distance, value_as
from narrator.language.leftover import Unsaid

if TYPE_CHECKING:
    from narrator.language.readings import Guesser

RULE = "unsaid.limit"
_COST = 0.4
_LASTS = 2
"""For so many utterances a limit may be of what was read."""
_BOUND, _HELD = 0.6, 0.35
"""How unlike the reading a limit may be: where words right behind it say so, and where words before it do."""
_BETWEEN = 6
"""So many words at most lie between a reading and the limit that the same line holds it against."""


def limiting(guesser: Guesser, one: Unsaid) -> Guess | None:
    """What a number measures that limits something read; None where it limits nothing."""
    if one.fraction or one.value is None:
        return None
    if bounded(guesser.notes, one.end):
        return _like(one, (*_before(guesser, one), *guesser.here, *_lately(guesser)), _BOUND)
    held = [past for past in _before(guesser, one) if _wanted(guesser, past, one)]
    return _like(one, held, _HELD)


def _before(guesser: Guesser, one: Unsaid) -> list[Reading]:
    """What the line reads before a number, the last first."""
    return [past for past in reversed(guesser.here) if past.at[1] <= one.start]


def _lately(guesser: Guesser) -> Iterator[Reading]:
    """What the last lines read, the latest first."""
    turn = guesser.memory.turn
    return (past for past in reversed(guesser.memory.readings) if turn - past.turn <= _LASTS)


def _wanted(guesser: Guesser, past: Reading, one: Unsaid) -> bool:
    """*Twelve degrees across the coil, want eighteen*: a word of limits between, and none of another kind."""
    between = range(past.at[1], one.start)
    if len(between) > _BETWEEN or LIMITING.isdisjoint(guesser.words[past.at[1] : one.start]):
        return False
    told = (ident for start, _, (ident, hint) in guesser.contexts if start in between and not hint)
    return all(CONTEXT[ident]["quantity"] == past.quantity for ident in told)


def _like(one: Unsaid, read: Iterable[Reading], most: float) -> Guess | None:
    """The first of some readings that a number is not too unlike."""
    for past in read:
        value = value_as(one, past.quantity)
        if value is not None and past.quantity != "time" and distance(value, past.value) < most:
            return Guess(_COST, past.quantity, coarser(value, past.unit), RULE)
    return None
