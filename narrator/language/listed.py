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
_GROUPS: tuple[str, ...] = tuple(_T["groups"].split())
_BEFORE: dict[str, frozenset[str]] = {k: frozenset(v.split()) for k, v in _T["before"].items()}
_AFTER: dict[str, frozenset[str]] = {k: frozenset(v.split()) for k, v in _T["after"].items()}
_FIRST = {kind: TAGS.index(f"first {kind}") for kind in ("component", "tool", "material", "fastener")}
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
    if weights and read is not None:
        for entity in things:
            row = features(notes, read, Line(things, acts), entity, named)
            if share(weights, row) < least(entity.type):
                found.add(entity.at)
    named.update(e.name for e in things)
    return frozenset(found)


def least(kind: str) -> float:
    """How sure the model must be of a thing of this type."""
    return float(_T[f"least_{kind}"])


def things_of(entities: Iterable[Entity]) -> list[Thing]:
    """What the model is asked of."""
    return [e for e in entities if isinstance(e, KINDS)]


def features(notes: Notes, read: Read, line: Line, entity: Thing, named: Counter[str]) -> list[float]:
    """What the model looks at, as ``NAMES``, of one of the things that a line names."""
    words, (start, end) = notes.words, entity.at
    tags = read.tags[start:end] or [[1.0] + [0.0] * (len(TAGS) - 1)]
    kinds = [float(isinstance(entity, kind)) for kind in KINDS]
    things = [sum(row[1:7]) for row in tags]
    own = _FIRST.get(entity.type)
    owns = [row[own] + row[own + 1] for row in tags] if own is not None else things
    best = max(things)
    odds = log(max(_NEVER, min(_ALWAYS, best)) / (1 - max(_NEVER, min(_ALWAYS, best))))
    meant = max(read.meant[start:end], default=0.0)
    before = words[start - 1] if start and start not in notes.marks else ""
    after = words[end] if end < len(words) and end not in notes.marks else ""
    second = words[start - 2] if start > 1 and before else ""
    group = entity.rule
    others = [e for e in line.things if e is not entity]
    each = [best, sum(owns) / len(owns), odds, meant]
    return [
        *kinds,
        *(value * kind for kind in kinds for value in each),
        things[-1], owns[-1], max(row[7] + row[8] for row in tags), things[0],
        *(float(group.startswith(name)) for name in _GROUPS), float("." in group and end - start > 1),
        float(end - start), float(words[end - 1].endswith("s")), float(not before), float(not after),
        *(kind * (before in some) for kind in kinds for some in _BEFORE.values()),
        *(kind * (after in some) for kind in kinds for some in _AFTER.values()),
        float(second in _BEFORE["of"]),
        *(kind * (act in line.acts) for kind in kinds for act in ACTS),
        float(named[entity.name] > 0), float(min(4, named[entity.name])),
        float(any(entity.name != n and entity.name in n for n in named)), float(len(others)),
        float(any(e.at < entity.at for e in others)),
        float(sum(isinstance(e, Fastener) for e in notes.entities)), float(len(words)),
        float(any(entity.name in e.name for e in others)),
        float(isinstance(entity, Component) and entity.owner),
    ]  # fmt: skip


def share(weights: list[float], row: list[float]) -> float:
    """How likely a thing is to be listed; the last of the weights is the bias."""
    odds = weights[-1] + sum(w * x for w, x in zip(weights, row, strict=False))
    return 1 / (1 + exp(-max(-30.0, min(30.0, odds))))


@lru_cache(maxsize=1)
def _weights(folder: Path = FOLDER) -> list[float]:
    """The weights as trained, or none where they were not installed."""
    path = folder / "listed.json"
    if not path.is_file():
        return []
    table = json.loads(path.read_text(encoding="utf-8"))
    return [float(table[name]) for name in (*NAMES, "bias")]
