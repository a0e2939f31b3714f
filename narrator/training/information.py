"""How much a test could tell, in bits.

Model (docs/training.md): exactly one thing is at fault; it is one of the suspects open when the test began,
or something that nobody has named. A test bears on some of the open suspects and answers without error:
*found bad* leaves those, *found good* leaves the others. Entropy as in Shannon (1948); choosing measurements
by expected entropy as in de Kleer and Williams (1987).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import log2

from narrator.job.record import TestRow
from narrator.training.course import Course
from narrator.training.figure import Figure


@dataclass(frozen=True, slots=True)
class Priors:
    """What was believed before the tests: a weight for each component (1 where none is stated), and one for a
    cause that nobody has named."""

    unnamed: float = 1.0
    weights: Mapping[str, float] | None = None

    def of(self, component: str) -> float:
        """The weight of a suspect."""
        return (self.weights or {}).get(component, 1.0)


EQUAL = Priors()
"""Every open suspect, and all that is unnamed taken together, alike."""


@dataclass(frozen=True, slots=True)
class Told:
    """What one test could tell and told.

    ``bears`` of the ``open`` suspects it speaks to. ``splits``: it speaks to the only open suspect, or to
    some of several and not to all. ``expected`` and ``gained`` are in bits; an inconclusive test gained none.
    """

    test: str
    open: int
    bears: int
    splits: bool
    expected: float
    gained: Figure


def entropy(weights: Sequence[float]) -> float:
    """Bits of doubt among alternatives with these weights; none where nothing is left to doubt."""
    total = sum(weights)
    shares = [w / total for w in weights if w > 0] if total else []
    return -sum(p * log2(p) for p in shares) or 0.0


def told(course: Course, test: TestRow, priors: Priors = EQUAL) -> Told:
    """What a test could tell about the suspects that were open when it began."""
    suspects = course.open_for(test)
    inside = [priors.of(h.component) for h in suspects if h.id in test.hypotheses]
    outside = [priors.of(h.component) for h in suspects if h.id not in test.hypotheses]
    alike = not inside or (not outside and len(inside) > 1)
    before = entropy([*inside, *outside, priors.unnamed])
    bad = before - entropy(inside) if inside else 0.0
    good = before - entropy([*outside, priors.unnamed]) if inside else 0.0
    total = sum(inside) + sum(outside) + priors.unnamed
    share = sum(inside) / total if total else 0.0
    gained = {"fail": bad, "pass": good}.get(test.outcome, 0.0)
    sure = test.outcome != "inconclusive" and course.sure(test.utterances)
    return Told(
        test=test.id,
        open=len(suspects),
        bears=len(inside),
        splits=not alike,
        expected=entropy([share, 1 - share]),
        gained=Figure.exact(gained) if sure else Figure.of(gained, 0.0, bad, good),
    )
