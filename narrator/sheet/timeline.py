"""The reasoning of a job as lanes and marks: what ``narrator.sheet.picture`` draws.

Marks stand in slots, not at clock times: one utterance takes as many slots as its busiest lane needs, in
the order in which things were said, so that a quick burst is as legible as an hour's wait. Slots carry times.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal, TypeVar

from narrator.job.record import HypothesisRow, Record, Status
from narrator.sheet.words import ENDED, Said, suspect_name

MarkKind = Literal["opened", "supported", "contradicted", "cleared", "confirmed", "reopened", "withdrawn"]
KINDS: tuple[MarkKind, ...] = (
    "opened", "supported", "contradicted", "cleared", "confirmed", "withdrawn", "reopened",
)  # fmt: skip
SLOTS_A_PANEL = 16


@dataclass(frozen=True, slots=True)
class Mark:
    """One thing that happened to a suspect; ``after`` is its status from here on, where it changed."""

    kind: MarkKind
    utterance: int
    test: str | None = None
    after: Status | None = None


@dataclass(frozen=True, slots=True)
class Lane:
    """One suspect: its label, how it ended, and its marks with the slot of each."""

    id: str
    label: str
    ended: str
    marks: tuple[tuple[int, Mark], ...]

    def status_before(self, slot: int) -> Status | None:
        """The suspect's status when ``slot`` begins; None where it was not yet a suspect."""
        status: Status | None = None
        for at, mark in self.marks:
            if at >= slot:
                break
            status = mark.after or status
        return status


@dataclass(frozen=True, slots=True)
class TestMark:
    """One test and how the thing tested was found."""

    __test__ = False

    id: str
    outcome: str
    utterance: int


@dataclass(frozen=True, slots=True)
class Timeline:
    """Lanes and tests over slots; ``times[slot]`` is when its utterance began (``mm:ss``)."""

    times: tuple[str, ...]
    lanes: tuple[Lane, ...]
    tests: tuple[tuple[int, TestMark], ...]

    def panels(self) -> list[range]:
        """The slots cut into stretches that fit one drawing each."""
        count = len(self.times)
        pieces = -(-count // SLOTS_A_PANEL)
        bounds = [round(i * count / pieces) for i in range(pieces + 1)] if pieces else [0]
        return [range(a, b) for a, b in pairwise(bounds)]


_M = TypeVar("_M", Mark, TestMark)


def timeline(record: Record, said: Said) -> Timeline:
    """Lay out a record's suspects and tests."""
    rows = {h.id: marks(h, said) for h in record.hypotheses}
    tests = [TestMark(t.id, t.outcome, t.utterances[-1]) for t in record.tests if t.utterances]
    needed: dict[int, dict[str, int]] = {}
    for lane, row in rows.items():
        for mark in row:
            lanes = needed.setdefault(mark.utterance, {})
            lanes[lane] = lanes.get(lane, 0) + 1
    for test in tests:
        lanes = needed.setdefault(test.utterance, {})
        lanes["tests"] = lanes.get("tests", 0) + 1
    order = sorted(needed, key=lambda u: (said.start(u), u))
    first: dict[int, int] = {}
    times: list[str] = []
    for utterance in order:
        first[utterance] = len(times)
        times += [said.time(utterance)] * max(needed[utterance].values())
    return Timeline(
        times=tuple(times),
        lanes=tuple(
            Lane(h.id, suspect_name(h), ENDED[h.status], tuple(_placed(rows[h.id], first)))
            for h in record.hypotheses
        ),
        tests=tuple((slot, test) for slot, test in _placed(tests, first)),
    )


def _placed(row: Sequence[_M], first: dict[int, int]) -> list[tuple[int, _M]]:
    used: dict[int, int] = {}
    placed: list[tuple[int, _M]] = []
    for one in row:
        n = used.get(one.utterance, 0)
        used[one.utterance] = n + 1
        placed.append((first[one.utterance] + n, one))
    return sorted(placed, key=lambda pair: pair[0])


def marks(row: HypothesisRow, said: Said) -> list[Mark]:
    """A suspect's marks in the order said; of one utterance, evidence comes before what it led to."""
    ranked: list[tuple[float, int, int, Mark]] = []
    for n, evidence in enumerate(row.evidence):
        kind: MarkKind = "supported" if evidence.stance == "supports" else "contradicted"
        mark = Mark(kind, evidence.utterance, evidence.test)
        ranked.append((said.start(evidence.utterance), evidence.utterance, 1 + 2 * n, mark))
    before: Status | None = None
    last = 2 * len(row.evidence) + 2
    for n, change in enumerate(row.history):
        mark = Mark(_kind(before, change.status), change.utterance, None, change.status)
        rank = 0 if before is None and change.status == "open" else last + n
        ranked.append((said.start(change.utterance), change.utterance, rank, mark))
        before = change.status
    return [mark for *_, mark in sorted(ranked, key=lambda r: r[:3])]


def _kind(before: Status | None, after: Status) -> MarkKind:
    if after == "open":
        return "opened" if before is None else "reopened"
    if after == "confirmed":
        return "confirmed"
    return "withdrawn" if before == "confirmed" else "cleared"
