"""What a number is by its own value: a battery's volts, a round engine speed, the mains' hertz."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from narrator.language.guesses import Guess, value_as
from narrator.language.leftover import Unsaid
from narrator.language.tables import load
from narrator.values import Price

if TYPE_CHECKING:
    from narrator.language.readings import Guesser

_RUNNING = frozenset(load("quantities")["revs"][0]["words"])
_IDLES = frozenset(("idle", "idles", "idling", "tickover", "revs", "governed"))
_NEARLY = 0.25
_AT = frozenset(("at", "to", "past", "above", "over"))
_NEAR = 4
"""How many tokens before a round number an engine, or what is done with it, may be said."""
_VOLTS = (9.0, 15.9)
_REVS = (600, 12000)
_HUNDRED, _THOUSAND, _LIKE = 100, 1000, 0.6
_MAINS = (40.0, 66.0)
_OTHER = 0.5
"""What speaks against volts where the line before set up something else to be read."""
_THIN, _INCHES = 0.2, 10
"""Below these a value with three decimals is one in inches, where metric units were heard and where not."""
_TURNS = 5
"""The least of revolutions in hundreds (*idle still fourteen*)."""


def is_charge(one: Unsaid) -> bool:
    """Whether a number with a point is what a battery or what charges it has in volts."""
    volts = value_as(one, "voltage")
    pointed = one.exact or (one.value is None and one.decimal is not None)
    return pointed and not one.range and volts is not None and _VOLTS[0] <= volts <= _VOLTS[1]


def by_value(guesser: Guesser, one: Unsaid, moving: bool) -> Iterator[Guess]:
    """Guesses from the value alone; ``moving`` tells that the words are of something that rises or falls."""
    volts = value_as(one, "voltage")
    pointed = one.exact or (one.value is None and one.decimal is not None)
    if pointed and volts is not None and _VOLTS[0] <= volts <= _VOLTS[1]:
        amps = any(r.quantity == "current" for r in guesser.here)
        if amps and not one.range:
            yield Guess(0.45, "voltage", "V", "unsaid.usual")  # "fifty eight amps at thirteen nine"
        else:
            other = _OTHER if guesser.set_up and "voltage" not in guesser.set_up else 0.0
            yield Guess((1.6 if one.exact else 1.5) + other, "voltage", "V", "unsaid.usual")  # "twelve four"
    value = one.value
    if value is None:
        yield from _shortened(guesser, one, one.decimal or 0.0)  # "thirteen five" beside thirteen thousand
        return
    yield from _shortened(guesser, one, value)
    sums = any(isinstance(e, Price) for e in guesser.notes.entities) and not guesser.here
    if _REVS[0] <= value <= _REVS[1] and value % 50 == 0 and guesser.word(one.start - 1) in _AT and not sums:
        runs = not _RUNNING.isdisjoint(guesser.words[max(0, one.start - _NEAR) : one.start])
        yield Guess(0.4 if runs else 1.4 + 0.4 * moving, "speed", "rpm", "unsaid.round")
    if _MAINS[0] <= value <= _MAINS[1] and not one.fraction and _hertz(guesser):
        yield Guess(0.9, "frequency", "Hz", "unsaid.mains")
    if one.inches and value < 4:
        yield Guess(0.7, "length", "in", "unsaid.fraction")
    inches = _THIN if guesser.memory.locale.metric > 0 else _INCHES
    if one.exact and 0 < value < inches and round(value, 2) != value:
        yield Guess(1.5, "length", "in", "unsaid.thousandths")


def _shortened(guesser: Guesser, one: Unsaid, value: float) -> Iterator[Guess]:
    """*hangs at thirty four hundred, the decal says thirty six*, *six thousand, should be nine and a half*.

    Revolutions beside those of the same line, their hundreds or thousands left unsaid; and, at the start of a
    line, a round number of thousands in a session that has counted revolutions.
    """
    turning = [r for r in guesser.here if r.unit == "rpm" and r.value >= _THOUSAND]
    for past in turning if value < _HUNDRED and not one.small else ():
        for scale in (100.0, 1000.0):
            halves = value % (1.0 if scale < _THOUSAND else 0.5) == 0
            if halves and abs(value * scale - past.value) <= _LIKE * past.value:
                yield Guess(0.6, "speed", "rpm", "unsaid.shortened", scale)
    counted = guesser.past.units.get(("speed", "rpm"), ())
    idles = not _IDLES.isdisjoint(guesser.words[max(0, one.start - _NEAR) : one.start])
    hundreds = idles and not turning and _TURNS <= value < _HUNDRED and value % 1 == 0
    for past in counted if hundreds else ():
        if past.value >= _HUNDRED and abs(value * _HUNDRED - past.value) <= _NEARLY * past.value:
            yield Guess(0.8, "speed", "rpm", "unsaid.shortened", float(_HUNDRED))
    if counted and one.start <= 1 and _THOUSAND <= value <= _REVS[1] and value % 50 == 0:
        yield Guess(1.4, "speed", "rpm", "unsaid.round")


def _hertz(guesser: Guesser) -> bool:
    """Whether a frequency was read in this session."""
    return "frequency" in guesser.past.of or any(r.quantity == "frequency" for r in guesser.here)
