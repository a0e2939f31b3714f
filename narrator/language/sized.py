"""Numbers that may be the size of fasteners, and whether a trained model takes them for one.

*A nineteen at one end*, *four seven sixteenths*, *a pair of half inch heads*: no rule can tell these from
counts, readings and times; the words beside them and the network's word on them can. The model is a logistic
regression over ``NAMES`` (models/fasteners/card.md, trained by ``models.understanding.train_sizes``).
"""

from __future__ import annotations

import json
from collections.abc import Container, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from math import exp
from operator import mul
from pathlib import Path

from narrator.language.act_network import AMOUNTS, TAGS, Read, Told
from narrator.language.bare import NEXT
from narrator.language.barefasteners import OWN_HEX, BareSizes
from narrator.language.candidates import candidates
from narrator.language.fastenernames import INCH, MM
from narrator.language.figures import figures_of, is_share
from narrator.language.meaning import meaning_table, read_of, told_of
from narrator.language.sizes import HEADS, INCH_HEADS, PLURALS
from narrator.language.tables import used
from narrator.language.tokens import Notes
from narrator.language.units import unit_at
from narrator.paths import MODELS
from narrator.values import Component, Fastener, Measurement, Size

RULE = "size.network"
FOLDER = MODELS / "fasteners"
_FIRST = TAGS.index("first fastener")
_NOTHING = tuple(AMOUNTS).index("nothing")
_T = meaning_table()["sizes"]
_SURE = float(_T["sure"])
_POINTING = frozenset(("there", "that", "it", "here", "this"))
_NUMBERED = frozenset(("number", "grade", "class"))
_LEAST = 5
"""Smaller ones are counts."""
_NEAR = 10
_TENS = {"twenty": 20.0, "thirty": 30.0}
_TURNS = frozenset(("turn", "turns"))
_COMMON = frozenset((8.0, 10.0, 12.0, 13.0, 14.0, 15.0, 17.0, 19.0, 22.0, 24.0))
_BEFORE: dict[str, frozenset[str]] = {name: frozenset(_T["before"][name].split()) for name in _T["before"]}
_AFTER: dict[str, frozenset[str]] = {name: frozenset(_T["after"][name].split()) for name in _T["after"]}
NAMES = (
    "named", "named all", "off", "on", "moves", "line off", "line on", "no amount", "size", "inches",
    "common", "count", "counted", "known", "possible", "sure", "plural", "unit", "others", "measured",
    "measured in words", "begins", "ends", "next",
    *(f"right before: {name}" for name in _BEFORE), *(f"before: {name}" for name in _BEFORE),
    *(f"after: {name}" for name in _AFTER), "parts", "words",
)  # fmt: skip
"""What the model looks at, in order."""


@dataclass(frozen=True, slots=True)
class Sized:
    """A fastener that a number may stand for; ``start`` to ``end`` are the tokens of the size itself."""

    fastener: Fastener
    start: int
    end: int

    def overlaps(self, at: tuple[int, int]) -> bool:
        """Whether it shares a token with others."""
        return self.fastener.at[0] < at[1] and at[0] < self.fastener.at[1]

    def repeats(self, entered: Fastener) -> bool:
        """Whether it is what those just named were read by already (*undo the bolts, 13*)."""
        counted = self.fastener.count_said and self.fastener.count != 1
        near = 0 <= self.fastener.at[0] - entered.at[1] <= _NEAR
        return near and not counted and entered.size == self.fastener.size

    def tells_of(self, notes: Notes, end: int) -> bool:
        """Whether it says what those are that were named up to token ``end`` (*2 bolts, 14*)."""
        if self.fastener.count_said and self.fastener.count != 1:
            return False
        first = self.fastener.at[0]
        if first == end:
            return end in notes.marks
        words = [w for w in notes.words[end:first] if w not in _BEFORE["article"]]
        if not words:
            return end in notes.marks
        return words[-1] in _T["telling"].split() and (words[-1] != "with" or len(words) == 1)


