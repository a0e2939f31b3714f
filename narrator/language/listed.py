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
from collections import Counter
from collections.abc import Iterable, Sequence
from functools import lru_cache
from math import exp, log
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
_KIND_NAMES = tuple(kind.type for kind in KINDS)


class Line(NamedTuple):
    """The things that a line names, and what it does."""

    things: list[Thing]
    acts: Sequence[Act]


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


def unlisted(
    notes: Notes, entities: Iterable[Entity], acts: Sequence[Act], named: Counter[str]
) -> frozenset[Span]:
    """The places (token ranges) of those of a line's entities that it names only by the way.

    ``named``: how often the job has named each thing up to this line; the line's own are added.
    """
    things = things_of(entities)
    weights, read = _weights(), read_of(notes)
    found: set[Span] = set()
    line = Line(things, acts)
    if weights and read is not None:
        for entity in things:
            looked_at = features(notes, read, line, entity, named)
            if share(weights, looked_at) < LEAST[entity.type]:
                found.add(entity.at)
    named.update(e.name for e in things)
    return frozenset(found)


def things_of(entities: Iterable[Entity]) -> list[Thing]:
    """What the model is asked of."""
    return [e for e in entities if isinstance(e, KINDS)]


def features(notes: Notes, read: Read, line: Line, entity: Thing, named: Counter[str]) -> dict[str, float]:
    """What the model looks at, of ``NAMES`` those that are not 0, of one of the things that a line names."""
    words, (start, end), kind = notes.words, entity.at, entity.type
    tags = read.tags[start:end] or [_NO_TAGS]
    things = [sum(row[1:7]) for row in tags]
    own = _FIRST[kind]
    owns = [row[own] + row[own + 1] for row in tags]
    best = max(things)
    kept = max(_NEVER, min(_ALWAYS, best))
    before = words[start - 1] if start and start not in notes.marks else ""
    after = words[end] if end < len(words) and end not in notes.marks else ""
    found = {
        kind: 1.0,
        f"{kind}: named": best, f"{kind}: own": sum(owns) / len(owns),
        f"{kind}: odds": log(kept / (1 - kept)),
        f"{kind}: meant": max(read.meant[start:end], default=0.0),
        "head named": things[-1], "head own": owns[-1], "fastener": max(row[7] + row[8] for row in tags),
        "first word": things[0], "words": float(end - start), "plural": float(words[end - 1].endswith("s")),
        "begins": float(not before), "ends": float(not after),
        "listed compound": float("." in entity.rule and end - start > 1),
        "second before: of": float(start > 1 and before != "" and words[start - 2] == "of"),
        "named before": float(named[entity.name] > 0), "named often": float(min(4, named[entity.name])),
        "part of a name before": float(any(entity.name != n and entity.name in n for n in named)),
        "things": float(len(line.things) - 1), "others first": float(line.things[0].at < entity.at),
        "fasteners": float(sum(isinstance(e, Fastener) for e in notes.entities)), "length": float(len(words)),
        "in a name": float(any(entity.name in e.name for e in line.things if e is not entity)),
        "owner": float(isinstance(entity, Component) and entity.owner),
    }  # fmt: skip
    held = (*_rules(entity.rule), *_beside(kind, before, after), *(f"{kind}: {act}" for act in line.acts))
    found.update(dict.fromkeys(held, 1.0))
    return found


@lru_cache(maxsize=1024)
def _rules(rule: str) -> tuple[str, ...]:
    return tuple(f"rule: {group}" for group in _GROUPS if rule.startswith(group))


@lru_cache(maxsize=4096)
def _beside(kind: str, before: str, after: str) -> tuple[str, ...]:
    leads = (f"{kind}: before: {name}" for name, some in _BEFORE.items() if before in some)
    return (*leads, *(f"{kind}: after: {name}" for name, some in _AFTER.items() if after in some))


def share(weights: dict[str, float], found: dict[str, float]) -> float:
    """How likely a thing is to be listed."""
    odds = weights["bias"] + sum(weights[name] * x for name, x in found.items())
    return 1 / (1 + exp(-max(-30.0, min(30.0, odds))))


@lru_cache(maxsize=1)
def _weights(folder: Path = FOLDER) -> dict[str, float]:
    """The weights as trained, or none where they were not installed."""
    path = folder / "listed.json"
    if not path.is_file():
        return {}
    table = json.loads(path.read_text(encoding="utf-8"))
    return {name: float(table[name]) for name in (*NAMES, "bias")}
