"""Reads one marked-up line of a narration: its acts, the words, the entities and the ledger events."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

Entity = dict[str, Any]

ACT_LETTERS = {
    "c": "concern", "o": "observation", "h": "hypothesis", "t": "test", "r": "result", "x": "ruled_out",
    "k": "confirmed", "s": "step", "p": "part", "n": "plan",
    "v": "verification", "w": "caution", "a": "aside",
}  # fmt: skip
_UNITS = (
    "V mV A mA Ohm kOhm psi kPa bar Cel degF mm m km mi in N.m ft.lbf in.lbf rpm L mL qt Hz % km/h mph"
    " s min h kg lb W kW A.h MOhm inHg inH2O deg"
)
UNITS = frozenset(_UNITS.split())
_ORDER = list(ACT_LETTERS.values())
_SLIP = re.compile(r"<([^=<>]+)=([^<>]+)>")
_SPAN = re.compile(r"\[([^\]]+)\]\{([^}]+)\}")
_LEFT_OVER = re.compile(r"[\[\]{}<>|]|<|=")


class MarkupError(ValueError):
    """A line that does not follow the mark-up."""


@dataclass(frozen=True, slots=True)
class Event:
    """Fasteners removed or installed, as one line narrates it."""

    kind: str
    size: str
    change: str
    count: int


@dataclass(slots=True)
class Line:
    """One utterance: ``said`` as the recognizer gave it, ``meant`` with slips put right."""

    tag: str | None
    acts: list[list[str]]
    said: str
    meant: str
    slip_words: int
    entities: list[Entity] = field(default_factory=list)
    events: list[Event] = field(default_factory=list)
    spans: list[tuple[int, int, str]] = field(default_factory=list)
    """First character and one past the last in ``said``, and the mark, of every span."""


def number(text: str) -> int | float:
    """``"6"`` as an integer, ``"6.0"`` or ``"7/16"`` as a float."""
    if "/" in text:
        return float(Fraction(text))
    return float(text) if "." in text else int(text)


def size(token: str) -> dict[str, Any] | None:
    """``10mm``, ``7/16in``, ``T25`` or ``-`` as the record writes a size."""
    if token == "-":
        return None
    if torx := re.fullmatch(r"T(\d+)", token):
        return {"value": int(torx[1]), "unit": "T"}
    plain = re.fullmatch(r"([\d./]+)(mm|in)", token)
    if plain is None:
        raise MarkupError(f"not a size: {token}")
    return {"value": number(plain[1]), "unit": plain[2]}


def acts(code: str) -> list[str]:
    """Letters as act names in the order of the contract; ``-`` is none."""
    if code == "-":
        return []
    unknown = set(code) - set(ACT_LETTERS)
    if unknown or len(set(code)) != len(code):
        raise MarkupError(f"not acts: {code}")
    return sorted((ACT_LETTERS[letter] for letter in code), key=_ORDER.index)


def _fastener(fields: list[str], _: str) -> list[Entity]:
    kind, count, width = fields[:3]
    row: Entity = {"type": "fastener", "kind": kind, "count": None, "size": size(width), "drive": None}
    if len(fields) > 3:
        row["drive"] = " ".join(fields[3:]).replace("_", " ")
    if count != "-":
        row["count"] = int(count.rstrip("?"))
    if count.endswith("?"):
        row["count_ok"] = [row["count"], None]
    return [row]


def _measurement(fields: list[str], _: str) -> list[Entity]:
    quantity, values, unit = fields
    units = unit.split(",")
    if set(units) - UNITS:
        raise MarkupError(f"not a unit: {unit}")
    rows = []
    for value in values.split(".."):
        row: Entity = {"type": "measurement", "quantity": quantity, "value": number(value), "unit": units[0]}
        if len(units) > 1:
            row["unit_ok"] = [*units, None]
        if ".." in values:
            row["range"] = True
        rows.append(row)
    return rows


def _named(kind: str) -> Callable[[list[str], str], list[Entity]]:
    return lambda fields, span: [{"type": kind, "name": " ".join(fields).replace("_", " ") or span}]


def _price(fields: list[str], _: str) -> list[Entity]:
    return [{"type": "price", "amount": fields[0], "currency": fields[1] if len(fields) > 1 else None}]


def _vehicle(fields: list[str], _: str) -> list[Entity]:
    year, make, model = [*fields, "-", "-"][:3]
    return [{
        "type": "vehicle",
        "year": None if year == "-" else int(year),
        "make": None if make == "-" else make.replace("_", " "),
        "model": None if model == "-" else model.replace("_", " "),
    }]  # fmt: skip


_ENTITY: dict[str, Callable[[list[str], str], list[Entity]]] = {
    "C": _named("component"),
    "Cs": lambda fields, span: [{"type": "component", "name": span.removesuffix("s")}],
    "P": _named("position"),
    "T": _named("tool"),
    "X": _named("material"),
    "F": _fastener,
    "M": _measurement,
    "S": _measurement,
    "$": _price,
    "V": _vehicle,
    "D": lambda fields, _: [{"type": "dtc", "code": fields[0]}],
    "N": lambda fields, _: [{"type": "part_number", "number": fields[0]}],
    "O": lambda fields, _: [{"type": "odometer", "value": number(fields[0]), "unit": fields[1]}],
    "I": lambda fields, _: [{"type": "vin", "vin": fields[0]}],
}


def entities(mark: str, span: str) -> list[Entity]:
    """What a mark such as ``F bolt 2 10mm`` stands for. A setting (``S``) carries ``"role": "setting"``."""
    fields = mark.split()
    optional = fields[-1] == "?"
    letter, rest = fields[0], fields[1:-1] if optional else fields[1:]
    if letter not in _ENTITY:
        raise MarkupError(f"not an entity: {mark}")
    try:
        rows = _ENTITY[letter](rest, span.lower().replace("’", "'"))
    except (ValueError, IndexError) as error:
        raise MarkupError(f"{mark}: {error}") from error
    for row in rows:
        if letter == "S":
            row["role"] = "setting"
        if optional:
            row["optional"] = True
    return rows


def _third_column(line: Line, column: str) -> None:
    for item in (part.strip() for part in column.split(";")):
        if not item:
            continue
        letter, rest = item.split(None, 1)
        if letter == "E":
            line.entities += entities(rest, "")
        elif letter in ("R", "I"):
            kind, width, count = rest.split()
            size(width)
            line.events.append(Event(kind, width, "removed" if letter == "R" else "installed", int(count)))
        else:
            raise MarkupError(f"not a ledger mark: {item}")


def _spans(text: str) -> list[tuple[int, int, str]]:
    found, marks = [], 0
    for m in _SPAN.finditer(text):
        start = m.start() - marks
        found.append((start, start + len(m[1]), m[2]))
        marks += len(m[0]) - len(m[1])
    return found


def parse(source: str) -> Line:
    """One line of the text; raises ``MarkupError`` naming the line."""
    columns = [column.strip() for column in source.split("|")]
    try:
        if len(columns) not in (2, 3):
            raise MarkupError("a line has two or three columns")
        code, text = columns[:2]
        tag = None
        if code.startswith("#"):
            tag, code = code.removeprefix("#").split()
        meant = _SLIP.sub(lambda m: m[2], text)
        said = _SPAN.sub(lambda m: m[1], _SLIP.sub(lambda m: m[1], text))
        if _LEFT_OVER.search(said):
            raise MarkupError(f"mark-up left in {said!r}")
        slips = sum(len(m[2].split()) for m in _SLIP.finditer(text))
        line = Line(tag, [acts(c) for c in code.split("/")], said, _SPAN.sub(lambda m: m[1], meant), slips)
        line.spans = _spans(_SLIP.sub(lambda m: m[1], text))
        for m in _SPAN.finditer(meant):
            line.entities += entities(m[2], m[1])
        _third_column(line, columns[2] if len(columns) > 2 else "")
    except ValueError as error:
        raise MarkupError(f"{error} in: {source.strip()}") from error
    return line


def parse_text(text: str) -> list[Line]:
    """Every line of a narration that is not blank."""
    return [parse(row) for row in text.splitlines() if row.strip()]
