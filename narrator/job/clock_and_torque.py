"""Distances on the clock and torques said without a unit, in the unit that the session told by its end.

The language room supplies from what was said before; the machine is named in the first lines, where nothing
may have told yet whether its clock shows miles or kilometres.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from narrator.values import Entity, Measurement, Odometer, Understood

_UNSAID = "odometer.unsaid"


def settle_clock_and_torque(understood: Iterable[Understood]) -> list[Understood]:
    """The session's lines, with open distances and torques in the units that were told last."""
    lines = list(understood)
    distance = next((one.distance for one in reversed(lines) if one.distance), None)
    torque = next((one.torque for one in reversed(lines) if one.torque), None)
    return [_settled(one, distance, torque) for one in lines]


def _settled(one: Understood, distance: str | None, torque: str | None) -> Understood:
    changed = {e: unit for e in one.entities if (unit := _unit(e, distance, torque))}
    if not changed:
        return one
    entities = tuple(replace(e, unit=changed[e]) if e in changed else e for e in one.entities)  # type: ignore[call-arg]
    spans = {e.span for e in changed}
    looks = tuple(look for look in one.looks if look.kind != "band" or look.span not in spans)
    return replace(one, entities=entities, looks=looks)


def _unit(entity: Entity, distance: str | None, torque: str | None) -> str | None:
    """The unit that an entity ought to have instead of its own, or None."""
    if isinstance(entity, Odometer):
        told = distance if entity.rule == _UNSAID else None
    elif isinstance(entity, Measurement) and entity.quantity == "torque" and not entity.settled:
        told = torque
    else:
        return None
    return told if told != entity.unit else None
