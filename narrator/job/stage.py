"""Where a job stands when a line is said: still looking for the cause, or checking what was mended.

The same words are a test before the repair and a verification after it (*dry as a bone*), so the ledgers
ask the stage and not the line alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from narrator.job.diagnosis import Diagnosis
from narrator.job.line import Line
from narrator.job.naming import SAME, likeness
from narrator.job.outcome import denies_fault, tone
from narrator.job.plain_result import plainly
from narrator.job.told_cure import mends_and_looks
from narrator.job.verdicts import verdicts
from narrator.values import Measurement

Role = Literal["test", "verification", "none"]
_NEAR = 2
"""So many lines after mending, a result with no suspect to speak to is taken for a check of the repair."""
_DRAWN = 3
"""So many lines after a check a conclusion may still be drawn from it."""


@dataclass(slots=True)
class Stage:
    """Follows one session line by line."""

    turn: int = 0
    mended: int | None = None
    """Turn of the last line that changed the machine for good or put it back together."""
    worked: bool = False
    """Whether any work that takes nothing off was done since a cause was found: *nip them up*."""
    doubted: int = 0
    """Turn of the last line that put something under suspicion."""
    verified: int | None = None
    tested: int | None = None
    settled: int = 0
    """Turn of the last line that established a cause: what is suspected after it is looked for still."""

    def role(
        self, line: Line, diagnosis: Diagnosis, waiting: bool = False, after: Sequence[Line] = ()
    ) -> Role:
        """What a line's check is, by its acts and where the job stands; moves on to this line.

        ``waiting`` tells that a test was set up and has no result yet: work done then belongs to the test.
        ``after`` are the next lines: a check from which a cause is drawn was looking for one.
        """
        self.turn += 1
        role = self._role(line, diagnosis)
        if role == "verification" and draws(after):
            role = "test"
        if role == "verification":
            self.verified = self.turn
        elif role == "test":
            self.tested = self.turn
        if line.does("step") and ("new" in line.tokens or not waiting) and self._mends(line, diagnosis):
            self.mended = self.turn
        if line.acts == {"step"} and self.settled and not line.has("motion.off"):
            self.worked = True
        if line.does("hypothesis"):
            self.doubted = self.turn
        if line.does("confirmed"):
            self.settled = self.turn
        return role

    def _falls_short(self, line: Line, diagnosis: Diagnosis) -> bool:
        """*No better*, *still gets hot*: told right after mending, with nothing suspected since."""
        if self.mended is None or self.turn - self.mended > _NEAR or self.doubted > self.mended:
            return False
        done = line.does("hypothesis", "plan", "part", "ruled_out", "confirmed", "caution")
        return (
            bool(diagnosis.causes)
            and not done
            and line.acts != {"step"}
            and plainly(line.tokens, line.breaks) is False
        )

    def _mends(self, line: Line, diagnosis: Diagnosis) -> bool:
        """Whether work mends: something new or changed, or put back after a cause was settled or mended.

        What is put back before that was only off for a test (*coils are swapped, both bolts back in*).
        """
        if "new" in line.tokens or line.has("work.change"):
            return True
        if any(m.role == "setting" and m.quantity == "angle" for m in line.entities(Measurement)):
            return True  # "wound it in a turn and a half"
        settled = self.mended is not None or any(s.status == "confirmed" for s in diagnosis.suspects)
        return line.has("motion.on") and settled

    def _role(self, line: Line, diagnosis: Diagnosis) -> Role:
        if mends_and_looks(line, diagnosis.causes) or self._falls_short(line, diagnosis):
            return "verification"
        if line.does("verification"):
            if self.mended is None:
                return "verification" if self.worked else "test"
            anew = self.doubted > self.mended
            return "test" if anew and any(map(diagnosis.is_open, line.components)) else "verification"
        if not line.does("test", "result"):
            return "none"
        suspected = any(map(diagnosis.is_open, line.components))
        if self.tested and line.does("result") and cures(line):
            return "verification"
        following = max(self.mended or 0, self.verified or 0)
        near = bool(following) and self.turn - following <= _NEAR and self.doubted < following
        told_now = line.does("result") and line.has("verify", "codes.return") and not suspected
        if near and told_now and self.mended == self.turn - 1:
            return "verification"  # "went round the block, still knocks", right after mending
        if near and _ails_else(line, diagnosis):
            return "test"
        if not near or (self.tested or 0) >= following or line.does("test"):
            return "test"
        told = max(self.settled, self.verified or 0)
        waiting = any(s.status == "open" and s.raised > told for s in diagnosis.suspects)
        open_still = any(s.status == "open" for s in diagnosis.suspects)
        well = "now" in line.tokens or plainly(line.tokens, line.breaks) is not None
        settled = (not open_still and well) or any(s.status == "confirmed" for s in diagnosis.suspects)
        return "verification" if settled and not (waiting or suspected) else "test"


def cures(line: Line) -> bool:
    """*Set them both and it's quiet now*: work and what came of it in one breath."""
    first = any(cue.at[0] <= 1 for cue in line.cues("work.change"))
    after = line.tokens[line.tokens.index("and") :] if "and" in line.tokens else ()
    return first and "now" in after and not line.entities(Measurement) and tone(line) > 0


def _ails_else(line: Line, diagnosis: Diagnosis) -> bool:
    """Whether a line calls something bad that nobody had suspected: *chain's worn, tell the customer*."""
    if not line.has("confirm.state", "polarity.bad") or line.has("verify") or not line.components:
        return False
    known = [s.name for s in diagnosis.suspects]
    return not any(likeness(c.name, name) >= SAME for c in line.components for name in known)


def draws(after: Sequence[Line]) -> bool:
    """Whether the lines after a check draw a cause from it, or find the thing checked good: it was a test.

    What a repair did not cure is taken back in other words: *so the hose was real, but not the whole story*.
    """
    for line in after[:_DRAWN]:
        if line.does("confirmed"):
            return not line.has("clear.withdraw", "two_causes")
        if line.does("ruled_out"):
            return denies_fault(line) or any(good > 0 for _, good in verdicts(line))
        if not line.acts <= {"aside", "result", "observation", "caution", "verification"}:
            return False
    return False
