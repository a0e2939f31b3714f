"""The worked example of docs/training.md as a record."""

from __future__ import annotations

from typing import Any

from narrator.job.record import Record

LINES: tuple[tuple[int, str, str], ...] = (
    (0, "concern", "left front brake drags after ten minutes"),
    (20, "hypothesis", "could be the caliper or the hose"),
    (30, "test result", "pads slide freely on the caliper pins"),
    (40, "ruled_out", "so not the caliper"),
    (50, "test result", "pads slide freely on the caliper pins still"),
    (60, "hypothesis confirmed", "must be the master cylinder"),
    (100, "step part", "new master cylinder on eighty euros"),
    (200, "verification", "still drags"),
    (210, "ruled_out", "not the master cylinder then"),
    (220, "confirmed", "the pads are glazed that's your drag"),
    (240, "hypothesis", "or the caliper after all"),
    (250, "test result", "crack the bleeder and the wheel comes free"),
    (270, "confirmed", "the hose is swollen shut"),
    (280, "ruled_out", "the pads only cooked because the hose held"),
    (285, "ruled_out", "caliper's fine"),
    (320, "step part", "new hose on twenty five euros"),
    (400, "verification", "spins free hot and cold"),
)


def suspect(
    ident: str, component: str, *history: tuple[str, int], follows: str | None = None
) -> dict[str, Any]:
    return {
        "id": ident, "statement": component, "component": component, "status": history[-1][0],
        "history": [{"status": status, "utterance": line} for status, line in history],
        "consequence_of": follows,
    }  # fmt: skip


def trial(ident: str, component: str, outcome: str, bears: list[str], line: int) -> dict[str, Any]:
    return {
        "id": ident, "procedure": LINES[line - 1][2], "component": component, "outcome": outcome,
        "hypotheses": bears, "utterances": [line],
    }  # fmt: skip


def part(name: str, amount: str, line: int) -> dict[str, Any]:
    price = {"amount": amount, "currency": "EUR"}
    return {"name": name, "price": price, "state": "fitted", "utterances": [line]}


def example(**changes: Any) -> Record:
    whole: dict[str, Any] = {
        "rules": "example",
        "vehicle": {},
        "utterances": [
            {
                "id": n,
                "start": at,
                "end": at + 4,
                "text": text,
                "clean": text,
                "acts": acts.split(),
                "entities": [],
            }
            for n, (at, acts, text) in enumerate(LINES, start=1)
        ],
        "hypotheses": [
            suspect("H1", "caliper", ("open", 2), ("ruled_out", 4), ("open", 11), ("ruled_out", 15)),
            suspect("H2", "hose", ("open", 2), ("confirmed", 13)),
            suspect("H3", "master cylinder", ("open", 6), ("confirmed", 6), ("ruled_out", 9)),
            suspect("H4", "pad", ("open", 10), ("confirmed", 10), ("ruled_out", 14), follows="H2"),
        ],
        "tests": [
            trial("T1", "caliper", "pass", ["H1"], 3),
            trial("T2", "caliper", "pass", ["H1"], 5),
            trial("T3", "hose", "fail", ["H2"], 12),
        ],
        "corrections": [
            {"action": "replace", "component": "master cylinder", "utterances": [7]},
            {"action": "replace", "component": "hose", "utterances": [16]},
        ],
        "verifications": [
            {"text": "still drags", "outcome": "fail", "utterances": [8]},
            {"text": "spins free hot and cold", "outcome": "pass", "utterances": [17]},
        ],
        "fasteners": [{"kind": "bolt", "removed": 4, "installed": 3, "utterances": [16]}],
        "parts": [part("master cylinder", "80.00", 7), part("hose", "25.00", 16)],
        "measurements": [],
        "open_items": [],
        "gaps": [{"start": 110.0, "end": 180.0, "reason": "microphone unplugged"}],
    }
    return Record.model_validate(whole | changes)
