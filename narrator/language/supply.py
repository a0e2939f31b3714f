"""Entering the readings whose unit was left unsaid, and remembering what was measured."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

from narrator.language.context import CONTEXT, SET_UP, TELLING, Context, contexts_of, gauge_named, role_of
from narrator.language.guesses import SCALED, Guess, Reading, as_spoken, distance, things_of, value_as
from narrator.language.leftover import Unsaid, unsaid
from narrator.language.likeliest import has_model, likeliest
from narrator.language.metered import meter_at, metered
from narrator.language.readings import KEEP, LIMIT, Guesser, is_reading
from narrator.language.tied import tied
from narrator.language.tightening import turned_further
from narrator.language.tokens import Notes
from narrator.values import Measurement, PartNumber, Price

if TYPE_CHECKING:
    from narrator.language.unsaid import Memory

_TENS, _FULL, _NEAR = 10, 1000, 0.02
"""The least that may be hundreds of a value, the least value read before, and how unlike that may be."""
_PARTED = 0.6
"""How much likelier the parts of a row must be than the row read as one number."""


def supply_readings(memory: Memory, notes: Notes) -> None:
    """Give the numbers without a unit their quantity and unit, and remember what was measured."""
    contexts: list[Context] = []
    if not TELLING.isdisjoint(notes.words):
        contexts = contexts_of(memory.gauge, notes, memory.meter)
        memory.gauge = gauge_named(notes) or memory.gauge
    if "unsaid" in notes.scratch:
        _supply(Guesser(memory, notes, contexts), notes)
    measured = [e for e in notes.entities if isinstance(e, Measurement)]
    if not (measured or contexts or "unsaid" in notes.scratch):
        return
    inside = {i for e in measured if e.unit_said for i in range(*e.at)}
    plain = [
        (notes.words[at:end], str(CONTEXT[ident]["quantity"]))
        for at, end, (ident, hint) in contexts
        if not hint and at not in inside
    ]
    told = [quantity for _, quantity in plain]
    if meter_at(notes) is not None:
        memory.meter = metered(notes, set(told), memory.meter)
    memory.focus.extend((memory.turn, quantity) for quantity in told)
    memory.met.update(told, [e.quantity for e in measured])
    del memory.focus[:-6]
    read = any(e.quantity != "time" for e in measured)
    if told or read:
        ready = (quantity for words, quantity in plain if not read and not SET_UP.isdisjoint(words))
        memory.set_up = (memory.turn, frozenset(ready))
    things = things_of(notes) if measured else frozenset()
    for entity in measured:
        if entity.rule == "unit.degree":
            unit = memory.degrees(entity.value, notes.words)
            memory.readings.append(
                Reading(memory.turn, "temperature", unit, entity.value, False, things=things)
            )
        elif is_reading(entity):
            memory.readings.append(as_spoken(entity, memory.turn, things))
    del memory.readings[:-KEEP]


def _supply(guesser: Guesser, notes: Notes) -> None:
    taken = notes.taken()
    pair: Guess | None = None
    for one in _parted(guesser, _joined(guesser.memory, unsaid(notes))):
        if any(taken[one.start : one.end]):
            pair = None
            continue
        partner, pair = pair, meant(guesser, one)
        if one.of and partner is not None:
            pair = partner
        _enter(guesser, one, pair, one.range and (not one.of or partner is not None))


def _enter(guesser: Guesser, one: Unsaid, guess: Guess | None, ranged: bool) -> None:
    """Enter a number as the measurement that it was taken for, if it is one."""
    value = value_as(one, guess.quantity) if guess else None
    if guess is None or value is None:
        return
    memory = guesser.memory
    made = _made(guesser.notes, one, guess, value * guess.scale, ranged)
    if guess.quantity == "temperature" and memory.told() is None:
        made = replace(made, settled=False)
    here = any(r.quantity == "torque" and r.said for r in guesser.here)
    if guess.quantity == "torque" and not here and memory.torque_said() is None:
        made = replace(made, settled=False)
    guesser.notes.entities.append(made)
    guesser.here.append(as_spoken(made, memory.turn))


def _sold(guesser: Guesser, one: Unsaid) -> bool:
    """Whether a number is of what the line buys: nothing in it is read and no word tells what would be."""
    bought = any(isinstance(e, (Price, PartNumber)) for e in guesser.notes.entities)
    return bought and not guesser.here and not guesser.told_before(one)


def _joined(memory: Memory, numbers: list[Unsaid]) -> Iterator[Unsaid]:
    """The numbers, *twenty nine thirty* as 2930 where about so much was read before, not as 29 to 30."""
    held: Unsaid | None = None
    for one in numbers:
        if held is not None:
            whole = (held.value or 0.0) * 100 + (one.value or 0.0)
            if held.end == one.start and one.of and any(_like(whole, r.value) for r in memory.readings):
                yield Unsaid(held.start, one.end, whole, None, single=False)
                held = None
                continue
            yield held
        held = one if one.range and not one.of and (one.value or 0.0) >= _TENS else None
        if held is None:
            yield one
    if held is not None:
        yield held


def _like(value: float, other: float) -> bool:
    return other >= _FULL and distance(value, other) < _NEAR


def meant(guesser: Guesser, one: Unsaid) -> Guess | None:
    """What a number measures: by the model where there is one, else by the rules alone."""
    if _sold(guesser, one):
        return None
    if (plainly := tied(guesser, one)) is not None:
        return plainly
    if (turned := turned_further(guesser, one)) is not None:
        return turned  # whatever else speaks for a torque: it would be far too tight
    if has_model(guesser):
        return likeliest(guesser, one)
    return guesser.best(one)


def _parted(guesser: Guesser, numbers: Iterable[Unsaid]) -> Iterator[Unsaid]:
    """The numbers, a row without a pause parted where its pieces are much likelier (*sagging 35, 28*)."""
    for one in numbers:
        if one.parts and one.decimal is not None and all(len(parts) == 2 for parts in one.parts):
            pointed = value_as(one, "voltage") == one.decimal
            last = one.parts[0][1].value
            if pointed and last is not None and last < 10 and guesser.best(one):
                yield one  # "eleven nine" is 11.9, not eleven and nine
                continue
        whole = guesser.best(one) if one.parts else None
        best, cost = [one], whole.cost - _PARTED if whole else LIMIT
        for parts in one.parts:
            guesses = [guesser.best(part) for part in parts]
            found = [guess for guess in guesses if guess]
            same = len(found) == len(parts) and len({(g.quantity, g.unit) for g in found}) == 1
            spread = 0.5 * sum(distance(a.value or 0, b.value or 0) for a, b in pairwise(parts))
            if same and max(g.cost for g in found) + spread < cost:
                best, cost = list(parts), max(g.cost for g in found) + spread
        yield from best


def _made(notes: Notes, one: Unsaid, guess: Guess, value: float, ranged: bool) -> Measurement:
    at, scaled = (one.start, one.end), guess.unit in SCALED
    return Measurement(
        span=notes.span(*at),
        at=at,
        rule=f"{guess.rule}.{guess.unit}" if scaled else guess.rule,
        quantity=guess.quantity,
        value=round(value / 1000, 9) if scaled else value,
        unit=SCALED.get(guess.unit, guess.unit),
        role=role_of(notes, at, guess.quantity, ranged),
        unit_said=False,
        range=ranged,
        sure=round(max(0.3, 1.0 - 0.2 * guess.cost), 2),
    )
