"""Readings against each other: of two sides, of several like things, of one thing before and after a wait.

Sides that should be alike and are not tell of something bad (*left fifty eight, right seventy one*), values
all alike of something good, and a pressure that falls while one waits of a leak. The words are data
(``[contrast]`` in ``grammars/outcome.toml``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from narrator.job.bare_numbers import bare_numbers
from narrator.job.line import Line
from narrator.job.outcome_words import outcome_words
from narrator.values import Measurement

_ALIKE, _APART, _FAR = 1.06, 1.2, 1.5
"""Readings alike differ by less than the first share; sides by more than the second, ends by the third."""
_HELD, _LOST = 0.97, 0.93
"""What is left of a pressure that holds, and of one that does not."""
_BESIDE = 5
"""So many words at most lie between a value and the word that says which side it is of."""
_RUN = 2
"""So many words at most lie between values told one after the other."""
_LOST_OF = {"pressure": 0.93, "voltage": 0.95}
"""What is left of it, of which it was lost over a while."""
_NOT = 2
"""So many words at most stand between a *not* and what it denies."""
_NEVER = frozenset(("angle", "torque", "speed", "distance", "mass_flow"))


@lru_cache(maxsize=1)
def _words() -> dict[str, frozenset[str]]:
    table = outcome_words()["contrast"]
    return {name: frozenset(words.split()) for name, words in table.items()}


@dataclass(frozen=True, slots=True)
class _Value:
    """A number told, its quantity (empty where it has no unit), and the tokens that say it."""

    value: float
    quantity: str
    at: tuple[int, int]


def against_each_other(line: Line, earlier: Sequence[Line] = ()) -> float | None:
    """+1 where the readings agree, -1 where they differ and should not, None where nothing tells."""
    if _fell(line):
        return -1.0
    values = _values(line)
    if not values or not any(v.quantity for v in values):
        return None
    held = _kept(line, values)
    held = _holds(line, values, earlier) if held is None else held
    return _sides(line, values) if held is None else held


def _values(line: Line) -> list[_Value]:
    """What was read, in order: measurements, numbers without a unit, and *nothing* right by a side's name."""
    found = [
        _Value(m.value, m.quantity, m.at)
        for m in line.entities(Measurement)
        if m.role == "reading" and not m.range and m.quantity not in _NEVER
    ]
    if not found:
        return []
    found += [_Value(n.value, "", n.at) for n in bare_numbers(line) if n.at[0] >= found[0].at[1]]
    words = _words()
    for n, word in enumerate(line.tokens):
        if word in words["nothing"] and not words["all_sides"].isdisjoint(line.tokens[max(0, n - 3) : n]):
            found.append(_Value(0.0, "", (n, n + 1)))
    return sorted(found, key=lambda v: v.at)


def _fell(line: Line) -> bool:
    """*Drops from fifteen to nine in a minute*: a pressure or a voltage that was lost over a while."""
    if "from" not in line.tokens or _words()["while"].isdisjoint(line.tokens):
        return False
    told = [m for m in line.entities(Measurement) if m.quantity in _LOST_OF and m.role == "reading"]
    ends = [(a, b) for a, b in pairwise(told) if line.tokens[a.at[1] : b.at[0]] == ("to",)]
    return any(a.quantity == b.quantity and 0 <= b.value < _LOST_OF[a.quantity] * a.value for a, b in ends)


def _sides(line: Line, values: Sequence[_Value]) -> float | None:
    """Two sides or ends held against each other, or three values and more told in a row."""
    quantities = [v.quantity for v in values if v.quantity]
    alike = [v for v in values if v.quantity in ("", quantities[0])]
    if len(alike) < 2:
        return None
    gaps = [b.at[0] - a.at[1] for a, b in pairwise(alike)]
    denied = not _words()["denied"].isdisjoint(line.tokens[alike[0].at[1] :])
    if len(alike) > 2 and max(gaps) <= _RUN and _ratio(alike) <= _ALIKE:
        return None if denied else 1.0
    for name, least in (("sides", _APART), ("ends", _FAR)):
        if _told_apart(line.tokens, alike, _words()[name]):
            ratio = _ratio(alike)
            return -1.0 if ratio >= least else 1.0 if ratio <= _ALIKE and not denied else None
    return None


