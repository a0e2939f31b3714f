"""What a number without a unit measures, by a small trained model over all that speaks for each meaning.

The rules (``narrator.language.readings``) say what a number may be and what that costs by the words nearby
and by what was measured before. The model sees each such meaning with these costs, with what the network
makes of the number, with how usual a value of its size is in the unit, and with how the session measured so
far, beside the meaning that it measures nothing at all; the likeliest is taken. A logistic choice, trained by
``models.understanding.train_units``; without its weights, or without a network, the rules decide by
themselves.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from functools import lru_cache
from math import exp, log, log10
from operator import mul
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from narrator.language import past
from narrator.language.amounts import NOTHING, doubt, is_nothing, share_of, weight_of
from narrator.language.context import FOLLOW, READING, WEAK
from narrator.language.guesses import SCALED, Guess, value_as
from narrator.language.leftover import Unsaid
from narrator.language.licence import licensed
from narrator.language.meaning import meaning_table
from narrator.language.tightening import tight
from narrator.paths import MODELS
from narrator.values import Fastener, PartNumber, Price

if TYPE_CHECKING:
    from narrator.language.readings import Guesser

FOLDER = MODELS / "units"
RULE = "unsaid.model"
ROAD = ("km/h", "mph")
_LEAST, _AGREED = (float(meaning_table()["units"][name]) for name in ("least", "agreed"))
_QUANTITIES: tuple[str, ...] = tuple(meaning_table()["units"]["quantities"].split())
"""Quantities that any number is held against, whether a rule speaks for them or not."""
_ROAD_VALUES = (5, 200)
_PREP = frozenset(("at", "to", "past", "by", "about", "around", "nearly", "over", "under"))
_IS = frozenset(("is", "'s", "reads", "says", "shows", "was", "gives", "at", "are"))
_ARTICLES = frozenset(("a", "an", "the"))
_NONE, _MOST_COST = 9.0, 2.5
"""The cost of a meaning for which no rule speaks, and from which on a cost says no more."""
_BEST_COST, _WORST_COST = 2.2, 4.2
_SILENT, _HARDLY = 0.97, 0.02
"""The network's share of nothing from which a number is left alone, and of a quantity below which that is no
meaning where no rule speaks for it."""
_NEVER = 0.003
FIRST, PER_TEN, BINS = -4.0, 10, 101
"""The table of how usual values are: the power of ten of its first column, columns for each further one."""

_SOURCES = {
    f"unsaid.{name}": name for name in ("utterance", "memory", "usual", "round", "mains", "shortened")
}
_OF_MEANING = (
    "own", "own share", "top", "best cost", "margin", "best", "unspoken", "usual", "usual beside", *past.NAMES
)  # fmt: skip
"""What is looked at of a meaning whatever its quantity."""

Found = dict[str, float]
Usual = Mapping[str, Sequence[float]]


class Meaning(NamedTuple):
    """One meaning of a number: its value, and the cheapest guess of each kind that speaks for it."""

    quantity: str
    unit: str
    scale: float
    value: float
    told: tuple[tuple[str, Guess], ...]

    def said_by(self, guess: Guess | None) -> bool:
        """Whether the rules alone take a number for this."""
        return guess is not None and self[:3] == (guess.quantity, guess.unit, guess.scale)

    @property
    def kind(self) -> str:
        """The quantity; how fast a road was driven is another one than how fast something turns."""
        return _kind(self.quantity, self.unit)


class _Weighed(NamedTuple):
    """A number in its line: what is looked at of it, the network's shares, and how usual values are."""

    guesser: Guesser
    number: Found
    shares: dict[str, float]
    usual: Usual


class Looked(NamedTuple):
    """What the model looks at of one meaning by itself."""

    kind: str
    values: tuple[float, ...]
    """As ``_names`` of its kind."""
    told: list[tuple[str, float]]
    """What speaks for it, and how little that costs."""

    @property
    def found(self) -> Found:
        """The same by name."""
        found = dict(zip(_names(self.kind), self.values, strict=True))
        for source, cost in self.told:
            by, each = _by(source)
            found[by], found[each] = 1.0, cost
        return found


class Choice(NamedTuple):
    """A number with its meanings: what the model looks at of the number itself, and of each meaning."""

    meanings: list[Meaning]
    number: Found
    each: list[Looked]

    @property
    def looked_at(self) -> list[Found]:
        """All that is looked at of each meaning."""
        return [self.number | looked.found for looked in self.each]


