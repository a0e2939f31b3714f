"""Pipeline stage: things by what the network makes of their words, beside those that rules and lists found.

A thing of which the network holds that the work is not about it is left out (*like a horse that has seen
the gate*); one that no list holds is taken where it is sure that it is one (*so the exchanger is let off*).
Where it is less sure either way, it counts whether the job has named the thing before (``doubted``).
Words that a shop added, and words that the network does not know, are left to the rules.
"""

from __future__ import annotations

from collections.abc import Iterator

from narrator.language.act_network import TAGS, Network, Read, act_network
from narrator.language.doubted import doubt
from narrator.language.inflection import singular
from narrator.language.meaning import meaning_table, read_of
from narrator.language.stage import stage
from narrator.language.tokens import Notes
from narrator.values import Component, Entity, Material, Tool

RULE = "network.name"
_SORTS: dict[str, type[Component] | type[Tool] | type[Material]] = {
    "component": Component,
    "tool": Tool,
    "material": Material,
}
_KINDS = frozenset(_SORTS.values())
_FIRST = {kind: TAGS.index(f"first {kind}") for kind in _SORTS}
_LAST = max(_FIRST.values()) + 1
_T = meaning_table()["names"]
_ARTICLES, _ROW = (["a"], ["an"], ["the"]), 3
"""What may stand between the things of a row, and how many words with *or*."""
_PLACES = (["at"], ["on"], ["in"], ["from"], ["around"], ["round"], ["past"], ["through"], ["by"])
_SURE = frozenset(_T["sure"])
_EDGES = frozenset(_T["edges"].split())
_DROP, _IDLE, _AGAIN = (float(_T[name]) for name in ("drop", "idle", "again"))
_ADD = {kind: float(_T[f"add_{kind}"]) for kind in _SORTS}


@stage("named")
def named(notes: Notes) -> None:
    """Leave out and add Component, Tool and Material entities."""
    read = read_of(notes)
    if read is not None and notes.words:
        network, found, doubted = act_network(), notes.entities, []
        kept: list[Entity] = []
        notes.entities = kept
        for entity in found:
            share = _share(notes, entity, read, network) if type(entity) in _KINDS else 1.0
            if share >= _DROP or _joined(notes, entity, kept):
                kept.append(entity)
            elif share >= _IDLE:
                doubted.append(entity)
        kept[:] = [e for e in kept if not (e.rule in _SURE and _placed(notes, e, kept))]
        doubt(notes, doubted)
        if any(read.kinds):
            for entity, share in _named(notes, read):
                if share >= _ADD[entity.type]:
                    kept.append(entity)
                elif share >= _AGAIN:
                    doubt(notes, [entity])


def _placed(notes: Notes, entity: Entity, kept: list[Entity]) -> bool:
    """*An air leak at the intake gasket*: the gasket is suspected, and the leak is how it fails."""
    end = entity.at[1]
    if notes.words[end : end + 1] not in _PLACES:
        return False
    start = end + 1 + (notes.words[end + 1 : end + 2] in _ARTICLES)
    return any(type(e) is Component and e.at[0] == start for e in kept)


def _joined(notes: Notes, entity: Entity, kept: list[Entity]) -> bool:
    """Whether a thing ends a row of others: *thermostat, water pump or rad*, *the sensor or an open wire*."""
    if not kept or not isinstance(entity, Component) or type(kept[-1]) is not Component:
        return False
    between = notes.words[kept[-1].at[1] : entity.at[0]]
    return between == ["or"] or (between[:1] == ["or"] and between[1:2] in _ARTICLES and len(between) <= _ROW)


def _share(notes: Notes, entity: Entity, read: Read, network: Network | None) -> float:
    """How sure the network is that the work is about a thing; 1 for what is not known to it."""
    start, end = entity.at
    if network is None or entity.rule in _SURE or not network.knows(notes.words[end - 1]):
        return 1.0
    return max([sum(tags) for tags in read.tags[start:end, 1:].tolist()], default=1.0)


def _named(notes: Notes, read: Read) -> Iterator[tuple[Entity, float]]:
    """Things by the network alone, and how sure it is of each."""
    if not (runs := [*_runs(read, len(notes.words))]):
        return
    taken = notes.taken()
    begun = {e.at[0] for e in notes.entities if isinstance(e, Component)} - notes.marks.keys()
    for kind, *run in runs:
        start, end = _without_edges(notes, *run)
        if end in begun or any(taken[start:end]):
            continue  # what stands right before a part is said of it: "a plugged main jet"
        first = _FIRST[kind]
        shares = [begins + goes_on for begins, goes_on in read.tags[start:end, first : first + 2].tolist()]
        if start < end and not any(w.isdigit() for w in notes.words[start:end]):
            yield _thing(notes, kind, start, end), sum(shares) / len(shares)


def _without_edges(notes: Notes, start: int, end: int) -> tuple[int, int]:
    if notes.words[start] not in _EDGES and notes.words[end - 1] not in _EDGES:
        return start, end
    inside = [i for i in range(start, end) if notes.words[i] not in _EDGES]
    return (inside[0], inside[-1] + 1) if inside else (start, start)


def _runs(read: Read, words: int) -> Iterator[tuple[str, int, int]]:
    """Runs of words that the network takes for one thing's name: kind, first word, and one past the last."""
    likeliest, start = read.kinds[:words], 0
    while start < len(likeliest):
        first = likeliest[start]
        end = start + 1
        if first:
            further = (first + 1) // 2 * 2  # a further word of the same name
            while end < len(likeliest) and likeliest[end] == further:
                end += 1
            if first <= _LAST:
                yield TAGS[first].split()[1], start, end
        start = end


def _thing(notes: Notes, kind: str, start: int, end: int) -> Entity:
    span, at = notes.span(start, end), (start, end)
    head = singular(notes.words[end - 1])
    name = " ".join([*notes.words[start : end - 1], head])
    if kind == "component":
        return Component(span=span, at=at, rule=RULE, name=name, head=head)
    return _SORTS[kind](span=span, at=at, rule=RULE, name=name)
