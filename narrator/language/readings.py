"""Numbers without a unit: what they measure, judged by words near them and by what was measured before.

Every possibility gets a cost (distance of the telling word, age of the earlier reading, unlikeness of the
value); the cheapest wins if it is cheap enough, else the number is left alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, TypeGuard

from narrator.language.amounts import Amounts, alone, doubt, is_nothing, weight
from narrator.language.context import CONTEXT, ROAD, USUAL, WEAK, Context
from narrator.language.guesses import Guess, as_spoken, distance, distances, finer, things_of, value_as
from narrator.language.leftover import Unsaid, unsaid
from narrator.language.licence import MOVING, licensed
from narrator.language.past import Past
from narrator.language.recalled import ALIKE, FULL, ROAD_UNITS, beside, read_before
from narrator.language.tightening import tight
from narrator.language.tokens import Notes
from narrator.language.units import SPOKEN
from narrator.language.usual import by_value
from narrator.values import Fastener, Measurement

if TYPE_CHECKING:
    from narrator.language.unsaid import Memory

LASTS = 2
"""For how many utterances what was set up to be read is what is read, if nothing was measured since."""
KEEP = 60
"""How many past readings are looked at."""
LIMIT, LIMIT_SMALL, LIMIT_WEAK = 2.2, 1.6, 1.2
"""Costs above which a number is left alone: any; one below 13; such a one after a word that often counts."""
_SILENT = frozenset(("time", "angle"))
_COLUMNS = ("inHg", "inH2O")
_INSULATION = frozenset(("megger", "insulation", "meg", "megs", "megohm", "megohms", "isolation", "mega"))
"""Where none of these is said nothing is megohms for long."""
_COLUMN = frozenset(("vacuum", "mercury", "water", "inches", "vac"))
_NAMED = frozenset(("voltage", "current", "resistance", "frequency", "volume"))
_TOO_FAR = 1.3
_UNUSUAL = 1.2
_BESIDE = "unsaid.context."
_NEXT = -0.2
"""What speaks for a telling word straight behind the number (*eighty eight ambient*), as a cost."""
_SET_UP, _STALE = 0.35, 5
"""What speaks for what the line before set up to be read, where nothing was read for so many utterances."""
_NEARLY, _FAR = 9, 16
"""How many tokens before a number a word that hints at what is measured may stand, and a plain one."""
_BAR, _RAIL = 12, (200, 2500)
_OIL = 450
"""Bare pressures that are bar where metric units are spoken: small ones, what a fuel rail holds, and what
hydraulics run at."""
_SLOWEST = 200
"""Revolutions a minute below which nobody leaves the unit away."""


class Guesser:
    """Weighs what the numbers of one utterance may be."""

    def __init__(self, memory: Memory, notes: Notes, contexts: Sequence[Context]) -> None:
        self.memory, self.notes, self.words = memory, notes, notes.words
        self.here = [as_spoken(e, memory.turn) for e in notes.entities if is_reading(e)]
        self.times = [
            as_spoken(e, memory.turn)
            for e in notes.entities
            if isinstance(e, Measurement) and e.quantity == "time"
        ]
        self.fasteners = [e for e in notes.entities if isinstance(e, Fastener)]
        self.things = things_of(notes)
        inside = {i for e in notes.entities if isinstance(e, Measurement) for i in range(*e.at)}
        self.contexts = [c for c in contexts if c[0] not in inside]
        self.starts = [other.start for other in unsaid(notes)]
        self.last = memory.readings[-1].turn if memory.readings else -99
        self.recent = bool(self.here) or memory.turn - self.last <= 10
        self.amounts = Amounts(notes)
        turn, told = memory.set_up
        fresh = memory.turn - turn <= LASTS and not self.here
        self.set_up = told if fresh else frozenset()
        self.past = Past(memory)
        self.insulated = not _INSULATION.isdisjoint(notes.words)
        self.column = not _COLUMN.isdisjoint(notes.words)

    def word(self, i: int) -> str:
        """The token ``i``, empty outside the utterance."""
        return self.words[i] if 0 <= i < len(self.words) else ""

    def word_after(self, one: Unsaid) -> str:
        """The token behind a number, empty at the end or before punctuation."""
        return "" if one.end in self.notes.marks else self.word(one.end)

    # ------------------------------------------------------------ units of a quantity

    def unit_for(self, quantity: str, value: float) -> tuple[str, float]:
        """The unit used for a quantity that suits the value best, and how badly it does (0 is best)."""
        odd = () if self.column else _COLUMNS
        odd = odd if self.insulated else (*odd, "MOhm")
        best: tuple[float, str] | None = None
        here = [past for past in self.here if past.quantity == quantity]
        read = [*here, *self.past.of.get(quantity, ())]
        for past, far in zip(read, distances(value, [past.value for past in read]), strict=True):
            if (best is not None and far >= best[0]) or past.unit in odd:
                continue
            stale = min(1.0, 0.03 * (self.memory.turn - past.turn)) * (far >= ALIKE or value < FULL)
            cost = far + finer(value, past.unit) + stale
            if best is None or cost < best[0]:
                best = cost, past.unit
        if best is None or best[0] >= _TOO_FAR:
            return self.usual(quantity, value), _UNUSUAL
        return (self.usual(quantity, value) if quantity == "temperature" else best[1]), best[0]

    def usual(self, quantity: str, value: float) -> str:
        """The unit of a quantity where nothing said before suits."""
        if quantity == "temperature":
            return self.memory.degrees(value, self.words)
        if quantity == "torque":
            return self.memory.locale.torque()
        locale = self.memory.locale
        if quantity == "pressure" and (locale.metric > 1 or (locale.hydraulic and locale.metric > 0)):
            rail = _RAIL[0] <= value <= _RAIL[1] and "rail" in self.words
            oil = locale.hydraulic and _BAR < value <= _OIL
            return "bar" if rail or oil or 0 < value <= _BAR else "psi"
        return str(USUAL[quantity]["unit"])

    # ------------------------------------------------------------ where a guess comes from

    def contextual(self, one: Unsaid) -> Iterator[Guess]:
        """From words near the number that tell what is measured."""
        for start, end, (ident, hint) in self.contexts:
            after = start >= one.end
            gap = start - one.end if after else one.start - end
            row = CONTEXT[ident]
            quantity = str(row["quantity"])
            value = value_as(one, quantity)
            if after and any(0 <= r.at[0] - end <= 3 and r.quantity == quantity for r in self.here):
                continue  # "eleven point four under load and drawing 160 amps"
            if after and any(one.end < n <= start or 0 <= n - end <= 2 for n in self.starts):
                continue  # "one oh six at eighty eight ambient": what is told of the nearer number
            if (
                not 0 <= gap <= (4 if after else _NEARLY if hint else _FAR)
                or not self.fits(one, quantity, value)
                or value is None
            ):
                continue
            ruled = one.inches or (quantity == "length" and one.quarters)
            unit, unlike = ("in", 0.0) if ruled else self.unit_for(quantity, value)
            own = row["unit"] != USUAL[quantity]["unit"] and row["low"] <= value <= row["high"]
            if quantity == "time" or own:
                unit, unlike = str(row["unit"]), 0.0  # a stopwatch counts seconds, an hour meter hours
            named = SPOKEN.at(self.words, start) if quantity in _NAMED else None
            if named and named[0] == end and named[1].quantity == quantity:
                unit, unlike = named[1].symbol, 0.0
            if unit:
                crossed = sum(
                    1 for s, e, other in self.contexts if end <= s and e <= one.start and other[0] != ident
                )
                cost = (
                    0.3
                    + 0.08 * min(gap, _NEARLY)
                    + (_NEXT if gap == 0 and not hint and one.end not in self.notes.marks else 0.5) * after
                    + hint * (0.9 if self.recent else 0.2)
                    + 0.3 * min(unlike, _UNUSUAL)
                    + 0.2 * crossed
                )
                yield Guess(cost, quantity, unit, f"unsaid.{ident}")

    @staticmethod
    def fits(one: Unsaid, quantity: str, value: float | None) -> bool:
        """Whether a value is possible for a quantity at all."""
        row = USUAL[quantity]
        if (
            value is None
            or (one.fraction and quantity != "length")
            or (quantity == "speed" and value < _SLOWEST)
        ):
            return False
        return bool(row["low"] <= value <= row["high"])

    def road(self, one: Unsaid) -> Iterator[Guess]:
        """How fast it goes: *hands off at seventy*, *the speed on the screen is four*."""
        if one.value is None or one.value != int(one.value) or not 0 <= one.value <= 200 or one.fraction:
            return
        road = ROAD.all(self.words)
        near = min((one.start - end for _, end, _ in road if end <= one.start), default=99)
        near = min(
            [near, *(4 for start, _, _ in road if 0 <= start - one.end <= 2)]
        )  # "sixty on the highway"
        if near > 8 or self.here:
            return
        yield Guess(0.7 + 0.08 * near, "speed", self.road_unit(), "unsaid.road")

    def road_unit(self) -> str:
        """The unit of how fast it goes: as was said last, else that of the session's distances."""
        said = (r.unit for r in reversed(self.memory.readings) if r.unit in ROAD_UNITS and r.said)
        unit = next(said, None)
        return unit or ("mph" if self.memory.locale.distance() == "mi" else "km/h")

    def told_before(self, one: Unsaid) -> set[str]:
        """The quantities that words before a number plainly tell."""
        plain = ((ident, end) for _, end, (ident, hint) in self.contexts if not hint)
        return {str(CONTEXT[ident]["quantity"]) for ident, end in plain if end <= one.start}

    def remembered(self, one: Unsaid) -> Iterator[Guess]:
        """From what this utterance or earlier ones measured."""
        moving = not MOVING.isdisjoint(self.words)
        yield from beside(self, one)
        yield from by_value(self, one, moving)
        yield from read_before(self, one, moving)

    def focused(self, one: Unsaid) -> Iterator[Guess]:
        """From telling words of the last utterances."""
        for turn, quantity in self.memory.focus[-3:]:
            value, age = value_as(one, quantity), self.memory.turn - turn
            if age > 3 or quantity == "torque" or not self.fits(one, quantity, value) or value is None:
                continue
            unit, unlike = self.unit_for(quantity, value)
            if unit:
                first = age < 2 and quantity not in self.past.of
                far = (0.3 if quantity == "pressure" else 0.5) if first else 0.6 * unlike
                fresh = _SET_UP * (age == 1 and self._ready(quantity) and not self._repeats(value))
                yield Guess(1.1 + 0.25 * age + far - fresh, quantity, unit, "unsaid.focus")

    def _ready(self, quantity: str) -> bool:
        """Whether a quantity was set up to be read, or nothing was read for long."""
        stale = not self.here and self.memory.turn - self.last > _STALE
        return stale or quantity in self.set_up

    def _repeats(self, value: float) -> bool:
        """Whether so much was read before, of whatever quantity."""
        return any(distance(value, r.value) < ALIKE for r in self.memory.readings)

    # ------------------------------------------------------------ deciding

    def best(self, one: Unsaid) -> Guess | None:
        """The likeliest meaning of a number, or None to leave it alone."""
        shares = self.amounts.shares(one.start, one.end)
        torque = tight(self, one, shares)
        pointed = "." in self.word(one.start)
        if not torque and ((is_nothing(shares) and not pointed) or not licensed(self, one, shares)):
            return None
        guesses = [
            *torque, *self.contextual(one), *self.road(one), *self.remembered(one), *self.focused(one),
            *self.known(one, shares),
        ]  # fmt: skip
        against = 0.0 if pointed or torque else doubt(shares)
        if not guesses:
            return None
        costs = [g.cost + against - self.weighed(g, shares) for g in guesses]
        least = min(costs)
        weak = self.word(one.start - 1) in WEAK
        limit = LIMIT if not one.small else LIMIT_WEAK if weak else LIMIT_SMALL
        return guesses[costs.index(least)]._replace(cost=least) if least <= limit else None

    @staticmethod
    def weighed(guess: Guess, shares: dict[str, float]) -> float:
        """What the network adds to a guess."""
        return weight(shares, guess.quantity, guess.unit, guess.rule.startswith(_BESIDE))

    def known(self, one: Unsaid, shares: dict[str, float]) -> Iterator[Guess]:
        """What the network is sure of by itself."""
        told = None if one.small else alone(shares)
        plain = self.told_before(one)
        if told is None or (plain and told[0] not in plain):
            return  # "vacuum gauge is only fourteen inches and she wants eighteen"
        if told[0] not in self.memory.met or (value := value_as(one, told[0])) is None:
            return
        unit, unlike = self.unit_for(told[0], value)
        read = told[0] in self.past.of or any(r.quantity == told[0] for r in self.here)
        if self.fits(one, told[0], value) and not (read and unlike >= _UNUSUAL):
            yield Guess(told[1] + 0.3 * min(unlike, _UNUSUAL), told[0], unit, "unsaid.known")


def is_reading(entity: object) -> TypeGuard[Measurement]:
    """Whether an entity is a measurement that later numbers may refer to (not a time, an angle, a road)."""
    return (
        isinstance(entity, Measurement)
        and entity.unit not in (None, "mi", "km", "deg")
        and entity.quantity not in _SILENT
    )
