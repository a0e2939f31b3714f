"""Records made of a narration's gold and of what a person read from its lines (tests/training/jobs)."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Any

from narrator.job.record import Record

JOBS = Path(__file__).parent / "jobs"
Row = dict[str, Any]


def notes(name: str) -> Row:
    return tomllib.loads((JOBS / f"{name}.toml").read_text(encoding="utf-8"))


def load(name: str, folder: Path) -> Record:
    """The record of a narration built into ``folder`` (NAME.jsonl and NAME.gold.json)."""
    lines = (folder / f"{name}.jsonl").read_text(encoding="utf-8").splitlines()
    gold = json.loads((folder / f"{name}.gold.json").read_text(encoding="utf-8"))
    return record([json.loads(line) for line in lines], gold, notes(name))


def record(rows: list[Row], gold: Row, given: Row) -> Record:
    text = {row["id"]: row["text"] for row in rows}
    return Record.model_validate({
        "rules": "gold",
        "vehicle": {k: v for k, v in gold["vehicle"].items() if k in {"year", "make", "model", "vin"}},
        "utterances": [
            {**row, "clean": row["text"], "acts": gold["utterances"][str(row["id"])]["acts"], "entities": []}
            for row in rows
        ],
        "hypotheses": [_suspect(n, s) for n, s in enumerate(given["suspects"], start=1)],
        "tests": [
            {
                "id": f"T{n}", "procedure": text[t["utterances"][0]], "component": c, "outcome": t["outcome"],
                "hypotheses": [f"H{h}" for h in bears], "utterances": t["utterances"],
            }
            for n, (t, c, bears) in enumerate(
                zip(gold["tests"], given["components"], given["bears"], strict=True), start=1
            )
        ],
        "corrections": [
            {"action": c["action"], "component": component, "utterances": c["utterances"]}
            for c, component in zip(gold["corrections"], given["corrections"], strict=True)
        ],
        "verifications": [
            {"text": "", "outcome": v["outcome"], "utterances": v["utterances"]}
            for v in gold["verifications"]
        ],
        "fasteners": [
            {"kind": f["kind"], "size": f["size"], "removed": f["removed"], "installed": f["installed"]}
            for f in gold["fasteners"]
        ],
        "parts": [
            {k: p[k] for k in ("name", "number", "price", "state")}
            | {"utterances": [given["fitted"][p["name"]]] if p["name"] in given["fitted"] else []}
            for p in gold["parts"]
        ],
        "measurements": [],
        "open_items": [],
    })  # fmt: skip


def _suspect(number: int, row: Row) -> Row:
    history = [
        {"utterance": int(line), "status": status}
        for line, status in (change.split() for change in row["history"].split(", "))
    ]
    seen = [{"stance": "supports", "utterance": row["supported"]}] if "supported" in row else []
    return {
        "id": f"H{number}",
        "statement": row["component"],
        "component": row["component"],
        "status": history[-1]["status"],
        "history": history,
        "evidence": seen,
        "consequence_of": f"H{row['follows']}" if "follows" in row else None,
    }
