"""The course of one job: what stood before what, which suspects were open when, and what is unsure."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise

from narrator.job.record import HypothesisRow, Record, Status, TestRow, UtteranceRow

TORN = (
    {"hypothesis", "confirmed"},
    {"hypothesis", "ruled_out"},
    {"confirmed", "ruled_out"},
    {"test", "verification"},
)
"""Pairs of acts that pull one line two ways: whoever reads it may settle on either."""


class Course:
    """A record laid out in the order in which it was said. Struck lines are left out."""

    def __init__(self, record: Record) -> None:
        self.record = record
        rows = sorted((u for u in record.utterances if not u.struck), key=lambda u: (u.start, u.id))
        self.rows: dict[int, UtteranceRow] = {u.id: u for u in rows}
        self._place = {u.id: n for n, u in enumerate(rows)}
        self._looked = {look.utterance for look in record.looks}
        self.suspects = [h for h in record.hypotheses if h.history]
        self.tests = [t for t in record.tests if t.utterances]

    def place(self, utterance: int) -> int:
        """Number of an utterance in the order said; after all others where the record lacks it."""
        return self._place.get(utterance, len(self._place))

    def start(self, utterance: int) -> float:
        """Second at which an utterance began; 0 where the record lacks it."""
        return self.rows[utterance].start if utterance in self.rows else 0.0

    def end(self, utterance: int) -> float:
        """Second at which an utterance ended; 0 where the record lacks it."""
        return self.rows[utterance].end if utterance in self.rows else 0.0

    # ------------------------------------------------------------ doubt

    def sure(self, utterances: Iterable[int]) -> bool:
        """Whether every one of the lines can be read one way only."""
        return all(self._sure(u) for u in utterances)

    def _sure(self, utterance: int) -> bool:
        """A line is unsure when it asks for a look, had a slip mended, or its acts are torn.

        A line that a person has corrected is sure.
        """
        row = self.rows.get(utterance)
        if row is None:
            return False
        if row.corrected is not None:
            return True
        acts = set(row.acts)
        return not (utterance in self._looked or row.repairs or any(pair <= acts for pair in TORN))

    # ------------------------------------------------------------ suspects

    def status_before(self, suspect: HypothesisRow, place: int) -> Status | None:
        """How a suspect stood just before a place; None where nobody had named it yet."""
        status: Status | None = None
        for change in suspect.history:
            if self.place(change.utterance) >= place:
                break
            status = change.status
        return status

    def open_for(self, test: TestRow) -> list[HypothesisRow]:
        """The suspects that were open when a test began; one first named in its first line is open for it."""
        began = self.began(test)
        return [h for h in self.suspects if self.opened(h) == began or self.status_before(h, began) == "open"]

    def opened(self, suspect: HypothesisRow) -> int:
        """Place at which a suspect was first named."""
        return self.place(suspect.history[0].utterance)

    def settled(self, suspect: HypothesisRow) -> int:
        """The utterance of its last change."""
        return suspect.history[-1].utterance

    def turns(self, suspect: HypothesisRow) -> list[tuple[Status, Status, int]]:
        """Each change of status: from, to, and the utterance that made it."""
        return [(a.status, b.status, b.utterance) for a, b in pairwise(suspect.history)]

    def causes(self) -> list[HypothesisRow]:
        """Independent causes that stood at the end, in the order in which they were settled."""
        found = [h for h in self.suspects if h.status == "confirmed" and not h.consequence_of]
        return sorted(found, key=lambda h: (self.place(self.settled(h)), self.opened(h)))

    # ------------------------------------------------------------ tests

    def began(self, test: TestRow) -> int:
        """Place of a test's first line."""
        return min(map(self.place, test.utterances))

    def spoke(self, test: TestRow) -> int:
        """Place of a test's last line, where it had given its result."""
        return max(map(self.place, test.utterances))

    def in_order(self) -> list[TestRow]:
        """The tests in the order in which they were begun."""
        return sorted(self.tests, key=self.began)
