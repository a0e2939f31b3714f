"""What a record says of a job, as short lines that a person can write down before the job is compiled.

A file of ``tests/job/ordinary`` holds jobs: ``said``, and under ``expect`` one list for each section that is
held. A section's list is whole: a line too many in the record is as wrong as one that is missing.

    suspects  "fuel pump: ruled_out"               component: how it stands at the end
    tests     "battery: pass"  ": fail"            what was tested (may be left out): outcome
    fasteners "bolt 10 mm: 4 off, 4 on"            kind, size where one was said
    readings  "12.4 V"  "40 N.m setting"           every value, and what it is where it is no reading
    parts     "coil KJ4412 38.50: needed"          name, number, price (where said): how far it has come
    open      "bracket"                            a word of the open item
    repair    "pass"                               how each check after the repair went
    work      "replace fuel pump"                  what was done for good
    codes     "P0420"                              trouble codes, each once
    vehicle   "2011 halden courier"  "87400 mi"    year, make and model; VIN; odometer
    cautions  "capacitor"                          words of a warning

A name is right where the record's has all its words (``pump`` finds ``fuel pump``), so that what the shop
would call a thing in full does not matter.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from typing import Any

Row = dict[str, Any]
Job = dict[str, Any]


def wrong(record: Row, expect: dict[str, list[str]]) -> list[str]:
    """A sentence for each section of ``expect`` that the record tells otherwise; empty where all is right.

    Raises ``KeyError`` for a section that nothing knows.
    """
    found = []
    for section, wanted in expect.items():
        told = list(_SECTIONS[section](record))
        if not _same(wanted, told):
            found.append(f"{section}: wanted {wanted}, the record has {told}")
    return found


def _same(wanted: list[str], told: list[str]) -> bool:
    """Whether each wanted line has a told one of its own, and none is left over."""
    left = list(told)
    for want in sorted(wanted, key=len, reverse=True):
        one = next((line for line in left if _holds(line, want)), None)
        if one is None:
            return False
        left.remove(one)
    return not left


def _holds(line: str, want: str) -> bool:
    name, _, state = line.rpartition(": ")
    wanted, _, standing = want.rpartition(":")
    if not wanted and not standing.startswith(" "):  # no state: readings, open items, repair, work
        return set(want.split()) <= set(line.split())
    return state == standing.strip() and set(wanted.split()) <= set(name.split())


def _suspects(record: Row) -> Iterable[str]:
    return (f"{row['component']}: {row['status']}" for row in record["hypotheses"])


def _tests(record: Row) -> Iterable[str]:
    return (f"{row['component'] or ''}: {row['outcome']}" for row in record["tests"])


def _fasteners(record: Row) -> Iterable[str]:
    for row in record["fasteners"]:
        size = row["size"]
        called = f"{row['kind']} {_number(size['value'])} {size['unit']}" if size else row["kind"]
        yield f"{called}: {row['removed']} off, {row['installed']} on"


def _readings(record: Row) -> Iterable[str]:
    for row in record["measurements"]:
        role = "" if row["role"] == "reading" else f" {row['role']}"
        yield f"{_number(row['value'])} {row['unit']}{role}"


def _parts(record: Row) -> Iterable[str]:
    for row in record["parts"]:
        words = (row["name"], row["number"], (row["price"] or {}).get("amount"))
        yield f"{' '.join(word for word in words if word)}: {row['state']}"


def _open(record: Row) -> Iterable[str]:
    return (_spoken(row["text"]) for row in record["open_items"])


def _repair(record: Row) -> Iterable[str]:
    return (row["outcome"] for row in record["verifications"])


def _work(record: Row) -> Iterable[str]:
    return (f"{row['action']} {row['component']}" for row in record["corrections"])


def _codes(record: Row) -> Iterable[str]:
    said = (entity for line in record["utterances"] if not line["struck"] for entity in line["entities"])
    return dict.fromkeys(entity["code"] for entity in said if entity["type"] == "dtc")


def _vehicle(record: Row) -> Iterable[str]:
    row = record["vehicle"]
    clock = row["odometer"]
    told = " ".join(str(row[part]).lower() for part in ("year", "make", "model") if row[part])
    yield from (line for line in (told, row["vin"]) if line)
    if clock:
        yield f"{clock['value']} {clock['unit']}"


def _cautions(record: Row) -> Iterable[str]:
    return (_spoken(row["text"]) for row in record["cautions"])


def _spoken(text: str) -> str:
    return " ".join(re.findall(r"[a-z0-9]+", text.lower()))


def _number(value: float) -> str:
    return f"{value:.10g}"


_SECTIONS: dict[str, Callable[[Row], Iterable[str]]] = {
    "suspects": _suspects,
    "tests": _tests,
    "fasteners": _fasteners,
    "readings": _readings,
    "parts": _parts,
    "open": _open,
    "repair": _repair,
    "work": _work,
    "codes": _codes,
    "vehicle": _vehicle,
    "cautions": _cautions,
}
