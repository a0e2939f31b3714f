"""How tight a thing is made, said without a unit: *three bolts twenty five*, *guard on, 12 each*."""

from __future__ import annotations

from itertools import takewhile
from typing import TYPE_CHECKING

from narrator.language.amounts import NOTHING, is_torque
from narrator.language.context import FOLLOW
from narrator.language.guesses import Guess
from narrator.language.leftover import Unsaid
from narrator.language.sizes import HEADS
from narrator.language.tables import load
from narrator.phrases import Phrases
from narrator.values import Measurement, PartNumber, Price

if TYPE_CHECKING:
    from narrator.language.readings import Guesser

_T = load("quantities")["tightening"][0]
_ON, _OFF, _MOVES = (frozenset(_T[name]) for name in ("on", "apart", "moves"))
_EACH = Phrases((phrase, True) for phrase in _T["each"])
_PREP = frozenset(("to", "at", "about", "around", "roughly", "on"))
_SHOWN = frozenset(("show", "shows", "showing", "reads", "read", "reading", "have", "has", "had"))
_MORE = frozenset(("plus", "another", "further", "additional"))
_TURNED = (15, 360)
FURTHER = 3
"""How many utterances ago the torque may have been said to which degrees are added."""
_CHECKED = 2
"""How many utterances ago the torque may have been said at which a fastener gives."""
_UNUSUAL = 1.2
_LEAST, _MOST, _SURE_LEAST = 3, 600, 5
_COUNTED = 0.8
"""The network's share of nothing from which a number right behind a fastener is no torque without a word."""
_LEANS = 0.25
"""The network's share of torque from which the words of fitting tell the rest."""


def tight(guesser: Guesser, one: Unsaid, shares: dict[str, float]) -> list[Guess]:
    """The torque that a number tells, if it does."""
    if one.value is None or one.value <= 0:
        return []
    return (
        _beside_fastener(guesser, one, shares)
        or _by_network(guesser, one, shares)
        or _fitted(guesser, one, shares)
    )


def _torque(guesser: Guesser, one: Unsaid, cost: float, rule: str) -> list[Guess]:
    unit, unlike = guesser.unit_for("torque", one.value or 0.0)
    return [Guess(cost + 0.3 * min(unlike, _UNUSUAL), "torque", unit, rule)] if unit else []


def turned_further(guesser: Guesser, one: Unsaid) -> Guess | None:
    """*Torque is sixty plus ninety*, *then another ninety on the head bolts*: degrees turned further."""
    memory = guesser.memory
    if not _TURNED[0] <= (one.value or 0) <= _TURNED[1]:
        return None
    if guesser.word(one.start - 1) not in _MORE and not _after_degrees(guesser, one):
        return None
    past = (r for r in reversed(memory.readings) if memory.turn - r.turn <= FURTHER)
    told = any(ident == "context.torque" and end <= one.start for _, end, (ident, _) in guesser.contexts)
    tightened = guesser.fasteners or told or any(r.quantity == "torque" for r in (*guesser.here, *past))
    return Guess(0.1, "angle", "deg", "unsaid.further") if tightened else None


def _after_degrees(guesser: Guesser, one: Unsaid) -> bool:
    """*Forty newton metres, then ninety degrees, then ninety*: the line turned further last."""
    read = [e for e in guesser.notes.entities if isinstance(e, Measurement) and e.at[1] <= one.start]
    if not any(e.quantity == "torque" for e in read):
        return False
    return max(read, key=lambda e: e.at).unit == "deg"


def _beside_fastener(guesser: Guesser, one: Unsaid, shares: dict[str, float]) -> list[Guess]:
    """*three bolts twenty five*, *the nut's back on at 65*, *all five, 120 on the torque wrench*."""
    value = one.value or 0.0
    close = [f for f in guesser.fasteners if 0 <= one.start - f.at[1] <= 6]
    listed = one.start in guesser.notes.marks and value >= 15
    prep = guesser.word(one.start - 1) in _PREP or (listed and not guesser.word_after(one))
    direct = any(one.start == f.at[1] for f in close)
    between = range(close[0].at[1], one.start) if close else ()
    told = any(start in between and ident != "context.torque" for start, _, (ident, _) in guesser.contexts)
    counted = one.start not in guesser.notes.marks and shares.get(NOTHING, 0.0) >= _COUNTED
    if not close or not (prep or direct) or told or (counted and not prep):
        return []
    said = any(r.quantity == "torque" and r.said and r.at[0] >= one.end for r in guesser.here)
    if direct and not prep and said and value in HEADS:
        return []  # "five bolts fourteen and one from my tin thirty five newton"
    unit, unlike = guesser.unit_for("torque", value)
    if not unit or (value < 5 and not (prep and unlike < 0.5)):
        return []
    return _torque(guesser, one, 0.3, "unsaid.fastener")


def _by_network(guesser: Guesser, one: Unsaid, shares: dict[str, float]) -> list[Guess]:
    """From the network alone: *new pads in it and a hundred and five on both*."""
    before = guesser.word(one.start - 1)
    counts = one.small and (before == "all" or ((one.value or 0.0) < _SURE_LEAST and before in _PREP))
    if before in _SHOWN or counts:
        return []  # "we're back to four"
    return _torque(guesser, one, 0.4, "unsaid.tightened") if is_torque(shares) else []


def _fitted(guesser: Guesser, one: Unsaid, shares: dict[str, float]) -> list[Guess]:
    """Where something goes on: *guard on, 12 each*; where it was checked: *they give at nine*."""
    memory = guesser.memory
    plain = one.value is not None and _LEAST <= one.value <= _MOST and one.value * 2 % 1 == 0
    told = any(ident != "context.torque" and not hint for _, _, (ident, hint) in guesser.contexts)
    paid = any(isinstance(e, (Price, PartNumber)) for e in guesser.notes.entities)
    if (
        not plain
        or one.fraction
        or one.range
        or told
        or paid
        or any(r.quantity != "torque" for r in guesser.here)
    ):
        return []
    before = guesser.words[: one.start]
    recent = takewhile(lambda r: memory.turn - r.turn <= _CHECKED, reversed(memory.readings))
    if guesser.word(one.start - 2) in _MOVES and any(r.quantity == "torque" for r in recent):
        return _torque(guesser, one, 0.6, "unsaid.tightening") if guesser.word(one.start - 1) == "at" else []
    known = bool(guesser.here) or "torque" in memory.met
    if not known or _ON.isdisjoint(before) or not _OFF.isdisjoint(before):
        return []
    after = guesser.word_after(one)
    ends = not after or after in FOLLOW
    each = _EACH.at(guesser.words, one.end) is not None and one.end not in guesser.notes.marks
    prep = guesser.word(one.start - 1) in ("to", "at") and ends and (one.value or 0.0) >= _SURE_LEAST
    leans = prep and shares.get("torque", 0.0) >= _LEANS
    return _torque(guesser, one, 0.6, "unsaid.tightening") if each or leans else []
