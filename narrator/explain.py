"""Why a record says what it says: for every derived value the words it came from and what made it.

The session is read and compiled again with lines that note what the ledgers ask of them. What is shown is
what was asked and met; what was asked in vain is not.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import asdict
from itertools import repeat
from typing import Any

from narrator.job.compile import compile_record, entity_row
from narrator.job.outcome_reasons import outcome_reasons
from narrator.job.record import Record
from narrator.job.trace import TracedLine
from narrator.language import Reader
from narrator.language.weigh import Weighed, weigh
from narrator.values import Act, Span, Understood, Utterance

Row = dict[str, Any]

LEDGERS: dict[str, tuple[str, ...]] = {
    "vehicle": ("vehicle",),
    "hypotheses": ("Diagnosis", "Weighing"),
    "tests": ("Checks", "Stage"),
    "corrections": ("Work",),
    "verifications": ("Verifications", "Stage"),
    "fasteners": ("FastenerLedger", "balanced"),
    "parts": ("Parts",),
    "measurements": ("Measures",),
    "open_items": ("open_items",),
    "steps": ("Work",),
    "cautions": ("cautions",),
}
"""List of the record to the ledgers (classes or functions of the job room) that fill it."""


def explain(utterances: Iterable[Utterance], only: int | None = None, weights: bool = True) -> Row:
    """Everything derived from a session, or from utterance ``only`` of it, as plain data.

    ``utterances`` has one row a line (its acts, cues, entities, repairs and looks), ``values`` one row for
    each value of the record, with the lines that made it. ``weights`` adds what spoke for the model's acts.
    """
    reader = Reader()
    looked_at = reader.watch()
    lines: list[TracedLine] = []

    def traced(one: Understood) -> TracedLine:
        lines.append(TracedLine(one))
        return lines[-1]

    record = compile_record(reader.read(utterances), make_line=traced)
    by_id = {line.id: line for line in lines}
    nothing: Weighed = {}
    spoke = weigh(looked_at, map(_by_model, lines)) if weights and looked_at else repeat(nothing)
    rows = [_utterance(line, w) for line, w in zip(lines, spoke, strict=False) if only in (None, line.id)]
    values = [
        v for v in _values(record, by_id) if only is None or only in {m["utterance"] for m in v["from"]}
    ]
    return {"rules": record.rules, "utterances": rows, "values": values}


def _by_model(line: TracedLine) -> list[Act]:
    one = line.understood
    return [act for act in one.acts if one.act_rules[act].startswith("model")]


def _utterance(line: TracedLine, spoke: Weighed) -> Row:
    one = line.understood
    text = one.utterance.text
    return {
        "id": line.id,
        "start": one.utterance.start,
        "text": text,
        "clean": one.clean,
        "acts": [
            {"act": act, "by": one.act_rules[act]} | ({"for": spoke[act]} if spoke.get(act) else {})
            for act in one.acts
        ],
        "cues": [{"cue": c.name, "words": _words(text, c.span), "pattern": c.text} for c in one.cues],
        "entities": [entity_row(e) | {"words": _words(text, e.span)} for e in one.entities],
        "repairs": [asdict(r) for r in one.repairs],
        "looks": [
            {"kind": k.kind, "reason": k.reason, "words": _words(text, k.span) if k.span else text}
            for k in one.looks
        ],
    }


def _words(text: str, span: Span) -> str:
    return text[span[0] : span[1]]


def _values(record: Record, lines: dict[int, TracedLine]) -> Iterator[Row]:
    """Every value of the record's lists, and the vehicle, with the lines that made it."""
    whole = record.model_dump(mode="json")
    said = [n for n, line in lines.items() if any(a.ledger == "vehicle" for a in line.asked)]
    known = {name: value for name, value in whole["vehicle"].items() if value is not None}
    if known:
        yield {"list": "vehicle", "value": known, "from": [_made("vehicle", n, lines) for n in said]}
    for name in LEDGERS:
        for row in whole[name] if name != "vehicle" else ():
            value: Row = {"list": name, "value": _short(row), "from": list(_sources(name, row, lines))}
            yield value | _judged(name, row, lines)


def _judged(name: str, row: Row, lines: dict[int, TracedLine]) -> Row:
    """For a test or verification what the outcome model weighed (``narrator/job/outcome_reasons.py``)."""
    if "outcome" not in row or (with_lines := lines[row["utterances"][-1]].judged_with) is None:
        return {}
    return {"outcome": asdict(outcome_reasons(*with_lines, verifies=name == "verifications"))}


_POINTERS = {"history", "evidence", "utterances", "utterance", "span"}


def _short(row: Row) -> Row:
    """The value without what points to lines, and without what was not said."""
    return {k: v for k, v in row.items() if k not in _POINTERS and v not in (None, [])}


def _sources(name: str, row: Row, lines: dict[int, TracedLine]) -> Iterator[Row]:
    if name == "hypotheses":
        for step in row["history"]:
            yield {"status": step["status"]} | _made(name, step["utterance"], lines)
        for one in row["evidence"]:
            yield {"evidence": one["stance"], "test": one["test"]} | _made("tests", one["utterance"], lines)
        return
    for number in row.get("utterances") or [row["utterance"]]:
        yield _made(name, number, lines)


def _made(name: str, number: int, lines: dict[int, TracedLine]) -> Row:
    """What the ledgers of a list asked of a line and met; where they asked nothing, what all of them did."""
    line = lines.get(number)
    if line is None:  # a ledger may point to a line that is not in this session's reading
        return {"utterance": number, "words": "", "because": []}
    own = [a for a in line.asked if a.ledger in LEDGERS[name]] or list(line.asked)
    text = line.understood.utterance.text
    because = [
        {"by": a.by, a.kind: a.name} | ({"words": _words(text, a.span)} if a.span else {}) for a in own
    ]
    return {"utterance": number, "words": text, "because": because}
