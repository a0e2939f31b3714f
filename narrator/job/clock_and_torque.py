"""Distances on the clock, speeds on the road and torques without a unit, in that which the session told.

The language room supplies from what was said before; the machine is named in the first lines, where nothing
may have told yet whether its clock shows miles or kilometres.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from narrator.values import Entity, Measurement, Odometer, Understood

_UNSAID = "odometer.unsaid"
_ROAD = {"km": "km/h", "mi": "mph"}
Told = dict[str, str | None]


def settle_clock_and_torque(understood: Iterable[Understood]) -> list[Understood]:
    """The session's lines, with open distances and torques in the units that were told last."""
    lines = list(understood)
    distance = next((one.distance for one in reversed(lines) if one.distance), None)
    torque = next((one.torque for one in reversed(lines) if one.torque), None)
    told = {"distance": distance, "torque": torque, "speed": _speed(lines) or _ROAD.get(distance or "")}
    return [_settled(one, told) for one in lines]


def _speed(lines: list[Understood]) -> str | None:
    """The unit of the speed on the road that was said with one last."""
    found = (e for one in reversed(lines) for e in one.entities if isinstance(e, Measurement))
    return next((e.unit for e in found if e.unit_said and e.unit in _ROAD.values()), None)


def _settled(one: Understood, told: Told) -> Understood:
    changed = {e: unit for e in one.entities if (unit := _unit(e, told))}
    if not changed:
        return one
    entities = tuple(replace(e, unit=changed[e]) if e in changed else e for e in one.entities)  # type: ignore[call-arg]
    spans = {e.span for e in changed}
    looks = tuple(look for look in one.looks if look.kind != "band" or look.span not in spans)
    return replace(one, entities=entities, looks=looks)


def _unit(entity: Entity, told: Told) -> str | None:
    """The unit that an entity ought to have instead of its own, or None."""
    if isinstance(entity, Odometer):
        unit = told["distance"] if entity.rule == _UNSAID else None
    elif not isinstance(entity, Measurement):
        return None
    elif entity.quantity == "torque" and not entity.settled:
        unit = told["torque"]
    elif entity.unit in _ROAD.values() and not entity.unit_said:
        unit = told["speed"]
    else:
        return None
    return unit if unit != entity.unit else None