def judged(notes: Notes, known: Container[Size]) -> list[Sized]:
    """The sizes that no rule entered and the model takes for fasteners, the likeliest first.

    ``known``: the sizes that the session has named. Empty where there is no network.
    """
    read, weights = read_of(notes), _weights()
    found = possible(notes) if weights else []
    if read is None or not found:
        return []
    told = told_of(notes)
    shares = [(_share(weights, features(notes, one, read, told, known)), one) for one in found]
    shares.sort(key=lambda s: -s[0])
    return [_as_ruled(notes, one) for share, one in shares if share >= _SURE]


def possible(notes: Notes) -> list[Sized]:
    """What the model is asked of: numbers of a head's size that are no fastener yet."""
    if "figures" not in notes.scratch and PLURALS.keys().isdisjoint(notes.words):
        return []
    spans = size_spans(notes)
    if not spans:
        return []
    entered, read = [e for e in notes.entities if isinstance(e, Fastener)], used(notes)
    free = [span for span in spans if not any(span[0] < e.at[1] and e.at[0] < span[1] for e in entered)]
    free = [(a, b, size) for a, b, size in free if not read.issuperset(range(a, b))]  # "two 13 mil hub bolts"
    found = _sized(notes, free) if free else ()
    return [one for one in found if not any(one.overlaps(e.at) or one.repeats(e) for e in entered)]


def _as_ruled(notes: Notes, one: Sized) -> Sized:
    """The same as a rule read it, where one did: it may have found more of its count or kind."""
    ruled = _ruled(notes, one)
    return replace(one, fastener=ruled[0][0]) if ruled else one


def _ruled(notes: Notes, one: Sized) -> list[tuple[Fastener, bool]]:
    """What rules hold for possible of the same size there, and whether they are sure."""
    if "candidates" not in notes.scratch:
        return []
    return [
        (c.fastener, c.strong)
        for c in candidates(notes)
        if c.fastener.size == one.fastener.size and one.overlaps(c.fastener.at)
    ]


def _sized(notes: Notes, spans: Sequence[tuple[int, int, Size]]) -> Iterator[Sized]:
    """Those of a line's numbers that may be a head's size, with the count before each."""
    words = notes.words
    bare = BareSizes(notes, figures_of(notes), taken=[False] * len(words))
    for start, end, size in spans:
        after = end
        if after < len(words) and after not in notes.marks:
            after += words[after] in MM | INCH
            unit = after == end and unit_at(words, end, clinging=True, part=False) is not None
            own = words[after : after + 1]  # "a twenty four mil plug"
            if unit or bare.is_tool(after) or (own and own[0] in OWN_HEX and after not in notes.marks):
                continue
        if bare.is_own_hex(start):
            continue
        count, first = bare.count_before(start)
        if count is None and start > 1 and words[start - 2 : start] == ["of", "the"]:
            count, first = bare.count_before(start - 2)
        plural = words[end - 1].endswith("s") or (count or 0) > 1
        made = Fastener(
            span=notes.span(first, after), at=(first, after), rule=RULE, kind="bolt", size=size,
            count=count if count or plural else 1, count_said=count is not None, kind_said=False,
        )  # fmt: skip
        yield Sized(made, start, end)


def size_spans(notes: Notes) -> list[tuple[int, int, Size]]:
    """Numbers of a head's size: first token, one past the last, and the size."""
    spans: list[tuple[int, int, Size]] | None = notes.scratch.get("sizes")  # type: ignore[assignment]
    if spans is None:
        notes.scratch["sizes"] = spans = _size_spans(notes)
    return spans


