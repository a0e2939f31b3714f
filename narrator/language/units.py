"""The closed table of units as they are said (``grammars/units.toml``)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from narrator.language.tables import load
from narrator.phrases import Phrases


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit: contract symbol, quantity, what to multiply a said value by, and the rule for its meaning."""

    id: str
    symbol: str
    quantity: str
    factor: float = 1.0
    choose: str = ""


@dataclass(frozen=True, slots=True)
class UnitHit:
    """A unit found in an utterance, as token offsets; ``words`` is how it was said."""

    start: int
    end: int
    unit: Unit
    words: tuple[str, ...]


def _read() -> tuple[dict[str, Unit], Phrases[Unit], dict[str, Unit]]:
    units: dict[str, Unit] = {}
    spoken: list[tuple[str, Unit]] = []
    short: dict[str, Unit] = {}
    for row in load("units")["unit"]:
        unit = Unit(row["id"], row["symbol"], row["quantity"], row.get("factor", 1.0), row.get("choose", ""))
        units[unit.id] = unit
        spoken += [(form, unit) for form in row["forms"]]
        short |= {form.lower(): unit for form in row["short"]}
    return units, Phrases(spoken), short


UNITS, SPOKEN, SHORT = _read()
BY_SYMBOL = {unit.symbol: unit for unit in reversed(UNITS.values()) if unit.factor == 1.0 and not unit.choose}
STARTS = frozenset(SPOKEN.starts)
ARTICLES = frozenset(("a", "an"))
_PLACES = frozenset(("the", "this", "that", "my", "his", "her", "their", "our", "each", "both", "it", "all"))
CONNECTING = frozenset(("of", "a", "an"))


def _place(words: Sequence[str], i: int) -> bool:
    """Whether what follows an *in* makes it a place or a time (*7 in the morning*, *0.6 in 10 seconds*)."""
    return i < len(words) and (words[i] in _PLACES or words[i] in ARTICLES or words[i][:1].isdigit())


_ALL = frozenset("all every each everything rest both".split())
_EXCEPTED = frozenset(
    "one number group cylinder bank cell first second third fourth last left right front rear back top bottom"
    " inner outer middle end near off nearside offside".split()
)
"""What *bar* leaves out of *all*, which stands so many words before it at most."""
_BEFORE_BAR = 8


def unit_at(words: Sequence[str], i: int, *, clinging: bool, part: bool) -> UnitHit | None:
    """The unit that starts at token ``i``.

    ``clinging``: a written number stands before it, so that short forms (V, s, in) count.
    ``part``: the number is less than one or a fraction, so that *of a* and *an* may stand between.
    """
    if i >= len(words):
        return None
    if words[i] == "bar" and _excepts(words, i):
        return None
    if hit := SPOKEN.at(words, i):
        return UnitHit(i, hit[0], hit[1], tuple(words[i : hit[0]]))
    if clinging and (unit := SHORT.get(words[i])) and not (words[i] == "in" and _place(words, i + 1)):
        return UnitHit(i, i + 1, unit, (words[i],))
    if part and words[i] in CONNECTING:
        after = i + (words[i] == "of")
        after += after < len(words) and words[after] in ARTICLES
        if hit := SPOKEN.at(words, after):
            return UnitHit(i, hit[0], hit[1], tuple(words[after : hit[0]]))
    return None


def _excepts(words: Sequence[str], i: int) -> bool:
    """*They're all four point one bar group six*: bar is but, and no unit."""
    after = words[i + 1] if i + 1 < len(words) else ""
    if after == "the":
        after = words[i + 2] if i + 2 < len(words) else ""
    return after in _EXCEPTED and not _ALL.isdisjoint(words[max(0, i - _BEFORE_BAR) : i])


def is_measure(words: Sequence[str], i: int, written: bool) -> bool:
    """Whether a unit, not of length, stands at token ``i``, behind a number that was ``written`` or said."""
    hit = unit_at(words, i, clinging=written, part=False)
    return hit is not None and hit.unit.quantity != "length"
