"""Plausibility: a value outside a sourced band (``grammars/limits.toml``) is put up for a look only."""

from __future__ import annotations

from typing import NamedTuple

from narrator.language.standards import table, threads_for, torque_band
from narrator.language.tables import Table, load
from narrator.language.tokens import Notes
from narrator.values import Fastener, Look, Measurement, Size

_ROWS: list[Table] = load("limits")["band"]
_TORQUE = next(row for row in _ROWS if row["id"] == "band.torque")


class _Band(NamedTuple):
    """A row of the table and the words that tell whether it is the one for a line."""

    row: Table
    words: frozenset[str]
    also: frozenset[str]
    never: frozenset[str]

    def holds(self, words: list[str], unit: str) -> bool:
        """Whether the band is meant for a value in ``unit`` in a line of these words."""
        said = not self.words or not self.words.isdisjoint(words)
        also = not self.also or not self.also.isdisjoint(words)
        return (
            said
            and also
            and self.never.isdisjoint(words)
            and convert(1.0, unit, self.row["unit"]) is not None
        )


_BANDS: dict[str, list[_Band]] = {}
for _row in sorted(_ROWS, key=lambda row: not row["words"]):  # those for any line come last
    if _row is not _TORQUE:
        _sets = (frozenset(_row.get(name, ())) for name in ("words", "with", "without"))
        _BANDS.setdefault(_row["quantity"], []).append(_Band(_row, *_sets))
_BASE: dict[str, tuple[str, float]] = {
    **{row["unit"]: (row["base"], float(row["factor"])) for row in table("factors")["factor"]},
    **{unit: (base, float(by)) for unit, (base, by) in load("limits")["base"].items()},
}
_NEAR = 4
"""How many tokens may stand between a fastener and its torque."""


def convert(value: float, unit: str, other: str) -> float | None:
    """A value in another unit of the same quantity; None where the tables hold no way."""
    if unit == other:
        return value
    if (unit, other) == ("degF", "Cel"):
        return (value - 32) / 1.8
    if unit not in _BASE or other not in _BASE or _BASE[unit][0] != _BASE[other][0]:
        return None
    return value * _BASE[unit][1] / _BASE[other][1]


def head_band(size: Size, thread: bool = False) -> tuple[float, float] | None:
    """Plausible torque in N.m for a head (or thread) in mm, over all threads it may be; None if unknown."""
    if size.unit != "mm":
        return None
    names = [f"M{size.value:g}"] if thread else threads_for(size.value)
    known = table("bolts")["class"][0]["proof_load"]
    bands = [torque_band(name) for name in names if name in known]
    return (min(b.low for b in bands), max(b.high for b in bands)) if bands else None


def look_at(notes: Notes) -> None:
    """Enter a look for each value outside its band."""
    for entity in notes.entities:
        if not isinstance(entity, Measurement) or entity.unit is None:
            continue
        if entity.quantity == "torque" and _torque(notes, entity):
            continue
        if entity.quantity in _BANDS:
            _band(notes, entity)


def _outside(notes: Notes, entity: Measurement, band: tuple[float, float], unit: str, why: str) -> None:
    low, high = band
    value = convert(entity.value, entity.unit or "", unit)
    if value is not None and not low <= value <= high:
        reason = (
            f"{entity.value:g} {entity.unit} lies outside {low:.3g} to {high:.3g} {unit} ({why}): check it"
        )
        notes.looks.append(Look("band", reason, 0, entity.span))


def _band(notes: Notes, entity: Measurement) -> None:
    for band in _BANDS[entity.quantity]:
        if band.holds(notes.words, entity.unit or ""):
            row = band.row
            _outside(notes, entity, (row["low"], row["high"]), row["unit"], row["source"])
            return


def _torque(notes: Notes, entity: Measurement) -> bool:
    """Hold a torque against the fastener said before it; tells whether that has a band."""
    for fastener in reversed(notes.entities):
        near = isinstance(fastener, Fastener) and 0 <= entity.at[0] - fastener.at[1] <= _NEAR
        if not near or not isinstance(fastener, Fastener) or fastener.size is None:
            continue
        if fastener.kind in ("bolt", "nut"):
            said = notes.words[slice(*fastener.at)]
            thread = any(w == "m" or (w[0] == "m" and w[1:2].isdigit()) for w in said)
            if band := head_band(fastener.size, thread):
                part = "thread" if thread else "head"
                why = f"usual for a {fastener.size.value:g} mm {part}, {_TORQUE['source']}"
                _outside(notes, entity, band, "N.m", why)
                return True
        return False
    return False
