"""The ledger of tests: what was checked, what came of it, which suspects it spoke to.

``pass`` means that the thing tested was found good, ``fail`` that it was found bad. What the technician
concludes from a test right after it outweighs the words of the result.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from narrator.job.diagnosis import Diagnosis, Suspect
from narrator.job.findings import polarity
from narrator.job.line import Line
from narrator.job.naming import likeness
from narrator.job.record import EvidenceRow, Outcome, TestRow

_REACH = 3
"""A conclusion up to this many lines after a test's last line is taken to be drawn from it."""


@dataclass(slots=True)
class Check:
    """One test while the session is read."""

    lines: list[Line]
    place: int
    component: str | None
    results: list[Line] = field(default_factory=list)
    conclusion: float = 0.0
    same: bool = False

    @property
    def last(self) -> int:
        """Number of its last line."""
        return self.place + len(self.lines) - 1


class Checks:
    """Reads the lines of one session in order; ``rows`` gives the contract's tests."""

    def __init__(self) -> None:
        self.checks: list[Check] = []
        self._turn = 0
        self._closed = True

    @property
    def focus(self) -> str | None:
        """Component of the latest test."""
        return self.checks[-1].component if self.checks else None

    def read(self, line: Line) -> None:
        """Take in one line."""
        self._turn += 1
        if line.does("verification"):
            self._closed = True
            return
        if line.does("test"):
            self._test(line)
        elif line.does("result"):
            self._result(line)
        if line.does("ruled_out", "confirmed", "hypothesis"):
            self._conclude(line)
        elif line.does("step", "part", "plan", "concern") and not line.does("test", "result"):
            self._closed = True

    def _test(self, line: Line) -> None:
        going_on = (
            not self._closed
            and self.checks
            and not self.checks[-1].results
            and self.checks[-1].last == self._turn - 1
            and not line.does("result")
        )
        if going_on:
            self.checks[-1].lines.append(line)
            return
        main = line.main_components()
        self.checks.append(Check([line], self._turn, main[0].name if main else None))
        self._closed = False
        if line.does("result"):
            self.checks[-1].results.append(line)

    def _result(self, line: Line) -> None:
        current = self.checks[-1] if self.checks and not self._closed else None
        main = line.main_components()
        other = (
            current is not None
            and bool(current.results)
            and bool(main)
            and current.component is not None
            and not any(likeness(c.name, current.component) for c in line.components)
        )
        if current is None or other or self._turn - current.last > _REACH:
            self.checks.append(Check([line], self._turn, main[0].name if main else None, [line]))
            self._closed = False
            return
        current.lines.append(line)
        current.results.append(line)

    def _conclude(self, line: Line) -> None:
        if not self.checks:
            return
        check = self.checks[-1]
        if check.conclusion or self._turn - check.last > _REACH or not check.results:
            return
        about = {c.name for c in line.components}
        named = check.component is None or not about or any(likeness(check.component, n) for n in about)
        at_once = self._turn - check.last <= 1
        if line.does("ruled_out"):
            check.conclusion = 3.0 if named or at_once else 0.8
        elif line.does("confirmed"):
            check.conclusion = -3.0 if named else -1.0
        elif line.does("hypothesis"):
            check.conclusion = -1.5 if at_once else -0.4  # a new suspicion seldom follows from a good finding
        self._closed = self._closed or not line.does("test", "result")

    def rows(self, diagnosis: Diagnosis) -> list[TestRow]:
        """The contract's tests; each is entered as evidence with the suspects it speaks to."""
        rows = []
        for n, check in enumerate(self.checks, start=1):
            outcome = self._outcome(check)
            suspects = self._suspects(check, diagnosis)
            ident = f"T{n}"
            for suspect in suspects:
                if outcome != "inconclusive":
                    stance = "contradicts" if outcome == "pass" else "supports"
                    suspect.evidence.append(
                        EvidenceRow(stance=stance, utterance=check.lines[-1].id, test=ident)
                    )
            if outcome == "pass" and check.component:
                own = [s for s in suspects if s.fit(check.component) >= 0.7]
                for suspect in own[:1]:
                    diagnosis.found_good(suspect, check.lines[-1])
            result = "; ".join(line.understood.clean for line in check.results)
            rows.append(
                TestRow(
                    id=ident,
                    procedure=check.lines[0].understood.clean,
                    component=check.component,
                    result=result or None,
                    outcome=outcome,
                    hypotheses=[f"H{diagnosis.suspects.index(s) + 1}" for s in suspects],
                    utterances=[line.id for line in check.lines],
                )
            )
        return rows

    @staticmethod
    def _outcome(check: Check) -> Outcome:
        score = check.conclusion
        for line in check.results:
            score += polarity(line)
            if line.has("polarity.same"):
                score += 1.0
        if abs(score) < 0.25:
            return "inconclusive"
        return "pass" if score > 0 else "fail"

    @staticmethod
    def _suspects(check: Check, diagnosis: Diagnosis) -> list[Suspect]:
        found: list[Suspect] = []
        names = [c.name for line in check.lines for c in line.main_components()]
        for name in names:
            suspect = diagnosis.find(name)
            if suspect and suspect not in found:
                found.append(suspect)
        return found