class Model:
    """The weights, those of a meaning in the order of what is looked at of it, and how usual values are."""

    def __init__(self, weights: Found, usual: Usual) -> None:
        self.usual = usual
        self._weights = weights
        self._rows: dict[str, list[float]] = {}
        self._sources: dict[str, list[float]] = {}

    def odds(self, choice: Choice) -> list[float]:
        """The log odds of each meaning against none."""
        same = self._weights["bias"] + _sum(self._weights, choice.number)
        return [_bounded(same + self._of_meaning(looked)) for looked in choice.each]

    def _of_meaning(self, looked: Looked) -> float:
        kind, values, told = looked
        row = self._rows.get(kind) or self._rows.setdefault(kind, self._row(_names(kind)))
        odds: float = sum(map(mul, row, values))
        for source, cost in told:
            by, each = self._sources.get(source) or self._sources.setdefault(source, self._row(_by(source)))
            odds += by + each * cost
        return odds

    def _row(self, names: Sequence[str]) -> list[float]:
        return [self._weights.get(name, 0.0) for name in names]


def likeliest(guesser: Guesser, one: Unsaid) -> Guess | None:
    """The likeliest meaning of a number; None where that is nothing."""
    model = _model()
    assert model is not None, "ask only where there is a model"
    choice = choices(guesser, one, model.usual)
    if not choice.meanings:
        return None
    odds = model.odds(choice)
    best = max(range(len(odds)), key=odds.__getitem__)
    share = exp(odds[best]) / (1.0 + sum(exp(x) for x in odds))
    meaning = choice.meanings[best]
    if share < _AGREED or (share < _LEAST and not meaning.said_by(guesser.best(one))):
        return None
    rule = min(meaning.told, key=lambda t: t[1].cost)[1].rule if meaning.told else RULE
    return Guess((1.0 - share) * 5, meaning.quantity, meaning.unit, rule, meaning.scale)


def has_model(guesser: Guesser) -> bool:
    """Whether the model can be asked: it is there, and so is a network's view of the line."""
    return guesser.amounts.known and _model() is not None


def _kind(quantity: str, unit: str) -> str:
    return "road" if unit in ROAD else quantity


def score(weights: Found, found: Found) -> float:
    """The log odds of a meaning against none."""
    return _bounded(weights["bias"] + _sum(weights, found))


def _sum(weights: Found, found: Found) -> float:
    total = 0.0
    for name, x in found.items():
        if name in weights:
            total += weights[name] * x
    return total


def _bounded(odds: float) -> float:
    return max(-30.0, min(30.0, odds))


def choices(guesser: Guesser, one: Unsaid, usual: Usual) -> Choice:
    """The meanings of a number and what the model looks at; ``usual``: how usual values of a unit are."""
    shares = guesser.amounts.shares(one.start, one.end)
    torque = tight(guesser, one, shares)
    pointed = "." in guesser.word(one.start)
    allowed = licensed(guesser, one, shares)
    gate = bool(torque) or (allowed and (pointed or not is_nothing(shares)))
    if not gate and (one.small or shares.get(NOTHING, 0.0) >= _SILENT):
        return Choice([], {}, [])  # "nine point two volts on three": a count, the name of a thing
    told = [("tight", guess) for guess in torque]
    told += [("context", guess) for guess in guesser.contextual(one)]
    told += [("road", guess) for guess in guesser.road(one)]
    told += [(_SOURCES.get(guess.rule, "other"), guess) for guess in guesser.remembered(one)]
    told += [("focus", guess) for guess in guesser.focused(one)]
    told += [("known", guess) for guess in guesser.known(one, shares)]
    meanings = _meanings(guesser, one, told, shares)
    number = _number(guesser, one, shares) | {"licensed": float(allowed), "gate": float(gate)}
    against = 0.0 if pointed or torque else doubt(shares)
    costs = [_cost(meaning, shares) + against for meaning in meanings]
    return Choice(meanings, number, _looked_at(_Weighed(guesser, number, shares, usual), meanings, costs))


_SOURCES = {
    f"unsaid.{name}": name for name in ("utterance", "memory", "usual", "round", "mains", "shortened")
}


def _meanings(
    guesser: Guesser, one: Unsaid, told: Sequence[tuple[str, Guess]], shares: dict[str, float]
) -> list[Meaning]:
    """Every meaning that a rule speaks for, and each usual quantity that the value and the network allow."""
    by: dict[tuple[str, str, float], dict[str, Guess]] = {}
    for source, guess in told:
        some = by.setdefault((guess.quantity, guess.unit, guess.scale), {})
        if source not in some or guess.cost < some[source].cost:
            some[source] = guess
    spoken = {guess.quantity for _, guess in told}
    for quantity in _QUANTITIES:
        if quantity in spoken or share_of(shares, quantity, "") < _HARDLY:
            continue
        value = value_as(one, quantity)
        if value is not None and guesser.fits(one, quantity, value):
            unit = "s" if quantity == "time" else guesser.unit_for(quantity, value)[0]
            if unit:
                by.setdefault((quantity, unit, 1.0), {})
    value = one.value
    whole = value is not None and value == int(value) and not one.fraction
    driven = share_of(shares, "speed", ROAD[0]) >= _HARDLY
    if driven and whole and _ROAD_VALUES[0] <= (value or 0.0) <= _ROAD_VALUES[1]:
        by.setdefault(("speed", guesser.road_unit(), 1.0), {})
    found = []
    for (quantity, unit, scale), some in by.items():
        read = value_as(one, quantity)
        if read is not None:
            found.append(Meaning(quantity, unit, scale, read * scale, tuple(some.items())))
    return found


