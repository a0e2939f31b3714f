"""What surrounds a number: which quantity it may be, what an ambiguous unit is, what the value is for."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from math import inf
from typing import Literal, NamedTuple

from narrator.language.metered import ELECTRICAL, METERS, meter_at, metered
from narrator.language.numberwords import is_number
from narrator.language.tables import Table, fired, load
from narrator.language.tokens import Notes
from narrator.language.units import UNITS, Unit, UnitHit
from narrator.phrases import Phrases
from narrator.values import Fastener, Measurement

_TABLE = load("quantities")
CONTEXTS = Phrases(
    (word, (row["id"], kind == "weak"))
    for row in _TABLE["context"]
    for kind in ("words", "weak")
    for word in row.get(kind, ())
)
"""Words that tell what is measured: the rule, and whether the word only hints (*plug*, *wire*)."""
CONTEXT: dict[str, Table] = {row["id"]: row for row in _TABLE["context"]}
USUAL: dict[str, Table] = {row["quantity"]: row for row in reversed(_TABLE["context"])}
WORKING = frozenset(_TABLE["working"][0]["words"])
"""Things that run warm: degrees beside them tell their unit by their value."""
ROAD = Phrases((word, True) for word in _TABLE["road"][0]["words"])
"""Words after which a number may be how fast a machine goes."""
READING = frozenset(_TABLE["reading"][0]["words"])
FOLLOW = frozenset(_TABLE["follow"][0]["words"])
SKIP_AFTER = frozenset(next(r for r in _TABLE["skip"] if r["id"] == "skip.counted")["words"])
SKIP_BEFORE = frozenset(next(r for r in _TABLE["skip"] if r["id"] == "skip.before")["words"])
NAMED = frozenset(next(r for r in _TABLE["skip"] if r["id"] == "skip.named")["words"])
_TOOL = load("fasteners")["tool"][0]
TOOLS = frozenset(_TOOL["words"]) - frozenset(_TOOL["except"])
WEAK, ONE = (frozenset(row["words"]) for row in _TABLE["weak"])
LENGTH = frozenset(_TABLE["length"][0]["words"])
APART, STIRS, LIMITS = (frozenset(_TABLE["apart"][0][name]) for name in ("words", "moves", "limits"))
TIGHTENED = frozenset(_TABLE["turns"][0]["before"])
TURNED = Phrases((phrase, True) for phrase in _TABLE["turns"][0]["after"])
LIMITING = frozenset(_TABLE["limiting"][0]["words"])
STUCK = frozenset(_TABLE["stuck"][0]["words"])
SET_UP = frozenset(_TABLE["setup"][0]["words"])
RATING = frozenset(_TABLE["nominal"][0]["words"])
_STUFF, _LINES = (frozenset(_TABLE["nominal"][0][name]) for name in ("stuff", "lines"))
_RATED = frozenset(_TABLE["nominal"][0]["units"])
Role = Literal["reading", "setting", "limit"]


class _Choice(NamedTuple):
    """What an ambiguous unit may be: near which words, beside a fastener or not, within which values."""

    words: Phrases[bool]
    unit: Unit
    fastener: bool
    least: float
    most: float
    against: frozenset[str]

    def may_be(self, words: Sequence[str], value: float | None) -> bool:
        """Whether a value and the words of its line allow it."""
        inside = value is not None and self.least <= value <= self.most
        return self.against.isdisjoint(words) and (inside or self.most == inf)


def _choices() -> dict[str, list[_Choice]]:
    out: dict[str, list[_Choice]] = defaultdict(list)
    for row in _TABLE["choose"]:
        unit = Unit(row["id"], row["symbol"], row["quantity"], row.get("factor", 1.0))
        words = Phrases((w, True) for w in row["words"] if not w.startswith("<"))
        limits = float(row.get("least", 0.0)), float(row.get("most", inf))
        against = frozenset(row.get("against", ()))
        out[row["word"]].append(_Choice(words, unit, "<fastener>" in row["words"], *limits, against))
    return out


CHOICES = _choices()
_ROLES: list[tuple[str, Role, Phrases[bool], Phrases[bool], frozenset[str]]] = [
    (
        row["id"],
        row["role"],
        Phrases((w, True) for w in row["before"]),
        Phrases((w, True) for w in row["after"]),
        frozenset(row.get("close", ())),
    )
    for row in _TABLE["role"]
]
_DRAINED = frozenset(("her", "it", "him", "them", "the", "off", "out", "down", "and", "all"))
_COPULAS = frozenset(("is", "'s", "was"))
_ARTICLES = frozenset(("the", "your", "our", "my", "their"))
_NAMED_BY = frozenset(_TABLE["named_by"][0]["words"])
Context = tuple[int, int, tuple[str, bool]]
"""A telling word: first token, one past the last, the rule, and whether it only hints."""
_CLAUSE = 5
_TEED = frozenset(("teed", "tee", "set", "sets"))
"""What makes a gauge one of pressure, whatever was named before."""
_BARE = frozenset(("gauge", "gauges", "big", "test", "same"))
_GAUGES = frozenset(("dial", "micrometer", "feeler", "feelers", "vernier", "psi", "kpa"))
_GAUGE = _GAUGES | {"gauge", "gauges"}

TELLING = frozenset(CONTEXTS.starts) | METERS | _GAUGE
"""Words of which a line has one that tells what is measured, or names a gauge or a meter."""


def contexts_of(gauge: str, notes: Notes, meter: str | None = None) -> list[Context]:
    """The telling words of an utterance; a gauge or meter without a name is what it was last."""
    found = _hinted(notes.words, CONTEXTS.all(notes.words))
    if (at := meter_at(notes)) is not None:
        told = {str(CONTEXT[ident]["quantity"]) for _, _, (ident, hint) in found if not hint}
        quantity = metered(notes, told, meter)
        if quantity and quantity not in told:
            plain = [c for c in found if not c[2][1] or CONTEXT[c[2][0]]["quantity"] not in ELECTRICAL]
            found = sorted([*plain, (at, at + 1, (f"context.{quantity}", False))])
    if gauge == "pressure" or "gauge" not in notes.words or gauge_named(notes):
        return found
    other = next(ident for ident, row in CONTEXT.items() if row["quantity"] == gauge)
    bare = (
        (start, end, why, "gauge" in (said := notes.words[start:end]) and _TEED.isdisjoint(said))
        for start, end, why in found
    )
    return [(start, end, (other, why[1]) if is_bare else why) for start, end, why, is_bare in bare]


def _hinted(words: Sequence[str], found: list[Context]) -> list[Context]:
    """Of a telling word that names a part (*pressure switch*, *voltage regulator*) only a hint remains."""
    if not found:
        return found
    if "drain" in words:  # "drain her to zero": a deed
        found = [
            told
            for told in found
            if not (words[told[0]] == "drain" and words[told[1] : told[1] + 1] and words[told[1]] in _DRAINED)
        ]
    return [
        (start, end, (ident, True))
        if not hint and ident != "context.torque" and end < len(words) and words[end] in _NAMED_BY
        else (start, end, (ident, hint))
        for start, end, (ident, hint) in found
    ]


def gauge_named(notes: Notes) -> str | None:
    """What a gauge that is named measures: *dial gauge*, *feelers*, *tyre gauge*; None if there is none."""
    if _GAUGE.isdisjoint(notes.words):
        return None
    for start, end, (ident, _) in CONTEXTS.all(notes.words):
        named = {"gauge", "gauges"} & set(notes.words[start:end]) and notes.words[start] not in _BARE
        if named or not _GAUGES.isdisjoint(notes.words[start:end]):
            return str(CONTEXT[ident]["quantity"])
    return None


def choose_unit(notes: Notes, hit: UnitHit, start: int, value: float | None = None) -> Unit:
    """Which unit an ambiguous one (mil, pound, degree, k) is, by the words of the utterance; default its own.

    The nearest telling word decides; *degree* without one stays for the memory (rule ``unit.degree``).
    """
    unit = hit.unit
    if not unit.choose:
        return unit
    best: tuple[int, Unit] | None = None
    for choice in CHOICES[unit.choose]:
        chosen = choice.unit
        for begin, end, _ in choice.words.all(notes.words) if choice.may_be(notes.words, value) else ():
            gap = max(start - end, begin - hit.end, 0)
            if unit.choose == "degree" and (gap > 3 or notes.words[end : end + 1] == ["than"]):
                continue  # "no more than forty degrees"
            if best is None or gap < best[0]:
                best = gap, chosen
        prep = start > 0 and notes.words[start - 1] in ("to", "at")
        if choice.fastener and best is None and prep and any(isinstance(e, Fastener) for e in notes.entities):
            best = 99, chosen
    return best[1] if best else unit


def is_rating(notes: Notes, hit: UnitHit, end: int) -> bool:
    """Whether a unit stands straight before a thing that it describes (*ten amp fuse*, *half inch drive*)."""
    if end >= len(notes.words) or end in notes.marks:
        return False
    tool = end + (notes.words[end] in _TOOL["except"])
    if hit.unit.symbol in ("mm", "in") and tool < len(notes.words) and notes.words[tool] in TOOLS:
        return True
    if hit.words[-1] in _RATED and notes.words[end] in _STUFF and end + 1 not in notes.marks:
        return end + 1 < len(notes.words) and notes.words[end + 1] in _LINES  # "12 mil nylon pipe"
    return hit.words[-1] in _RATED and notes.words[end] in RATING


def role_of(notes: Notes, at: tuple[int, int], quantity: str, ranged: bool = False) -> Role:
    """What a value is for, by the words of its clause; torques and turns are settings unless a limit."""
    low, high = at[0], at[1]
    words = notes.words
    clause = max((m for m in notes.marks if m <= low), default=0)
    earlier_one = max(
        (e for e in notes.entities if isinstance(e, Measurement) and e.at[1] <= low),
        key=lambda e: e.at[1],
        default=None,
    )
    others = earlier_one.at[1] if earlier_one else 0
    others = max([others, *(end for _, end in notes.scratch.get("dropped", ()) if end <= low)])  # type: ignore[attr-defined]
    if earlier_one and ranged and earlier_one.range and low - others <= 2:
        return earlier_one.role
    if earlier_one and earlier_one.role == "limit" and words[others:low] == ["and"] and _ends(notes, high):
        return "limit"  # "should be six and ten"
    before = (max(0, low - _CLAUSE, clause, others), low)
    named = words[high + 1 : high + 2]  # "eight millimetres minimum is six": the next value is the limit
    parted = high in notes.marks and bool(named) and is_number(named[0])  # "eight millimetres, minimum six"
    for ident, role, earlier, later, close in _ROLES:
        ahead = parted or (bool(named) and named[0] in ("is", "'s"))
        after = not ahead and _behind(words, high, later)
        if earlier.first(words, *before) or after or (low and words[low - 1] in close):
            if role == "setting" and quantity not in (
                "torque",
                "angle",
                "time",
                "length",
                "volume",
                "pressure",
                "mass",
            ):
                continue
            fired(notes, ident)
            return role
    return "setting" if quantity in ("torque", "angle") else "reading"


def _ends(notes: Notes, high: int) -> bool:
    """Whether nothing is told of a value behind it: the line or the clause ends there."""
    return high >= len(notes.words) or high in notes.marks


def _behind(words: Sequence[str], at: int, phrases: Phrases[bool]) -> bool:
    """Whether one of the phrases stands right behind a value: *seven maximum*, *four's the max*."""
    if phrases.at(words, at):
        return True
    copula = words[at : at + 1] and words[at] in _COPULAS
    plain = at + 1 + (at + 1 < len(words) and words[at + 1] in _ARTICLES) if copula else at
    return plain > at and phrases.at(words, plain) is not None


def bounded(notes: Notes, at: int) -> bool:
    """Whether what stands behind a number makes it a limit: *seven is the least*, *three's the limit*."""
    limit = next(later for ident, _, _, later, _ in _ROLES if ident == "role.limit")
    return at not in notes.marks and _behind(notes.words, at, limit)


def degree_unit(symbol: str) -> Unit:
    """The temperature unit of a symbol, Cel or degF."""
    return UNITS["unit.celsius" if symbol == "Cel" else "unit.fahrenheit"]
