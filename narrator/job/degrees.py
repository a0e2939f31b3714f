"""Bare degrees said before anything told their unit, settled by what the session's later words tell.

The language room supplies from what was said before: what it could not know yet it marks
(``Measurement.settled``). The record is compiled when all was said, so a first "back left is at eighty six"
becomes Celsius once the money is pounds.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from narrator.values import Entity, Measurement, Understood


def settle_degrees(understood: Iterable[Understood]) -> list[Understood]:
    """The session's lines, with open temperatures in the unit that was told last, if any was."""
    lines = list(understood)
    unit = next((one.degrees for one in reversed(lines) if one.degrees), None)
    return lines if unit is None else [_settled(one, unit) for one in lines]


def _settled(one: Understood, unit: str) -> Understood:
    """One line in that unit; a look at a value that was judged in the other unit falls away."""
    spans = {e.span for e in one.entities if _open(e) and e.unit != unit}  # type: ignore[attr-defined]
    if not any(_open(e) for e in one.entities):
        return one
    entities = tuple(
        replace(e, unit=unit, settled=True) if isinstance(e, Measurement) and _open(e) else e
        for e in one.entities
    )
    looks = tuple(look for look in one.looks if look.kind != "band" or look.span not in spans)
    return replace(one, entities=entities, looks=looks)


def _open(entity: Entity) -> bool:
    return isinstance(entity, Measurement) and not entity.settled and entity.quantity == "temperature"
