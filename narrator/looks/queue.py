"""The queue of one session: every signal's findings in the order of the session, each with a stable name."""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from narrator.job.record import Record
from narrator.looks.heard import heard_looks
from narrator.looks.ledger import ledger_looks
from narrator.looks.meant import meant_looks
from narrator.paths import GRAMMARS
from narrator.values import Gap, Look, Understood, Utterance


@dataclass(frozen=True, slots=True)
class Queued:
    """One thing to look at, ``at`` seconds. ``look`` names it and stays the same as long as the reason."""

    look: str
    kind: str
    reason: str
    utterance: int | None
    at: float
    span: tuple[int, int] | None

    def row(self) -> dict[str, Any]:
        """The columns of the store's table ``looks``."""
        start, end = self.span or (None, None)
        return {"look": self.look, "kind": self.kind, "reason": self.reason, "utterance": self.utterance,
                "at": self.at, "span_start": start, "span_end": end}  # fmt: skip


@lru_cache(maxsize=1)
def _table() -> dict[str, Any]:
    return tomllib.loads((GRAMMARS / "looks.toml").read_text(encoding="utf-8"))


def titles() -> dict[str, str]:
    """What each kind is called, in the order of grammars/looks.toml."""
    return {kind: str(row["title"]) for kind, row in _table()["kind"].items()}


def queue(
    understood: Sequence[Understood],
    record: Record,
    utterances: Sequence[Utterance],
    gaps: Iterable[Gap] = (),
) -> list[Queued]:
    """Everything to look at in one session, in order of time; struck lines are left alone."""
    starts = {one.id: one.start for one in utterances}
    struck = {row.id for row in record.utterances if row.struck}
    limits = {name: float(value) for name, value in _table()["limits"].items()}
    found: dict[str, Queued] = {}
    for look in _signals(understood, record, utterances, limits):
        if look.utterance not in struck:
            one = _queued(look, starts.get(look.utterance, 0.0))
            found.setdefault(one.look, one)
    for gap in gaps:
        look = say("gap", 0, None, seconds=f"{gap.end - gap.start:.0f}", why=gap.reason)
        name = f"gap.{round(gap.start * 1000)}"
        found[name] = Queued(name, "gap", look.reason, _before(utterances, gap.start), gap.start, None)
    order = {kind: n for n, kind in enumerate(titles())}
    return sorted(found.values(), key=lambda q: (q.at, q.utterance or 0, order.get(q.kind, 99), q.look))


def _signals(
    understood: Sequence[Understood],
    record: Record,
    utterances: Sequence[Utterance],
    limits: dict[str, float],
) -> Iterator[Look]:
    for row in record.looks:
        yield say(row.kind, row.utterance, row.span, why=row.reason)
    yield from meant_looks(understood, limits, say)
    yield from ledger_looks(record, say)
    twice = {row.utterance for row in record.looks if row.kind == "ears"}
    for look in heard_looks(utterances, limits, say):
        if look.kind != "faint" or look.utterance not in twice:  # its two readings already ask for a look
            yield look


def say(kind: str, utterance: int, span: tuple[int, int] | None = None, /, **fields: object) -> Look:
    """A look with its reason in words from grammars/looks.toml; a kind not listed there brings its own."""
    row = _table()["kind"].get(kind)
    reason = str(row["reason"]).format(**fields) if row else str(fields.get("why", kind))
    return Look(kind, reason, utterance, span)


def _queued(look: Look, at: float) -> Queued:
    mark = hashlib.sha256(f"{look.reason}\n{look.span}".encode()).hexdigest()[:8]
    name = f"{look.kind}.{look.utterance}.{mark}"
    return Queued(name, look.kind, look.reason, look.utterance, at, look.span)


def _before(utterances: Sequence[Utterance], at: float) -> int | None:
    """The last utterance that began before a moment, else the first of all."""
    known = [one.id for one in utterances if one.start <= at] or [one.id for one in utterances][:1]
    return known[-1] if known else None
