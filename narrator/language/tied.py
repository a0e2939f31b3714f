"""Numbers without a unit that are plainly of what was just read: *four mil left, seven is the least*.

A word of limits right behind such a number, or before it in the line of the reading, leaves no doubt of what
it measures, nor does *it drops to one eighty* a line after 235 volts, nor *nine at the left lamp* after 12.4
at the plug. The reading gives the quantity and the unit.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from narrator.language.context import CONTEXT, LIMITING, bounded
from narrator.language.guesses import Guess, Reading, coarser, distance, value_as
from narrator.language.leftover import Unsaid
from narrator.language.licence import MOVING
from narrator.values import Fastener, Measurement

if TYPE_CHECKING:
    from narrator.language.readings import Guesser

_COST = 0.4
_LASTS = 2
"""For so many utterances a limit may be of what was read."""
_BOUND, _HELD = 0.6, 0.35
"""How unlike the reading a limit may be: where words right behind it say so, and where words before it do."""
_BETWEEN = 6
"""So many words at most lie between a reading and the limit that the same line holds it against."""
_GOES = MOVING | frozenset(
    "goes went comes came dives dived shoots shot settles settled drop climb fall".split()
)
_WAYS = frozenset("up down back right straight off".split())
_IT = frozenset("it that she he they and".split())
_AT = frozenset(("at", "on", "across"))
_AGAIN = ("voltage", "pressure")
"""What is read here and there: *nine at the left lamp*."""


def tied(guesser: Guesser, one: Unsaid) -> Guess | None:
    """What a number measures that is plainly of what was just read; None where nothing says so."""
    if one.fraction or one.value is None:
        return None
    if bounded(guesser.notes, one.end):
        return _like(one, (*_before(guesser, one), *guesser.here, *_lately(guesser)), _BOUND, "limit")
    held = [past for past in _before(guesser, one) if _wanted(guesser, past, one)]
    if held:
        return _like(one, held, _HELD, "limit")
    if _moved(guesser, one) or _elsewhere(guesser, one):
        latest = [past for past in _lately(guesser) if past.quantity != "speed"]
        same = [past for past in latest if past.turn == latest[0].turn]
        nearest = sorted(same, key=lambda past: distance(one.value or 0.0, past.value))
        return _like(one, nearest[:1], _HELD, "moved")
    return None


def _moved(guesser: Guesser, one: Unsaid) -> bool:
    """*It sags to one eighty*, where the line reads nothing before: what was read now reads so."""
    words, at = guesser.words, one.start - 1
    if at < 0 or words[at] != "to" or _before(guesser, one) or guesser.told_before(one) or guesser.set_up:
        return False
    at -= 1 + (words[at - 1] in _WAYS)
    return at > 0 and words[at] in _GOES and words[at - 1] in _IT


def _elsewhere(guesser: Guesser, one: Unsaid) -> bool:
    """*Nine at the left lamp*: a small number that begins a line, and where it was read."""
    after = guesser.words[one.end : one.end + 2]
    placed = len(after) > 1 and after[0] in _AT and after[1] in ("the", "that", "this", "both", "each")
    if one.start or not one.small or not placed or guesser.here:
        return False
    if any(isinstance(e, Fastener) for e in guesser.notes.entities):
        return False
    latest = next(_lately(guesser), None)
    return latest is not None and latest.quantity in _AGAIN


def _before(guesser: Guesser, one: Unsaid) -> list[Reading]:
    """What the line reads before a number, the last first."""
    degrees = [e for e in guesser.notes.entities if isinstance(e, Measurement) and e.rule == "unit.degree"]
    memory = guesser.memory
    warm = [
        Reading(memory.turn, "temperature", memory.degrees(e.value, guesser.words), e.value, True, e.at)
        for e in degrees
    ]
    read = sorted([*guesser.here, *warm], key=lambda past: past.at, reverse=True)
    return [past for past in read if past.at[1] <= one.start]


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


def _like(one: Unsaid, read: Iterable[Reading], most: float, why: str) -> Guess | None:
    """The first of some readings that a number is not too unlike."""
    for past in read:
        value = value_as(one, past.quantity)
        if value is not None and past.quantity != "time" and distance(value, past.value) < most:
            return Guess(_COST, past.quantity, coarser(value, past.unit), f"unsaid.{why}")
    return None
