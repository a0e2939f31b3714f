"""Whether a thing that a line names belongs on the record's list, or is named only by the way.

Rules and the network find what may be a thing; of these the talk names many only as a place or beside the
work (*the nut behind the bracket*, *rattles like a bag of spanners*). A small logistic model weighs how the
network reads the name's words, what stands around it, what the line does, and whether the job has named it
before.
Only the list of the record asks it: what the job's ledgers make of the name stays. Trained by
``models.understanding.train_listed``; without its weights every thing is listed. Positions always are.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from itertools import chain
from math import exp, log
from operator import mul
from pathlib import Path
from typing import NamedTuple

from narrator.language.act_network import TAGS, Read
from narrator.language.meaning import meaning_table, read_of
from narrator.language.tokens import Notes
from narrator.paths import MODELS
from narrator.values import ACTS, Act, Component, Entity, Fastener, Material, Span, Tool

FOLDER = MODELS / "names"
Thing = Component | Tool | Material
KINDS = (Component, Tool, Material)
_T = meaning_table()["listed"]
LEAST = {kind.type: float(_T[f"least_{kind.type}"]) for kind in KINDS}
"""How sure the model must be of a thing of each type."""
_GROUPS: tuple[str, ...] = tuple(_T["groups"].split())
_BEFORE: dict[str, frozenset[str]] = {k: frozenset(v.split()) for k, v in _T["before"].items()}
_AFTER: dict[str, frozenset[str]] = {k: frozenset(v.split()) for k, v in _T["after"].items()}
_FIRST = {kind: TAGS.index(f"first {kind}") for kind in ("component", "tool", "material", "fastener")}
_NO_TAGS = [1.0] + [0.0] * (len(TAGS) - 1)
_NEVER, _ALWAYS = 0.01, 0.99
_Names = tuple[str, ...]
_KIND_NAMES = tuple(kind.type for kind in KINDS)


class Line(NamedTuple):
    """The things that a line names, and what it does."""

    things: list[Thing]
    acts: tuple[Act, ...]
    fasteners: int

    @classmethod
    def of(cls, notes: Notes, things: list[Thing], acts: Iterable[Act]) -> Line:
        """What is looked at of a line for all its things."""
        return cls(things, tuple(acts), [*map(type, notes.entities)].count(Fastener))


class Named:
    """The names of the things that a job has named up to a line."""

    def __init__(self) -> None:
        self._times: dict[str, int] = {}
        self._all = "\n"
        """The same names in one text, which is looked through faster than one after the other."""
        self._within: dict[str, bool] = {}
        """What was looked for in it since it grew."""

    def add(self, things: Iterable[Thing]) -> None:
        """Take in what a line names."""
        times = self._times
        for thing in things:
            if (name := thing.name) not in times:
                self._all += f"{name}\n"
                self._within.clear()
            times[name] = times.get(name, 0) + 1

    def often(self, name: str) -> int:
        """How often a thing was named."""
        return self._times.get(name, 0)

    def within(self, name: str) -> bool:
        """Whether it stands in the name of another thing."""
        found = self._within.get(name)
        if found is None:
            found = self._within[name] = self._all.count(name) > (name in self._times)
        return found


_OF_KIND = {
    kind: (kind, *(f"{kind}: {what}" for what in ("named", "own", "odds", "meant"))) for kind in _KIND_NAMES
}
_OF_ALL = (
    "head named", "head own", "fastener", "first word", "words", "plural", "begins", "ends",
    "listed compound", "second before: of", "named before", "named often", "part of a name before",
    "things", "others first", "fasteners", "length", "in a name", "owner",
)  # fmt: skip
NAMES = (
    *_KIND_NAMES,
    *(f"{kind}: {what}" for kind in _KIND_NAMES for what in ("named", "own", "odds", "meant")),
    "head named", "head own", "fastener", "first word",
    *(f"rule: {group}" for group in _GROUPS), "listed compound", "words", "plural", "begins", "ends",
    *(f"{kind}: before: {name}" for kind in _KIND_NAMES for name in _BEFORE),
    *(f"{kind}: after: {name}" for kind in _KIND_NAMES for name in _AFTER), "second before: of",
    *(f"{kind}: {act}" for kind in _KIND_NAMES for act in ACTS),
    "named before", "named often", "part of a name before", "things", "others first", "fasteners", "length",
    "in a name", "owner",
)  # fmt: skip
"""What the model looks at, in order."""


def unlisted(notes: Notes, entities: Iterable[Entity], acts: Sequence[Act], named: Named) -> frozenset[Span]:
    """The places (token ranges) of those of a line's entities that it names only by the way.

    ``named``: what the job has named up to this line; the line's own are added.
    """
    things = things_of(entities)
    if not things:
        return frozenset()
    weights, read = _weights(), read_of(notes)
    found: set[Span] = set()
    line = Line.of(notes, things, acts)
    if weights is not None and read is not None:
        for entity in things:
            if weights.share(entity, *_looked_at(notes, read, line, entity, named)) < LEAST[entity.type]:
                found.add(entity.at)
    named.add(things)
    return frozenset(found)


def things_of(entities: Iterable[Entity]) -> list[Thing]:
    """What the model is asked of."""
    return [e for e in entities if isinstance(e, KINDS)]


def features(notes: Notes, read: Read, line: Line, entity: Thing, named: Named) -> dict[str, float]:
    """What the model looks at, of ``NAMES`` those that are not 0, of one of the things that a line names."""
    values, held = _looked_at(notes, read, line, entity, named)
    found = dict(zip((*_OF_KIND[entity.type], *_OF_ALL), values, strict=True))
    return found | dict.fromkeys(chain(*held), 1.0)


def _looked_at(
    notes: Notes, read: Read, line: Line, entity: Thing, named: Named
) -> tuple[tuple[float, ...], tuple[_Names, ...]]:
    """Values in the order of ``_OF_KIND`` and ``_OF_ALL``, and the names of what holds besides."""
    words, (start, end), kind, name = notes.words, entity.at, entity.type, entity.name
    own = _FIRST[kind]
    tags = read.tags[start:end].tolist() or [_NO_TAGS]
    told = [(sum(row[1:7]), row[own] + row[own + 1], row[7] + row[8]) for row in tags]
    shares, owns, fastened = zip(*told, strict=True)
    best, meant = max(shares), read.meant[start:end]
    kept = _NEVER if best < _NEVER else min(_ALWAYS, best)
    before = words[start - 1] if start and start not in notes.marks else ""
    after = words[end] if end < len(words) and end not in notes.marks else ""
    times, others = named.often(name), len(line.things) - 1
    values = (
        1.0, best, sum(owns) / len(owns), log(kept / (1 - kept)), max(meant) if meant else 0.0,
        shares[-1], owns[-1], max(fastened), shares[0],
        end - start, words[end - 1].endswith("s"), not before, not after,
        end - start > 1 and "." in entity.rule, before != "" and start > 1 and words[start - 2] == "of",
        times > 0, min(4, times), named.within(name), others, line.things[0].at < entity.at,
        line.fasteners, len(words),
        others > 0 and any(name in e.name for e in line.things if e is not entity),
        isinstance(entity, Component) and entity.owner,
    )  # fmt: skip
    return values, (_rules(entity.rule), _beside(kind, before, after), _does(kind, line.acts))


@lru_cache(maxsize=1024)
def _does(kind: str, acts: tuple[Act, ...]) -> _Names:
    return tuple(f"{kind}: {act}" for act in acts)


@lru_cache(maxsize=1024)
def _rules(rule: str) -> _Names:
    return tuple(f"rule: {group}" for group in _GROUPS if rule.startswith(group))


@lru_cache(maxsize=4096)
def _beside(kind: str, before: str, after: str) -> _Names:
    leads = (f"{kind}: before: {name}" for name, some in _BEFORE.items() if before in some)
    return (*leads, *(f"{kind}: after: {name}" for name, some in _AFTER.items() if after in some))


class Weights:
    """What each feature counts."""

    def __init__(self, table: Mapping[str, float]) -> None:
        self._by_name = table
        self._sums: dict[_Names, float] = {}
        self._rows = {k: [table[n] for n in (*names, *_OF_ALL)] for k, names in _OF_KIND.items()}

    def share(self, entity: Thing, values: Sequence[float], held: Iterable[_Names]) -> float:
        """How likely a thing is to be listed."""
        odds = self._by_name["bias"] + sum(map(mul, self._rows[entity.type], values))
        for names in held:
            if (some := self._sums.get(names)) is None:
                some = self._sums[names] = sum([self._by_name[name] for name in names])
            odds += some
        return 1 / (1 + exp(-max(-30.0, min(30.0, odds))))


@lru_cache(maxsize=1)
def _weights(folder: Path = FOLDER) -> Weights | None:
    """The weights as trained, or None where they were not installed."""
    path = folder / "listed.json"
    if not path.is_file():
        return None
    table = json.loads(path.read_text(encoding="utf-8"))
    return Weights({name: float(table[name]) for name in (*NAMES, "bias")})
