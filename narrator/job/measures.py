"""Readings, settings and limits as said, each with the thing and the state it was taken on; the vehicle."""

from __future__ import annotations

from narrator.job.line import Line
from narrator.job.record import MeasurementRow, OdometerRow, VehicleRow
from narrator.values import Cue, Measurement, Odometer, Vehicle, Vin

_OF_THE_ROAD = frozenset(("mi", "km", "mph", "km/h"))
_OF_VEHICLES = frozenset((Vehicle, Vin, Odometer))


class Measures:
    """Every measurement outside of asides."""

    def __init__(self) -> None:
        self.rows: list[MeasurementRow] = []

    def read(self, line: Line, focus: str | None) -> None:
        """Take in one line; ``focus`` is the component under test, for readings that name none.

        A torque that is set or a distance driven is none of the test's.
        """
        if line.acts == {"aside"}:
            return
        for m in line.entities(Measurement):
            if m.unit is None:
                continue
            near = min(line.components, key=lambda c: abs(c.at[0] - m.at[0]), default=None)
            tested = None if m.role == "setting" or m.unit in _OF_THE_ROAD else focus
            conditions = [_as_said(line, cue) for cue in line.cues("condition") if cue.name == "condition"]
            self.rows.append(
                MeasurementRow(
                    quantity=m.quantity,
                    value=m.value,
                    unit=m.unit,
                    component=near.name if near else tested,
                    condition=", ".join(conditions) or None,
                    utterance=line.id,
                    role=m.role,
                    unit_said=m.unit_said,
                    span=m.span,
                )
            )


def _as_said(line: Line, cue: Cue) -> str:
    """The words of a cue; its own text tells parts by their type alone."""
    return " ".join(line.tokens[slice(*cue.at)]).replace(" '", "'")


def vehicle(lines: list[Line]) -> VehicleRow:
    """What was said of the vehicle; the first of each, a VIN that checks before one that does not."""
    row = VehicleRow()
    for line in lines:
        if _OF_VEHICLES.isdisjoint(map(type, line.understood.entities)):
            continue
        for v in line.entities(Vehicle):
            row.year, row.make, row.model = (
                row.year if row.year is not None else v.year,
                row.make or v.make,
                row.model or v.model,
            )
        for vin in line.entities(Vin):
            if row.vin is None or (vin.check and not row.vin_check):
                row.vin, row.vin_check = vin.vin, vin.check
        for o in line.entities(Odometer):
            row.odometer = row.odometer or OdometerRow(value=o.value, unit=o.unit)
    return row
