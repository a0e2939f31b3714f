"""The ledger of tests: what was checked, what came of it, which suspects it spoke to.

``pass`` means that the thing tested was found good, ``fail`` that it was found bad; the outcome model decides
from the lines of a test and from what the technician makes of it (``outcome.py``).
"""

from __future__ import annotations

from narrator.job.check_lines import (
    Check,
    begins,
    describes,
    gave,
    looked_at,
    only_concludes,
    only_sets_up,
    other_side,
    quantities,
    read_in,
    tells,
)  # fmt: skip
from narrator.job.conclusion import condemns
from narrator.job.diagnosis import Diagnosis
from narrator.job.felt import is_felt
from narrator.job.findings import holds_against
from narrator.job.lamp import shown
from narrator.job.line import Line
from narrator.job.naming import likeness
from narrator.job.outcome import read_together, test_outcome, tone
from narrator.job.record import EvidenceRow, Outcome, TestRow
from narrator.job.stage import Role
from narrator.job.stirred import when_stirred
from narrator.job.suspect import Suspect
from narrator.job.verdicts import declared
from narrator.values import Act, Measurement, Position

_REACH = 3
"""A result up to this many lines after a test's last line belongs to it."""
_AFTER = 3
_SURE = 0.15
"""Log odds nearer to zero than this settle nothing."""
_PLAIN = 1.0
"""Log odds of a line's own words from which it reports a finding, whatever else it does."""
_ASIDE = 2.0
"""Log odds from which talk before a conclusion is a finding all the same."""
_TOLD = 1.5
"""Log odds from which a set-up told in one breath has its result in it."""
_OWN = 0.6
_FIRST = 1
"""A deed told by the first or second word makes a test of its own."""
_BETWEEN = frozenset(("from", "between", "across"))
"""Before the places between which something is read."""
_NO_FINDING: tuple[Act, ...] = ("part", "plan", "concern", "ruled_out", "confirmed")