def _cost(meaning: Meaning, shares: dict[str, float]) -> float:
    """What the rules make of a meaning, the network's share of it taken off."""
    share = share_of(shares, meaning.quantity, meaning.unit)
    return min([g.cost - weight_of(share, s == "context") for s, g in meaning.told], default=_NONE)


def _number(guesser: Guesser, one: Unsaid, shares: dict[str, float]) -> Found:
    """What is looked at of the number itself, whatever it means."""
    before, after = guesser.word(one.start - 1), guesser.word_after(one)
    fasteners = any(isinstance(e, Fastener) for e in guesser.notes.entities)
    sums = any(isinstance(e, (Price, PartNumber)) for e in guesser.notes.entities)
    yes = {
        "small": one.small, "single": one.single, "exact": one.exact, "range": one.range,
        "fraction": one.fraction, "prep": before in _PREP, "is": before in _IS, "reading": before in READING,
        "first": not before, "weak": before in WEAK, "article": before in _ARTICLES, "ends": not after,
        "follow": after in FOLLOW, "fastener": fasteners, "price": sums, "here": bool(guesser.here),
        "round": bool(one.value and one.value % 10 == 0), "counts": one.small and fasteners,
    }  # fmt: skip
    return {"nothing": _odds(shares.get(NOTHING, 0.5))} | {name: 1.0 for name, held in yes.items() if held}


def _looked_at(weighed: _Weighed, meanings: Sequence[Meaning], costs: Sequence[float]) -> list[Looked]:
    """What is looked at of each meaning by itself; ``costs``: what the rules and the network make of it."""
    guesser, number, shares, usual = weighed
    most = max((share for name, share in shares.items() if name != NOTHING), default=0.0)
    common = [_usual(usual, meaning) for meaning in meanings]
    commonest, ordered = max(common, default=0.0), [*sorted(costs)[:2], _NONE]
    exact, fastener = number.get("exact", 0.0), number.get("fastener", 0.0)
    looked = []
    for meaning, least, usually in zip(meanings, costs, common, strict=True):
        quantity, unit, _, value, told = meaning
        own = share_of(shares, quantity, unit)
        other = ordered[1] if least == ordered[0] else ordered[0]
        values = (
            1.0, exact, fastener, _odds(own), own, own >= most > 0,
            _BEST_COST - min(least, _WORST_COST), max(-2.0, min(2.0, other - least)),
            least <= other and least < _NONE, not told, usually, usually - commonest,
            *guesser.past.beside(guesser, quantity, unit, value),
        )  # fmt: skip
        sources = [(source, max(-1.0, _MOST_COST - guess.cost)) for source, guess in told]
        looked.append(Looked(meaning.kind, values, sources))
    return looked


def _names(kind: str) -> tuple[str, ...]:
    """The names of the values that are looked at of a meaning of a kind."""
    held = "torque at fastener" if kind == "torque" else "other at fastener"
    return (f"is {kind}", f"exact {kind}", held, *_OF_MEANING)


def _by(source: str) -> tuple[str, str]:
    """The names of what is looked at of what speaks for a meaning: that it does, and how cheaply."""
    return f"by {source}", f"cost {source}"


def _odds(share: float) -> float:
    inside = max(_NEVER, min(1.0 - _NEVER, share))
    return log(inside / (1.0 - inside))


@lru_cache(maxsize=1024)
def column(value: float) -> int:
    """The column of a value in the table of usual values."""
    return max(0, min(BINS - 1, round((log10(abs(value)) - FIRST) * PER_TEN)))


@lru_cache(maxsize=256)
def row_name(quantity: str, unit: str) -> str:
    """The name of the row of a quantity in a unit in that table."""
    return f"{_kind(quantity, unit)} {SCALED.get(unit, unit)}"


def _usual(usual: Usual, meaning: Meaning) -> float:
    """How much more usual a value of this size is in the unit than among all values, in log odds."""
    row = usual.get(row_name(meaning.quantity, meaning.unit))
    value = meaning.value / 1000 if meaning.unit in SCALED else meaning.value
    return -1.0 if row is None else 0.0 if value == 0 else row[column(value)]


@lru_cache(maxsize=1)
def _model(folder: Path = FOLDER) -> Model | None:
    """The weights and the table of usual values as trained, None where they were not installed."""
    path = folder / "unsaid.json"
    if not path.is_file():
        return None
    table = json.loads(path.read_text(encoding="utf-8"))
    return Model(table["weights"], table["usual"])
