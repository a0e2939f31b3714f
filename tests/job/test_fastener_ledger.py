"""The fastener ledger: sessions by many imagined speakers, each with the totals that a reader would write."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from narrator.job.fasteners import FastenerLedger
from narrator.job.line import Line
from narrator.language.reader import Reader
from narrator.values import Understood, Utterance

FOLDER = Path(__file__).parent / "ledger"


def _sessions() -> list[dict[str, Any]]:
    return [
        row
        for path in sorted(FOLDER.glob("*.toml"))
        for row in tomllib.loads(path.read_text(encoding="utf-8"))["session"]
    ]


SESSIONS = _sessions()


def understood(lines: list[str]) -> list[Understood]:
    """Read lines with the acts written before them, so that the act model has no say."""
    acts, texts = zip(*(line.split("| ") if "| " in line else ("step", line) for line in lines), strict=True)
    utterances = [Utterance(n, n * 4.0, n * 4.0 + 3, text) for n, text in enumerate(texts, 1)]
    read = Reader(use_model=False).read(utterances)
    return [replace(one, acts=tuple(act.split())) for one, act in zip(read, acts, strict=True)]


def totals(lines: list[str]) -> dict[str, tuple[int, int]]:
    """Removed and installed by kind and size."""
    ledger = FastenerLedger()
    for one in understood(lines):
        ledger.read(Line(one))
    found: dict[str, tuple[int, int]] = {}
    for row in ledger.rows():
        size = "-" if row.size is None else f"{row.size.value:g}{row.size.unit}"
        size = f"T{row.size.value:g}" if row.size and row.size.unit == "T" else size
        removed, installed = found.get(f"{row.kind} {size}", (0, 0))
        found[f"{row.kind} {size}"] = (removed + row.removed, installed + row.installed)
    return {name: counts for name, counts in found.items() if counts != (0, 0)}


@pytest.mark.parametrize("session", SESSIONS, ids=[s["name"] for s in SESSIONS])
def test_totals(session: dict[str, Any], request: pytest.FixtureRequest) -> None:
    if "missed" in session:
        request.applymarker(pytest.mark.xfail(reason=session["missed"], strict=True))
    assert totals(session["lines"]) == {k: tuple(v) for k, v in session["ledger"].items()}
