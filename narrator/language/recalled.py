"""What a number may be by what was measured before: beside it in its line, and in the lines so far."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import inf
from typing import TYPE_CHECKING

from narrator.language.context import LIMITING
from narrator.language.guesses import Guess, Reading, coarser, distance, distances, finer, value_as
from narrator.language.leftover import Unsaid
from narrator.language.usual import is_charge

if TYPE_CHECKING:
    from narrator.language.readings import Guesser

ROAD_UNITS = ("km/h", "mph")
ALIKE, FULL = 0.01, 100
"""How unlike values of so much may be that are told again."""
_SAME = 0.3
"""What speaks for a value that was read before, to the last figure."""
_PRIOR = {"mass": 0.8, "volume": 0.8, "length": 0.4, "speed": 0.5, "power": 0.8}
"""Quantities that a number without a unit seldom takes up again."""
_GIVEN = {"power": 0.6}
"""Quantities under which something else is measured (*30 kilowatts: 49.9*)."""
_UNLIKE, _CLOSE = 1.6, 0.04
"""How much the unlikeness of a value to one that was read earlier counts, and below which it is the same."""
_APART = 1.2
"""The same for one that the line itself reads."""
_VOLTS = 0.6
"""What speaks against amperes for what looks like the volts beside them (*14.2 and sixty amps*)."""
_HELD = 0.5
"""The cost of a time, before its unlikeness to the one that it is held against."""
_LARGE, _KILO = 1000, 1000
"""From here on a whole number that was read before is hardly another thing by chance; and ohms are not told
in kilohms."""
_INSULATED = 2
"""For how many utterances megohms stay where no word of insulation is said."""
_OLD, _OLD_ALIKE = 1.8, 0.5
"""What the age of a reading counts at most, and that of one much like the number."""
_VACUUM = {"psi": -15.0, "bar": -1.05, "kPa": -105.0, "millibar": -1050.0}
"""The least that a gauge shows."""
_THING = 0.4
"""What speaks for the quantity that was read of the same part before."""
_TOLD = 0.5
"""What speaks against another quantity than one that words before the number plainly tell."""
_OTHER = 0.5
"""What speaks against anything else that was read before than what the line before set up to be read."""
_BOUNDS = frozenset(("limit", "max", "maximum", "allowed", "tolerance", "wear"))
_SIZED = frozenset(("new", "thick", "thickness", "wide", "long", "deep"))
_LASTS = frozenset(("take", "takes", "took", "taking", "last", "lasts", "lasted"))


def _below(past: Reading, value: float) -> bool:
    """Whether a pressure would lie below none at all."""
    return past.quantity == "pressure" and value < _VACUUM.get(past.unit, value)


def beside(guesser: Guesser, one: Unsaid) -> Iterator[Guess]:
    """From what the line itself measures."""
    for past in guesser.here:
        value = value_as(one, past.quantity)
        if value is not None and not _below(past, value) and not _allowed(guesser, past, value):
            gap = max(one.start - past.at[1], past.at[0] - one.end, 0)
            far = distance(value, past.value) * (_APART if value else 1.0)
            cost = 0.45 + 0.04 * gap + far - _SAME * (value == past.value)
            cost += _VOLTS * (past.quantity == "current" and is_charge(one))
            cost += _GIVEN.get(past.quantity, 0.0)
            yield Guess(cost, past.quantity, coarser(value, past.unit), "unsaid.utterance")
    for past in guesser.times if one.value is not None else ():
        far = distance(one.value or 0.0, past.value)
        if past.at[1] <= one.start and _held(guesser, past, one):
            yield Guess(_HELD + far, past.quantity, past.unit, "unsaid.utterance")
        gap = one.start - past.at[1]
        alike = 0 < gap <= 4 and one.exact and far < 0.1
        follows = 0 <= gap <= 1 or alike or guesser.word(one.start - 1) in _LASTS
        if follows and not guesser.here:
            yield Guess(1.0 + far, past.quantity, past.unit, "unsaid.utterance")


def _allowed(guesser: Guesser, past: Reading, value: float) -> bool:
    """Whether per cent tell how far off something else may be (*36 thick, forty new, ten percent's the
    limit*), or the number is too large to be some."""
    if past.unit != "%":
        return False
    worn = not _BOUNDS.isdisjoint(guesser.words[past.at[1] : past.at[1] + 4])
    worn = worn and not _SIZED.isdisjoint(guesser.words)
    return value > FULL or (worn and value > 2 * past.value)


def _held(guesser: Guesser, past: Reading, one: Unsaid) -> bool:
    """Whether a number is what a time is held against (*took forty seconds, the book says thirty*)."""
    nearer = any(past.at[1] <= r.at[0] < one.start for r in guesser.here)
    rate = bool(guesser.here) and guesser.word(past.at[0] - 1) == "in"  # "sunk 84 mil in ten minutes"
    return not (nearer or rate) and not LIMITING.isdisjoint(guesser.words[past.at[1] : one.start])


def read_before(guesser: Guesser, one: Unsaid, moving: bool) -> Iterator[Guess]:
    """From what earlier lines measured, the likeliest of each quantity and unit.

    ``moving``: the words are of what rises or falls.
    """
    told, turn, things = guesser.told_before(one), guesser.memory.turn, guesser.things
    values = guesser.past.values
    best: dict[tuple[str, str], float] = {}
    newer = 0
    for (quantity, unit), readings in guesser.past.units.items():
        value = None if quantity == "torque" else value_as(one, quantity)
        if value is None or not (read := _held_by(guesser, one, readings, value)):
            continue
        keys: dict[bool, tuple[str, str]] = {}
        prior, fine = _PRIOR.get(quantity, 0.0), finer(value, unit)
        other = _OTHER if guesser.set_up and quantity not in guesser.set_up else 0.0
        against = _TOLD if told and quantity not in told else 0.0
        whole = value != int(value) or value >= _LARGE
        likest_only = bool(against) or not things
        nearest: dict[tuple[str, str], float] = {}
        others = values[quantity, unit] if read is readings else [past.value for past in read]
        for past, apart in zip(read, distances(value, others), strict=True):
            far = apart * 0.4 if moving else apart  # "drops like a stone, twenty two"
            if (key := keys.get(past.said)) is None:
                key = keys[past.said] = quantity, _unit(guesser, quantity, unit, past.said, value)
            likest = nearest.get(key, inf)
            if far < likest:
                nearest[key] = far
            elif likest_only or things.isdisjoint(past.things):
                continue  # older and no likelier than one gone through already
            alike, again = far < ALIKE and value >= FULL, whole and value == past.value
            age = min(_OLD_ALIKE if alike else _OLD, 0.07 * (turn - past.turn))
            cost = 0.9 + age + prior + 0.15 * newer + _UNLIKE * far + fine
            if other and not (again or alike):
                cost += other
            if far < _CLOSE and not guesser.here:
                cost -= 0.5 + _SAME * again
            if against:
                cost += against
            elif not things.isdisjoint(past.things):
                cost -= _THING
            if key not in best or cost < best[key]:
                best[key] = cost
        newer += 1
    for (quantity, unit), cost in best.items():
        yield Guess(cost, quantity, unit, "unsaid.memory")


def _held_by(guesser: Guesser, one: Unsaid, read: Sequence[Reading], value: float) -> Sequence[Reading]:
    """Of the readings of one unit, the latest first, those of whose quantity a number may be."""
    quantity, unit, turn = read[0].quantity, read[0].unit, guesser.memory.turn
    if _below(read[0], value):
        return ()
    if unit == "MOhm" and not guesser.insulated:
        return [past for past in read if turn - past.turn <= _INSULATED]
    bounded = quantity in ("temperature", "speed") and unit not in ROAD_UNITS
    return read if not bounded or guesser.fits(one, quantity, value) else ()


def _unit(guesser: Guesser, quantity: str, unit: str, said: bool, value: float) -> str:
    """The unit of earlier readings, said or not, where it suits the value."""
    if quantity == "temperature" and not said:
        return guesser.usual("temperature", value)
    if unit in ROAD_UNITS and not said:
        return guesser.road_unit()
    return "Ohm" if unit == "kOhm" and value >= _KILO else coarser(value, unit)
