"""Things that the network doubts are taken where the job has named them before.

What the work is about is spoken of more than once, a likeness or a bystander (*smooth as a signal arm*)
hardly ever. The stage ``named`` leaves in ``notes.scratch["doubted"]`` what it neither takes nor rules out.
"""

from __future__ import annotations

from narrator.language.tokens import Notes
from narrator.values import Component, Entity, Material, Tool

_NAMED = (Component, Tool, Material)


def doubt(notes: Notes, things: list[Entity]) -> None:
    """Leave things for ``recall`` to settle."""
    if things:
        notes.scratch["doubted"] = [*_doubted(notes), *things]


def recall(notes: Notes, names: set[str]) -> None:
    """Take the doubted things whose names were named before, and add the names of this line to ``names``."""
    doubted = _doubted(notes)
    if doubted and (known := [e for e in doubted if isinstance(e, _NAMED) and e.name in names]):
        taken = notes.taken()
        notes.entities += [e for e in known if not any(taken[slice(*e.at)])]
    names.update([e.name for e in notes.entities if isinstance(e, _NAMED)])


def _doubted(notes: Notes) -> list[Entity]:
    found: list[Entity] = notes.scratch.get("doubted", [])  # type: ignore[assignment]
    return found