class Checks:
    """Reads the lines of one session in order; ``rows`` gives the contract's tests."""

    def __init__(self) -> None:
        self.checks: list[Check] = []
        self.lines: list[Line] = []
        self._open = False
        self._latest: Check | None = None

    @property
    def focus(self) -> str | None:
        """Component of the latest test that was one in its own time."""
        return self._latest.component if self._latest else None

    @property
    def tried(self) -> list[str]:
        """What the latest test that was one in its own time names: its component, then the latest first."""
        if self._latest is None:
            return []
        named = [c.name for line in reversed(self._latest.lines) for c in line.components]
        return [self._latest.component, *named] if self._latest.component else named

    @property
    def waiting(self) -> bool:
        """Whether a test was set up and has no result yet."""
        return self._open and not self.checks[-1].results

    def read(self, line: Line, role: Role, diagnosis: Diagnosis) -> None:
        """Take in one line, whose check is of this role."""
        self.lines.append(line)
        if role == "none" and line.does("ruled_out", "confirmed"):
            self._found_before(line)
        if role == "verification":
            self._open = False
        elif role == "test":
            if line.does("test"):
                self._set_up(line)
            else:
                self._result(line)
        elif (role == "none" and self._plainly(line)) or self._finds(line, diagnosis):
            self._result(line)
        elif line.does("step") and self.waiting:
            self.checks[-1].last = len(self.lines) - 1  # work that it needs: *two bolts out for the coils*
        elif line.does("ruled_out", "confirmed", "hypothesis", "step", "part", "plan", "concern"):
            if role == "none" and line.does("ruled_out", "confirmed") and read_in(line):
                self._begin(line, True)
            self._open = False

    def _plainly(self, line: Line) -> bool:
        """Whether a line tells a check and what it came to, whatever else it looks like."""
        if when_stirred(line) is not None:
            return True
        if not line.does("observation") or line.does("concern", "hypothesis", "plan"):
            return False
        drawn = "so" in line.tokens and declared(line) != 0  # "nice and blue so ignition's good"
        return drawn or is_felt(line) or self._held(line)

    def _held(self, line: Line) -> bool:
        """Whether something seen is held against what it should be: *four mil left, seven is the least*.

        What was read the line before is part of that check.
        """
        here = len(self.lines) - 1
        before = self.lines[here - 1] if here else None
        if holds_against(line):
            return True
        if before is None or not before.does("observation", "result") or not holds_against(line, [before]):
            return False
        if not self.checks or self.checks[-1].last < here - 1:
            main = before.main_components()
            self.checks.append(Check([before], here - 1, here - 1, main[0].name if main else None, [before]))
            self._open = True
            self._latest = self.checks[-1]
        return True

    def _found_before(self, line: Line) -> None:
        """What was seen right before a conclusion, and belongs to no test yet, is what it was drawn from."""
        at = len(self.lines) - 2
        while at >= 0 and self.lines[at].acts == {"aside"} and not self._plain_aside(at, line):
            at -= 1
        if at < 0 or (self.checks and self.checks[-1].last >= at):
            return
        before = self.lines[at]
        if before.acts == {"step"} and before.has("motion.on") and not before.has("observe"):
            return  # "both nuts back on, the first to twenty newton metres": work that finds nothing
        seen = before.does("observation", "step", "caution", "aside") and not before.does(*_NO_FINDING)
        tried = before.acts == {"concern"} and self.lines[max(0, at - 1)].does("hypothesis")
        seen = seen or (tried and line.does("confirmed"))
        told = before.acts == {"hypothesis"} and line.does("ruled_out") and not before.has("hedge", "suspect")
        described = before.does("step") and describes(before, line)
        if (seen and (described or tells(before))) or (told and abs(tone(before)) >= _PLAIN):
            main = before.main_components()
            self.checks.append(Check([before], at, at, main[0].name if main else None, [before]))

    def _plain_aside(self, at: int, line: Line) -> bool:
        """Whether what was taken for talk, said right before a cause is settled, plainly tells a state."""
        next_to = at == len(self.lines) - 2 and line.does("confirmed")
        return next_to and abs(tone(self.lines[at])) >= _ASIDE

    def _finds(self, line: Line, diagnosis: Diagnosis) -> bool:
        """Whether a line that is no test in so many words reports what looking at a suspect gave."""
        waiting = self._just_set_up()
        if line.does("aside", "part", "plan", "concern", "hypothesis"):
            return False
        if line.does("observation") and waiting:
            return True
        if waiting and line.acts == {"step"} and not line.has("motion.on", "motion.off", "work.change"):
            return abs(tone(line)) >= _PLAIN  # "a quarter of the way and then it hits a wall"
        if not line.does("observation", "ruled_out", "step", "caution"):
            return False
        if not any(map(diagnosis.is_open, line.components)) or abs(tone(line)) < _PLAIN:
            return False
        if line.does("ruled_out") and self._open and not self._elsewhere(line):
            return False  # a conclusion from the test under way
        checked = self._open and self.checks[-1].last == len(self.lines) - 2 and not self.waiting
        if only_concludes(line, checked):
            return False
        for component in line.main_components():
            suspect = diagnosis.find(component.name)
            if suspect and suspect.status == "open" and not self._tested(component.name):
                return True
        return False

    def _just_set_up(self) -> bool:
        """Whether the line before set up a test that has no result yet."""
        return self.waiting and self.checks[-1].last == len(self.lines) - 2

    def _tested(self, name: str) -> bool:
        return bool(self.checks) and any(
            likeness(c.name, name) >= _OWN for line in self.checks[-1].lines for c in line.components
        )

    def _begin(self, line: Line, result: bool) -> None:
        main = looked_at(line)
        here = len(self.lines) - 1
        self.checks.append(
            Check([line], here, here, main[0].name if main else None, [line] if result else [])
        )
        self._open = True
        self._latest = self.checks[-1]

    def _set_up(self, line: Line) -> None:
        told = (
            line.does("result")
            or shown(line) is not None
            or (abs(tone(line)) >= _TOLD and bool(line.main_components()))
        )
        if self._just_set_up() and not (told and self._elsewhere(line)):
            self.checks[-1].add(line, len(self.lines) - 1, told)
        else:
            self._begin(line, told)

    def _result(self, line: Line) -> None:
        here = len(self.lines) - 1
        current = self.checks[-1] if self.checks and self._open else None
        settled = current is not None and any(gave(one) for one in current.results)
        told = current is not None and any(
            one.does("test") and one.does("result") and not only_sets_up(one) for one in current.results
        )
        settled = settled or (told and any(begins(line, c) for c in line.components))
        if current is not None and self._sums_up(line, current):
            current.add(line, here, True)
            return
        deed = current is not None and bool(current.results) and line.acts == {"step"}
        if current is None or here - current.last > _REACH or deed or (settled and self._apart(line)):
            self._begin(line, True)
            return
        main = line.main_components()
        if main and current.component is None and not current.results and begins(line, main[0]):
            current.component = main[0].name  # "annual check", then "lift chain measures ..."
        current.add(line, here, True)

    def _sums_up(self, line: Line, current: Check) -> bool:
        """*So pads needed*: a thing condemned right after its check is what that check came to."""
        if current.last != len(self.lines) - 2 or not condemns(line) or line.entities(Measurement):
            return False
        named = [c.name for row in current.lines for c in row.components]
        if not named and line.components:
            current.component = line.main_components()[0].name
        return not (named and line.components) or self._tested(line.components[0].name)

    def _apart(self, line: Line) -> bool:
        """Whether a result is of a test of its own: of another thing, or another quantity measured."""
        if self._elsewhere(line):
            return True
        if any(p.at[0] <= _FIRST and p.rule == "position.lone_side" for p in line.entities(Position)):
            return True  # "right one, nothing"
        if other_side(line, self.checks[-1].lines[-1]) or self._from_elsewhere(line):
            return True
        if any(c.at[0] <= _FIRST for c in line.cues("test.do")):
            return True  # "check the radiator and it's full"
        before = quantities(self.checks[-1].lines)
        return bool(before) and bool(quantities([line])) and before.isdisjoint(quantities([line]))

    def _from_elsewhere(self, line: Line) -> bool:
        """*From the body to that same post it's 0.1*: a reading between other places than the one before."""
        leads = _BETWEEN.intersection(line.tokens[: _FIRST + 1])
        return bool(leads) and bool(quantities([line])) and bool(quantities(self.checks[-1].lines))

    def _elsewhere(self, line: Line) -> bool:
        """Whether a line is about another component or place than the test under way."""
        current = self.checks[-1]
        places = {p.name for row in current.lines for p in row.entities(Position)}
        if places and any(p.name not in places for p in line.entities(Position)):
            return True
        main = line.main_components()
        if main and not any(row.components for row in current.lines):
            return begins(line, main[0])  # "fan belt, I press with the thumb"
        if not main or current.component is None:
            return False
        known = {c.name for row in current.lines for c in row.components}
        return not any(likeness(c.name, name) for c in line.components for name in known)

    # ------------------------------------------------------------ results

    def rows(self, diagnosis: Diagnosis) -> list[TestRow]:
        """The contract's tests; each is entered as evidence with the suspects it speaks to."""
        rows = []
        read_together((check.lines, self._after(check)) for check in self.checks)
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
                theory = diagnosis.theory(check.component)
                for suspect in own[:1] or ([theory] if theory else []):
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

    def _after(self, check: Check) -> list[Line]:
        """The lines after a test that may tell of it: none where they begin with the other side."""
        after = self.lines[check.last + 1 : check.last + 1 + _AFTER]
        return [] if after and other_side(after[0], check.lines[-1]) else after

    def _outcome(self, check: Check) -> Outcome:
        after = self._after(check)
        odds = test_outcome(check.lines, after)
        check.lines[-1].judged(check.lines, after)
        if abs(odds) < _SURE:
            return "inconclusive"
        return "pass" if odds > 0 else "fail"

    @staticmethod
    def _suspects(check: Check, diagnosis: Diagnosis) -> list[Suspect]:
        found: list[Suspect] = []
        names = [c.name for line in check.lines for c in line.main_components()]
        for name in names:
            suspect = diagnosis.find(name)
            if suspect and suspect not in found:
                found.append(suspect)
        return found