def _ratio(values: Sequence[_Value]) -> float:
    """The largest against the smallest; without end where they have not one sign."""
    sizes = [v.value for v in values]
    if min(sizes) <= 0 < max(sizes):
        return float("inf")
    sizes = sorted(map(abs, sizes))
    return sizes[-1] / sizes[0] if sizes[0] else 1.0


def _told_apart(tokens: Sequence[str], values: Sequence[_Value], sides: frozenset[str]) -> bool:
    """Whether two values are of two sides, named before each or after each.

    One named is enough where words contrast them, where it is *the other* or *the rest*, or reads *nothing*.
    """
    words, ends = _words(), [v.at for v in values]
    before = [tokens[max(end, at[0] - _BESIDE) : at[0]] for (_, end), at in pairwise([(0, 0), *ends])]
    after = [
        tokens[at[1] : min(at[1] + _BESIDE, start)] for at, (start, _) in pairwise([*ends, (len(tokens), 0)])
    ]
    named = [[frozenset(sides.intersection(some)) for some in segments] for segments in (before, after)]
    if any(len({marks for marks in segments if marks}) > 1 for segments in named):
        return True
    if any(marks and not v.value for marks, v in zip(named[0][1:], values[1:], strict=True)):
        return True
    middle = tokens[ends[0][1] : ends[-1][0]]
    if not words["except"].isdisjoint(middle) and not words["all"].isdisjoint(tokens[: ends[0][0]]):
        return True  # "all four point one bar group six, that's at three point two"
    contrasted = not (words["against"] | words["others"]).isdisjoint(middle)
    return contrasted and not sides.isdisjoint(middle)


def _kept(line: Line, values: Sequence[_Value]) -> float | None:
    """*Ten psi and it sat there for fifteen minutes*: one pressure, how long, and that it stayed."""
    words, told = _words(), [v for v in values if v.quantity == "pressure"]
    if len(told) != 1 or words["while"].isdisjoint(line.tokens):
        return None
    rest, found = line.tokens[told[0].at[1] :], []
    for n, word in enumerate(rest):
        if word in words["kept"] or word in words["lost"]:
            no = not words["denied"].isdisjoint(rest[max(0, n - _NOT) : n])
            found.append(1.0 if (word in words["kept"]) != no else -1.0)
    return min(found, default=None)


def _holds(line: Line, values: Sequence[_Value], earlier: Sequence[Line]) -> float | None:
    """A pressure before and after a wait: *one point two bar*, then *back again and it shows point eight*."""
    now = [v for v in values if v.quantity == "pressure"]
    before = [v for one in earlier[-1:] for v in _values(one) if v.quantity == "pressure"]
    words = _words()
    said = [*line.tokens, *(word for one in earlier[-1:] for word in one.tokens)]
    timed = any(m.quantity == "time" for m in line.entities(Measurement))
    if (not timed and words["wait"].isdisjoint(said)) or not words["states"].isdisjoint(line.tokens):
        return None
    bare = [v for v in values if not v.quantity and now and v.at[0] > now[0].at[1]]
    if len(now) + len(bare) > 1:
        first, last = now[0], sorted([*now, *bare], key=lambda v: v.at)[-1]
    elif now and before:
        first, last = before[-1], now[-1]
    else:
        return None
    if first.value <= 0 or last.value < 0:
        return None
    left = last.value / first.value
    holds = not words["still"].isdisjoint(line.tokens) and words["denied"].isdisjoint(line.tokens)
    if left < _LOST:
        return None if holds else -1.0
    return 1.0 if left >= _HELD and holds else None