def _size_spans(notes: Notes) -> list[tuple[int, int, Size]]:
    words = notes.words
    found: dict[tuple[int, int], Size] = {}
    for f in figures_of(notes).all:
        metric = f.whole and f.value in HEADS and f.value >= _LEAST
        if not metric and not (f.form == "fraction" and f.value in INCH_HEADS):
            continue
        if is_share(notes, f) or (f.start and words[f.start - 1] in _NUMBERED):
            continue  # "eleven of the fourteen", "two number ten screws"
        before = words[max(0, f.start - 3) : f.start]
        if before[1:] in (["'s", "another"], ["is", "another"]) and before[0] not in _POINTING:
            continue  # "coolant's another fifteen"
        after = words[f.end] if f.end < len(words) else ""
        if after in _TURNS:
            continue  # "four quarter turn screws"
        end = f.end + (metric and after == "s")  # "three 13s"
        found[f.start, end] = Size(f.value, "mm" if metric else "in")
    dropped: list[tuple[int, int]] = notes.scratch.get("dropped", [])  # type: ignore[assignment]
    for i, word in () if PLURALS.keys().isdisjoint(words) else enumerate(words):
        value = PLURALS.get(word)
        if not value or any(a <= i < b for a, b in dropped):
            continue
        tens = _TENS.get(words[i - 1], 0.0) if i and value < 10 else 0.0
        if tens + value in HEADS and tens + value >= _LEAST:
            found[i - (tens > 0), i + 1] = Size(tens + value, "mm")
    return [(start, end, size) for (start, end), size in sorted(found.items())]


def features(notes: Notes, one: Sized, read: Read, told: Told | None, known: Container[Size]) -> list[float]:
    """What the model looks at, as ``NAMES``."""
    words, made, (first, last) = notes.words, one.fastener, one.fastener.at
    tags = [sum(row) for row in read.tags[first:last, _FIRST : _FIRST + 2].tolist()]
    own = tags[one.start - first : one.end - first]
    moves = told.moves[first:last] if told is not None else [(0.0, 0.0)]
    off, on = (sum(way) / len(way) for way in zip(*moves, strict=True))
    peak = map(max, zip(*told.moves[: len(words)], strict=True)) if told is not None else [0.0, 0.0]
    spent = told.amounts[one.start : one.end, _NOTHING].tolist() if told is not None else [0.0]
    nothing = sum(spent) / len(spent)
    lead = words[one.start - 1] if one.start and one.start not in notes.marks else ""
    before = words[first - 1] if first and first not in notes.marks else ""
    after = words[last] if last < len(words) and last not in notes.marks else ""
    size, ruled = made.size or Size(0.0, "mm"), _ruled(notes, one)
    others = sum(isinstance(e, Fastener) and not one.overlaps(e.at) for e in notes.entities)
    over = [e for e in notes.entities if isinstance(e, Measurement) and one.overlaps(e.at)]
    return [
        sum(own) / len(own), sum(tags) / len(tags), off, on, max(off, on), *peak, nothing,
        size.value if size.unit == "mm" else size.value * 25.4, float(size.unit == "in"),
        float(size.value in _COMMON), float(made.count or 0), float(made.count_said), float(size in known),
        float(bool(ruled)), float(any(strong for _, strong in ruled)),
        float(words[one.end - 1].endswith("s")), float(last - one.end), float(others), float(len(over)),
        float(any(e.unit_said for e in over)), float(not before), float(not after), float(after in NEXT),
        *_stands_before(lead), *_stands_before(before), *_stands_after(after),
        float(sum(isinstance(e, Component) for e in notes.entities)), float(len(words)),
    ]  # fmt: skip


@lru_cache(maxsize=2048)
def _stands_before(word: str) -> tuple[float, ...]:
    return tuple(float(word in some) for some in _BEFORE.values())


@lru_cache(maxsize=2048)
def _stands_after(word: str) -> tuple[float, ...]:
    return tuple(float(word in some) for some in _AFTER.values())


def _share(weights: list[float], row: list[float]) -> float:
    """How likely it is one; the last of the weights is the bias."""
    odds: float = weights[-1] + sum(map(mul, weights, row))
    return 1 / (1 + exp(-max(-30.0, min(30.0, odds))))


@lru_cache(maxsize=1)
def _weights(folder: Path = FOLDER) -> list[float]:
    """The weights as trained, or none where they were not installed."""
    path = folder / "sizes.json"
    if not path.is_file():
        return []
    table = json.loads(path.read_text(encoding="utf-8"))
    return [float(table[name]) for name in (*NAMES, "bias")]
