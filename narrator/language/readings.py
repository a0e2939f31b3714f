"""Numbers without a unit: what they measure, judged by words near them and by what was measured before."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from narrator.language.context import CONTEXT, CONTEXTS, FOLLOW, READING, role_of
from narrator.language.measurements import VOLTS_MOST, Unsaid, unsaid
from narrator.language.numbers import STARTERS
from narrator.language.tokens import Notes
from narrator.language.units import SPOKEN
from narrator.values import Fastener, Measurement

if TYPE_CHECKING:
    from narrator.language.unsaid import Memory

KEEP = 60
"""How many past readings are looked at."""
LIMIT = 3.2
"""Cost above which a number is left alone."""
_SILENT = frozenset(("time", "angle"))
_WEAK = frozenset(
    "and with of or it then like one by in are other up down rear left right same from than was side front get got "
    "has just see".split()
)
_TORQUE_PREP = frozenset(("to", "at", "about", "around", "roughly"))
_COLUMN = frozenset(("vacuum", "mercury", "water", "inches", "vac"))
_NAMED = frozenset(("voltage", "current", "resistance", "frequency"))
_TOO_FAR = 1.3


@dataclass(frozen=True, slots=True)
class Reading:
    """A value measured earlier; ``said`` when its unit was spoken."""

    turn: int
    quantity: str
    unit: str
    value: float
    said: bool


@dataclass(frozen=True, slots=True)
class Guess:
    """What a number may be, and how far-fetched that is (lower is likelier)."""

    cost: float
    quantity: str
    unit: str
    rule: str


def _far(value: float, other: float) -> float:
    """How unlike two values of one quantity are."""
    if value == 0 or other == 0 or (value < 0) != (other < 0):
        return 0.4
    return 0.35 * abs(math.log(value / other))


def _value(one: Unsaid, quantity: str) -> float | None:
    if quantity == "voltage" and one.decimal is not None and not one.single:
        if one.value is None or (one.value > 600 and one.decimal <= VOLTS_MOST):
            return one.decimal
    if (
        one.value is None
        and one.decimal is not None
        and quantity in ("current", "pressure", "length", "resistance")
    ):
        return one.decimal
    return one.value


class _Guesser:
    """Weighs what the numbers of one utterance may be."""

    def __init__(self, memory: Memory, notes: Notes) -> None:
        self.memory, self.notes = memory, notes
        self.here = [
            e for e in notes.entities if isinstance(e, Measurement) and e.quantity not in _SILENT and e.unit
        ]
        self.fasteners = [e for e in notes.entities if isinstance(e, Fastener)]
        inside = {i for e in self.here for i in range(*e.at)}
        self.contexts = [c for c in CONTEXTS.all(notes.words) if c[0] not in inside]

    def unit_for(self, quantity: str, value: float) -> tuple[str, float]:
        """The unit used for a quantity that suits the value best, and how badly it does (0 is best)."""
        best: tuple[float, str] | None = None
        for entity in self.here:
            if entity.quantity == quantity and entity.unit:
                cost = _far(value, entity.value)
                if best is None or cost < best[0]:
                    best = cost, entity.unit
        odd = () if quantity != "pressure" or not _COLUMN.isdisjoint(self.notes.words) else ("inHg", "inH2O")
        for past in reversed(self.memory.readings):
            if past.quantity == quantity and past.unit not in odd:
                cost = _far(value, past.value) + min(1.0, 0.03 * (self.memory.turn - past.turn))
                if best is None or cost < best[0]:
                    best = cost, past.unit
        if best and best[0] < _TOO_FAR:
            return best[1], best[0]
        usual = str(CONTEXT[f"context.{quantity}"]["unit"])
        if quantity == "temperature":
            usual = self.memory.degrees()
        elif quantity == "torque":
            usual = self.memory.locale.torque()
        elif quantity == "pressure" and self.memory.locale.metric > 1:
            usual = "bar" if value <= 40 else "kPa" if value < 1000 else "psi"
        return usual, 1.2

    def contextual(self, one: Unsaid) -> list[Guess]:
        out = []
        for start, end, ident in self.contexts:
            if start >= one.start and end <= one.end:
                continue
            after = start >= one.end
            gap = start - one.end if after else one.start - end
            if gap > (4 if after else 9):
                continue
            row = CONTEXT[ident]
            quantity = str(row["quantity"])
            if one.fraction and quantity != "length":
                continue
            value = _value(one, quantity)
            if value is None or not row["low"] <= value <= row["high"]:
                continue
            if quantity == "speed" and value < 100:
                continue
            unit, unlike = ("in", 0.0) if one.fraction else self.unit_for(quantity, value)
            named = SPOKEN.at(self.notes.words, start) if quantity in _NAMED else None
            if named and named[0] == end and named[1].quantity == quantity:
                unit, unlike = named[1].symbol, 0.0
            if not unit:
                continue
            crossed = sum(
                1 for s, e, other in self.contexts if end <= s and e <= one.start and other != ident
            )
            cost = 0.3 + 0.08 * gap + (0.5 if after else 0.0) + 0.3 * min(unlike, 1.2) + 0.2 * crossed
            out.append(Guess(cost, quantity, unit, f"unsaid.{ident}"))
        return out

    def remembered(self, one: Unsaid) -> list[Guess]:
        out = []
        for entity in self.here:
            value = _value(one, entity.quantity)
            if value is not None and entity.unit:
                gap = max(one.start - entity.at[1], entity.at[0] - one.end, 0)
                cost = 0.45 + 0.04 * gap + _far(value, entity.value)
                out.append(Guess(cost, entity.quantity, entity.unit, "unsaid.utterance"))
        order: dict[tuple[str, str], int] = {}
        for past in reversed(self.memory.readings):
            value = _value(one, past.quantity)
            if value is None or past.quantity == "torque":
                continue
            newer = order.setdefault((past.quantity, past.unit), len(order))
            age = min(1.8, 0.07 * (self.memory.turn - past.turn))
            cost = 0.9 + age + 0.15 * newer + _far(value, past.value)
            out.append(Guess(cost, past.quantity, past.unit, "unsaid.memory"))
        if one.fraction and one.value is not None and one.value < 4:
            out.append(Guess(0.7, "length", "in", "unsaid.fraction"))
        for turn, quantity in self.memory.focus[-3:]:
            value = _value(one, quantity)
            row = CONTEXT[f"context.{quantity}"]
            age = self.memory.turn - turn
            if value is None or age > 3 or not row["low"] <= value <= row["high"]:
                continue
            unit, unlike = self.unit_for(quantity, value)
            if unit and not (quantity == "speed" and value < 100) and quantity != "torque":
                out.append(Guess(1.0 + 0.25 * age + unlike, quantity, unit, "unsaid.focus"))
        return out

    def torque(self, one: Unsaid) -> list[Guess]:
        """*three bolts twenty five*, *the nut's back on at 65*, *all five, 120 on the torque wrench*."""
        words = self.notes.words
        value = one.value
        if value is None or value <= 0:
            return []
        before = words[one.start - 1] if one.start else ""
        close = [f for f in self.fasteners if 0 <= one.start - f.at[1] <= 6]
        prep = before in _TORQUE_PREP
        direct = any(one.start == f.at[1] for f in close)
        if (
            not close
            or not (prep or direct)
            or any(
                s in range(close[0].at[1], one.start) for s, _, c in self.contexts if c != "context.torque"
            )
        ):
            return []
        unit, unlike = self.unit_for("torque", value)
        if not unit or (direct and not prep and value < 5 and not self.memory.readings):
            return []
        return [Guess(0.3 + 0.3 * min(unlike, 1.2), "torque", unit, "unsaid.fastener")]

    def licensed(self, one: Unsaid) -> bool:
        """Whether the words around a number allow a reading at all."""
        words = self.notes.words
        before = words[one.start - 1] if one.start else ""
        after = words[one.end] if one.end < len(words) and one.end not in self.notes.marks else ""
        near = any(0 <= one.start - end <= 2 for _, end, _ in self.contexts)
        precise = not one.single or (one.value is not None and one.value != int(one.value))
        alone = not before or one.start in self.notes.marks
        ends = not after or after in FOLLOW or after in STARTERS
        return precise or near or ((before in READING or alone) and ends)

    def best(self, one: Unsaid) -> Guess | None:
        torque = self.torque(one)
        if not torque and not self.licensed(one):
            return None
        guesses = torque + self.contextual(one) + self.remembered(one)
        before = self.notes.words[one.start - 1] if one.start else ""
        small = one.single and one.value is not None and one.value < 13 and one.value == int(one.value)
        limit = 1.3 if small and before in _WEAK else 1.7 if small else LIMIT
        found = min(guesses, key=lambda g: g.cost, default=None)
        return found if found and found.cost <= limit else None


