"""Signals in the record as a whole: fasteners that do not balance, conclusions that the evidence denies."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from narrator.job.record import HypothesisRow, Record
from narrator.values import Look

Say = Callable[..., Look]


def ledger_looks(record: Record, say: Say) -> Iterator[Look]:
    """Findings of the fastener and the diagnosis ledgers."""
    yield from _fasteners(record, say)
    for suspect in record.hypotheses:
        yield from _suspect(suspect, say)


def _fasteners(record: Record, say: Say) -> Iterator[Look]:
    for row in record.fasteners:
        if row.removed == row.installed or not row.utterances:
            continue
        size = f"{row.size.value:g} {row.size.unit} " if row.size else ""
        name = f"{size}{row.kind}" + (f" ({row.location})" if row.location else "")
        kind = "left" if row.removed > row.installed else "over"
        yield say(kind, row.utterances[-1], None, name=name, removed=row.removed, installed=row.installed)


def _suspect(row: HypothesisRow, say: Say) -> Iterator[Look]:
    if row.status == "open" or not row.history:
        return
    at = row.history[-1].utterance
    name = row.component or row.statement
    if row.status == "confirmed" and not any(e.stance == "supports" for e in row.evidence):
        yield say("untested", at, None, suspect=name)
    last = row.evidence[-1].stance if row.evidence else None
    if last == ("contradicts" if row.status == "confirmed" else "supports"):
        status = "a cause" if row.status == "confirmed" else "cleared"
        yield say("turn", at, None, suspect=name, status=status)
