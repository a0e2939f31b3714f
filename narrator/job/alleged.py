"""What others hold to be the cause: *boss says cable*, *owner reckons the thermostat's stuck*.

Such a theory is a suspect like the technician's own: it is looked into and cleared or found true. What the
customer only tells of (*customer says the wipers are slow*) is the complaint and no theory.
"""

from __future__ import annotations

from narrator.job.fault import fault_of
from narrator.job.line import Line
from narrator.job.suspect_words import suspect_words
from narrator.values import Component, Material

_W = suspect_words()
_FAR = 6
"""So many words at most stand between the belief and the thing."""
_ITS = frozenset(
    "me him her us them it 's is was be it's just only a an the his her its their bad new".split()
)
_NEED = frozenset("needs wants needed".split())


def alleged(line: Line) -> list[Component | Material]:
    """The things that somebody else is told to hold for the cause, in order."""
    things: list[Component | Material] = [*line.components, *line.materials]
    found = [c for c in things if c.name not in _W["names.wholes"] and _is_held(line, c)]
    return sorted(found, key=lambda c: c.at)


def _is_held(line: Line, thing: Component | Material) -> bool:
    """Whether words right before a thing tell of another's belief about it."""
    low = max([b for b in line.breaks if b < thing.at[0]] + [thing.at[0] - _FAR - 1, 0])
    before = line.tokens[low : thing.at[0]]
    at = next((i for i in reversed(range(len(before))) if before[i] in _BELIEFS), None)
    if not at or not (_W["join.persons"] | _W["join.denials"]).isdisjoint(before[max(0, at - 3) : at]):
        return False
    between = before[at + 1 :]
    if before[at] in _W["alleged.says"]:
        bare = not [w for w in between if w not in _W["names.articles"]]
        ends = thing.at[1] == len(line.tokens) or thing.at[1] in line.breaks
        named = not {"it", "it's", "that", "that's"}.isdisjoint(between[:2])
        told = named and (_ITS.issuperset(between) or not _NEED.isdisjoint(between))
        return told or (bare and ends)
    if _ITS.issuperset(between) and {"it", "it's"}.isdisjoint(between):
        ails = isinstance(thing, Component) and fault_of(line, thing) is not None
        return ails or thing.at[1] == len(line.tokens) or thing.at[1] in line.breaks
    return _ITS.issuperset(between)


_BELIEFS = _W["alleged.says"] | _W["alleged.thinks"]