def supply_readings(memory: Memory, notes: Notes) -> None:
    """Give the numbers without a unit their quantity and unit, and remember what was measured."""
    guesser = _Guesser(memory, notes) if "unsaid" in notes.scratch else None
    if guesser:
        _supply(guesser, notes)
    contexts = guesser.contexts if guesser else CONTEXTS.all(notes.words)
    for _, _, ident in contexts:
        memory.focus.append((memory.turn, str(CONTEXT[ident]["quantity"])))
    del memory.focus[:-6]
    for entity in notes.entities:
        if isinstance(entity, Measurement) and entity.unit and entity.quantity not in _SILENT:
            far = entity.quantity == "length" and entity.unit in ("mi", "km")
            if not far:
                said = entity.unit_said and entity.rule != "unit.degree"
                memory.readings.append(Reading(memory.turn, entity.quantity, entity.unit, entity.value, said))
        elif isinstance(entity, Measurement) and entity.rule == "unit.degree":
            memory.readings.append(Reading(memory.turn, "temperature", memory.degrees(), entity.value, False))
    del memory.readings[:-KEEP]


def _supply(guesser: _Guesser, notes: Notes) -> None:
    taken = notes.taken()
    pair: Guess | None = None
    for one in unsaid(notes):
        if any(taken[one.start : one.end]):
            pair = None
            continue
        guess = guesser.best(one)
        if one.of is not None and pair is not None:
            guess = pair
        ranged = one.range and (one.of is None or pair is not None)
        pair = guess
        value = _value(one, guess.quantity) if guess else None
        if guess is None or value is None:
            continue
        at = (one.start, one.end)
        made = Measurement(
            span=notes.span(*at), at=at, rule=guess.rule, quantity=guess.quantity, value=value, unit=guess.unit,
            role=role_of(notes, at, guess.quantity, ranged), unit_said=False, range=ranged,
            sure=round(max(0.3, 1.0 - 0.2 * guess.cost), 2),
        )  # fmt: skip
        notes.entities.append(made)
        guesser.here.append(made)
