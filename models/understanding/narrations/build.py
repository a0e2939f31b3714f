"""Builds what the understanding is trained and checked on from the annotated narrations beside this file.

    python -m models.understanding.narrations.build [NAME ...] [--out DIR]
        writes NAME.jsonl and NAME.gold.json into DIR (default: built, beside this file)
    python -m models.understanding.narrations.build --check [NAME ...]
        proofreads; prints what is wrong, exit code 1 when anything is

The format of a source is told in README.md.
"""

from __future__ import annotations

import argparse
import json
import random
import sys
from pathlib import Path
from typing import Any

from models.understanding.narrations.markup import Line, parse_text, size
from models.understanding.narrations.schema import Narration, read

HERE = Path(__file__).resolve().parent
Row = dict[str, Any]


def sources(names: list[str] | None = None, folder: Path = HERE) -> list[Path]:
    """The narrations called ``names``, or all of them, in the order of their names."""
    return (
        [folder / f"{name}.toml" for name in names] if names else sorted(folder.glob("[a-z][0-9][0-9].toml"))
    )


def utterances(name: str, lines: list[Line]) -> list[Row]:
    """Rows of ``id, start, end, text`` at the pace of talk, with pauses where hands are at work (seeded)."""
    rng = random.Random(f"narration {name}")
    clock = rng.uniform(0.4, 3.0)
    rows: list[Row] = []
    for uid, line in enumerate(lines, 1):
        length = max(0.5, len(line.said.split()) / rng.uniform(2.3, 3.4))
        rows.append({"id": uid, "start": round(clock, 2), "end": round(clock + length, 2), "text": line.said})
        working = {"step", "test"} & set(line.acts[0])
        clock += length + rng.uniform(0.5, 3.5) + (rng.uniform(8, 75) if working else 0)
    return rows


def _plain(entity: Row) -> Row:
    return {key: value for key, value in entity.items() if key != "role"}


def _understood(lines: list[Line]) -> dict[str, Row]:
    gold: dict[str, Row] = {}
    for uid, line in enumerate(lines, 1):
        unique: list[Row] = []
        for entity in map(_plain, line.entities):
            if entity not in unique:
                unique.append(entity)
        row: Row = {"acts": line.acts[0], "entities": unique}
        if len(line.acts) > 1:
            row["acts_ok"] = line.acts
        gold[str(uid)] = row
    return gold


def _measurements(lines: list[Line]) -> list[Row]:
    rows: dict[tuple[Any, ...], Row] = {}
    for uid, line in enumerate(lines, 1):
        for entity in line.entities:
            if entity["type"] != "measurement":
                continue
            row: Row = {key: entity[key] for key in ("value", "unit", "quantity", "unit_ok") if key in entity}
            row["utterance"] = uid
            if entity.get("optional") or entity.get("role"):
                row["optional"] = True
            rows.setdefault((row["value"], row["unit"], row["quantity"], uid), row)
    return list(rows.values())


def ledger(lines: list[Line]) -> dict[str, list[int]]:
    """Totals removed and installed by ``"kind size"``, in the order of first mention."""
    totals: dict[str, list[int]] = {}
    for line in lines:
        for event in line.events:
            row = totals.setdefault(f"{event.kind} {event.size}", [0, 0])
            row[event.change == "installed"] += event.count
    return totals


def fasteners(lines: list[Line]) -> dict[str, Row]:
    """Rows of the ledger (kind, size, how many removed and installed) by ``"kind size"``."""
    rows: dict[str, Row] = {}
    for key, (removed, installed) in ledger(lines).items():
        kind, width = key.split()
        rows[key] = {"kind": kind, "size": size(width), "removed": removed, "installed": installed}
    return rows


def _fasteners(narration: Narration, lines: list[Line]) -> list[Row]:
    rows = []
    for key, row in fasteners(lines).items():
        if key in narration.ledger_optional:
            row["optional"] = True
        if key in narration.ledger_ok:
            row["ok"] = [{"removed": r, "installed": i} for r, i in narration.ledger_ok[key]]
        rows.append(row)
    return rows


def _events(lines: list[Line]) -> list[Row]:
    return [
        {"utterance": uid, "kind": e.kind, "size": size(e.size), "change": e.change, "count": e.count}
        for uid, line in enumerate(lines, 1)
        for e in line.events
    ]


def _tables(tables: list[Any], tags: dict[str, int]) -> list[Row]:
    """Tables as plain rows: unset keys left out, tags turned into utterance numbers."""
    rows = []
    for table in tables:
        row = table.model_dump(exclude_unset=True)
        if "tags" in type(table).model_fields:
            row["utterances"] = [tags[tag] for tag in row.pop("tags", [])]
        rows.append(row)
    return rows


def _part(part: Row) -> Row:
    amount, currency = part.pop("amount", None), part.pop("currency", None)
    price = {"amount": amount, "currency": currency} if amount else None
    return {"number": None, **part, "price": price}


def gold(narration: Narration, lines: list[Line]) -> Row:
    """All that a careful reader makes of the narration, in the shape that the scorers read."""
    tags = {line.tag: uid for uid, line in enumerate(lines, 1) if line.tag}
    result: Row = {
        "note": narration.note,
        "utterances": _understood(lines),
        "hypotheses": [{"reopened": False, **row} for row in _tables(narration.hypotheses, tags)],
        "causes": narration.causes,
        "tests": _tables(narration.tests, tags),
        "corrections": _tables(narration.corrections, tags),
        "fasteners": _fasteners(narration, lines),
        "ledger_events": _events(lines),
        "parts": [_part(row) for row in _tables(narration.parts, tags)],
        "measurements": _measurements(lines),
        "open_items": narration.open_items,
        "verification": narration.verification,
        "verifications": _tables(narration.verifications, tags),
        "vehicle": narration.vehicle.model_dump(),
    }
    if narration.causes_ok:
        result["causes_ok"] = narration.causes_ok
    odometer = result["vehicle"]["odometer"]
    if odometer and not odometer["optional"]:
        del odometer["optional"]
    return result


def build(path: Path) -> tuple[list[Row], Row]:
    """The utterances and the gold of one source."""
    narration = read(path)
    lines = parse_text(narration.text)
    return utterances(path.stem, lines), gold(narration, lines)


def write(path: Path, out: Path) -> None:
    """Writes NAME.jsonl and NAME.gold.json into ``out``."""
    rows, answer = build(path)
    out.mkdir(parents=True, exist_ok=True)
    text = "".join(json.dumps(row, ensure_ascii=False) + "\n" for row in rows)
    (out / f"{path.stem}.jsonl").write_text(text, encoding="utf-8")
    body = json.dumps(answer, ensure_ascii=False, indent=1)
    (out / f"{path.stem}.gold.json").write_text(body, encoding="utf-8")


def main(arguments: list[str] | None = None) -> int:
    """Command line; returns the exit code."""
    from models.understanding.narrations.proofread import report  # noqa: PLC0415 (proofread builds on this module)

    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("names", nargs="*", metavar="NAME")
    parser.add_argument("--folder", type=Path, default=HERE, help="where the narrations are")
    parser.add_argument("--out", type=Path, default=HERE / "built")
    parser.add_argument("--check", action="store_true", help="proofread instead of building")
    options = parser.parse_args(arguments)
    paths = sources(options.names, options.folder)
    if options.check:
        return report(paths)
    for path in paths:
        write(path, options.out)
    print(f"{len(paths)} narrations built into {options.out}", file=sys.stderr)
    return 0


if __name__ == "__main__":
    sys.exit(main())
