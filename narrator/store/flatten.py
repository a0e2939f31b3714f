"""A record's JSON as rows of flat tables that are easy to ask: one list of the record, one table.

The store knows the contract's field names and nothing of the classes behind them. A field that is missing
or of another type becomes NULL, so that a record of other rules never stops a session from being kept.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Sequence
from typing import Any

Row = dict[str, Any]

DERIVED: dict[str, dict[str, type]] = {
    "vehicles": {"year": int, "make": str, "model": str, "vin": str, "odometer": float, "odometer_unit": str,
                 "said": str},
    "hypotheses": {"id": str, "statement": str, "component": str, "fault": str, "status": str,
                   "first_utterance": int, "last_utterance": int},
    "tests": {"id": str, "procedure": str, "component": str, "result": str, "outcome": str,
              "hypotheses": str, "first_utterance": int},
    "repairs": {"action": str, "component": str, "first_utterance": int},
    "verifications": {"text": str, "outcome": str, "first_utterance": int},
    "fasteners": {"kind": str, "size": float, "unit": str, "drive": str, "location": str, "removed": int,
                  "installed": int},
    "parts": {"name": str, "number": str, "amount": str, "currency": str, "state": str},
    "measurements": {"quantity": str, "value": float, "unit": str, "component": str, "condition": str,
                     "role": str, "utterance": int},
    "open_items": {"text": str, "utterance": int},
    "acts": {"utterance": int, "act": str},
    "components": {"utterance": int, "name": str},
    "codes": {"utterance": int, "code": str},
    "looks": {"look": str, "kind": str, "reason": str, "utterance": int, "at": float, "span_start": int,
              "span_end": int},
}  # fmt: skip
"""Derived tables and their own columns; each also has session, rules and position (its place in the list)."""


def flatten(record: Row, looks: Sequence[Row] = ()) -> dict[str, list[Row]]:
    """Rows of every derived table, columns as in ``DERIVED``, in the record's order.

    ``looks`` is what a person should look at: it is derived beside the record, not kept in it.
    """
    spoken = list(_rows(record.get("utterances")))
    found: dict[str, list[Row]] = {
        "vehicles": list(_vehicle(record.get("vehicle"))),
        "hypotheses": [_hypothesis(row) for row in _rows(record.get("hypotheses"))],
        "tests": [row | {"first_utterance": _first(row)} for row in _rows(record.get("tests"))],
        "repairs": [row | {"first_utterance": _first(row)} for row in _rows(record.get("corrections"))],
        "verifications": [
            row | {"first_utterance": _first(row)} for row in _rows(record.get("verifications"))
        ],
        "fasteners": [row | _pair(row, "size", "value", "size") for row in _rows(record.get("fasteners"))],
        "parts": [row | _pair(row, "price", "amount", "amount") for row in _rows(record.get("parts"))],
        "measurements": list(_rows(record.get("measurements"))),
        "open_items": list(_rows(record.get("open_items"))),
        "acts": [{"utterance": u.get("id"), "act": act} for u in spoken for act in u.get("acts") or ()],
        "components": list(_named(spoken, "component", "name")),
        "codes": list(_named(spoken, "dtc", "code")),
        "looks": list(looks),
    }
    return {
        name: [{c: _plain(row.get(c), kind) for c, kind in columns.items()} for row in found[name]]
        for name, columns in DERIVED.items()
    }


def clean_lines(record: Row) -> Iterator[tuple[int, str]]:
    """Utterance id and readable text of every line of the record."""
    for row in _rows(record.get("utterances")):
        if isinstance(row.get("id"), int) and isinstance(row.get("clean"), str):
            yield row["id"], row["clean"]


def _rows(value: object) -> Iterator[Row]:
    if isinstance(value, list):
        yield from (row for row in value if isinstance(row, dict))


def _vehicle(row: object) -> Iterator[Row]:
    if not isinstance(row, dict):
        return
    said = " ".join(str(row[key]) for key in ("year", "make", "model") if row.get(key))
    known = row | _pair(row, "odometer", "value", "odometer", "odometer_unit") | {"said": said or None}
    if any(known.get(column) is not None for column in DERIVED["vehicles"]):
        yield known


def _hypothesis(row: Row) -> Row:
    said = [h.get("utterance") for h in _rows(row.get("history"))]
    return row | {"first_utterance": said[0] if said else None, "last_utterance": said[-1] if said else None}


def _first(row: Row) -> object:
    said = row.get("utterances")
    return said[0] if isinstance(said, list) and said else None


def _pair(row: Row, key: str, inner: str, column: str, unit: str = "unit") -> Row:
    """Columns of a nested amount: its number, and its unit or currency."""
    value = row.get(key)
    if not isinstance(value, dict):
        return {column: None}
    return {column: value.get(inner), unit: value.get("unit"), "currency": value.get("currency")}


def _named(spoken: list[Row], kind: str, key: str) -> Iterator[Row]:
    for row in spoken:
        for entity in _rows(row.get("entities")):
            if entity.get("type") == kind:
                yield {"utterance": row.get("id"), key: entity.get(key)}


def _plain(value: object, kind: type) -> object:
    """The value as its column's type, or None where it cannot be."""
    if value is None:
        return None
    if kind is str:
        return value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return None
    if kind is int:
        return value if isinstance(value, int) and abs(value) < 2**63 else None
    return float(value) if math.isfinite(value) else None
