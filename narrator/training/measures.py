"""Measures of reasoning over one job record; docs/training.md defines each, with an example worked by hand.

Pure functions: nothing is guessed anew from the words, only what the record holds is counted. A count's
low value leaves out what rests on an unsure line (``Course.sure``), its high value adds what such a line
may hide.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import Literal

from narrator.job.record import HypothesisRow, Record
from narrator.training.course import Course
from narrator.training.figure import Figure, count
from narrator.training.fitted import Fitted, fitted
from narrator.training.information import EQUAL, Priors, Told, told
from narrator.training.phases import Phases, phases
from narrator.training.repeats import repeats

Verified = Literal["passed", "failed", "skipped", "no repair"]


@dataclass(frozen=True, slots=True)
class Cause:
    """An independent cause that stood at the end.

    ``rank`` is its place among the suspects in the order first named; ``suspected`` and ``settled`` are
    seconds from the concern; ``tests_before`` counts tests that had spoken before it was first named.
    """

    id: str
    component: str
    rank: Figure
    suspected: float
    settled: float
    tests_before: int


@dataclass(frozen=True, slots=True)
class JobMeasures:
    """All measures of one job; None where a measure has no meaning for it."""

    suspects: Figure
    tests: Figure
    suspects_before_first_test: Figure | None
    cause_rank: Figure | None
    cause_suspected: Figure | None
    tests_a_suspect: Figure | None
    tests_splitting: Figure
    tests_not_splitting: Figure
    bits_expected: float
    bits_gained: Figure
    tests_repeated: Figure
    conclusions_withdrawn: Figure
    suspects_reopened: Figure
    parts_untested: Figure
    parts_unneeded: Figure
    consequences_as_causes: Figure
    causes_found: Figure
    fasteners_left_over: Figure
    verification: Verified
    verification_sure: bool
    phases: Phases
    causes: tuple[Cause, ...]
    told: tuple[Told, ...]
    fitted: tuple[Fitted, ...]
    unneeded_cost: dict[str, Figure]
    """By ISO 4217 code, ``?`` where no currency is known; as priced, whatever number was fitted."""


def measure(record: Record, priors: Priors = EQUAL) -> JobMeasures:
    """Measure one job."""
    course = Course(record)
    answers = tuple(told(course, test, priors) for test in course.in_order())
    sure_tests = {t.id: course.sure(t.utterances) for t in course.tests}
    parts = tuple(fitted(course))
    causes = tuple(_causes(course))
    verification, verification_sure = _verification(course)
    first = causes[0] if causes else None
    return JobMeasures(
        suspects=count((True, course.sure([h.history[0].utterance])) for h in course.suspects),
        tests=count((True, sure) for sure in sure_tests.values()),
        suspects_before_first_test=_before_first_test(course),
        cause_rank=first.rank if first else None,
        cause_suspected=Figure.exact(first.suspected) if first else None,
        tests_a_suspect=_tests_a_suspect(course),
        tests_splitting=count((a.splits, sure_tests[a.test]) for a in answers),
        tests_not_splitting=count((not a.splits, sure_tests[a.test]) for a in answers),
        bits_expected=sum(a.expected for a in answers),
        bits_gained=sum((a.gained for a in answers), Figure.exact(0.0)),
        tests_repeated=count((same, sure) for _, same, sure in repeats(course)),
        conclusions_withdrawn=_turned(course, "confirmed"),
        suspects_reopened=_turned(course, "ruled_out"),
        parts_untested=_untested(parts),
        parts_unneeded=_unneeded(parts),
        consequences_as_causes=_consequences(course),
        causes_found=_found(course),
        fasteners_left_over=_left_over(course),
        verification=verification,
        verification_sure=verification_sure,
        phases=phases(course),
        causes=causes,
        told=answers,
        fitted=parts,
        unneeded_cost=_cost(parts),
    )


def _before_first_test(course: Course) -> Figure | None:
    order = course.in_order()
    if not order:
        return None
    first = course.began(order[0])
    beyond = next((course.began(t) for t in order if course.sure(t.utterances)), len(course.rows))
    opened = [(course.opened(h), course.sure([h.history[0].utterance])) for h in course.suspects]
    return Figure(
        sum(at < first for at, _ in opened),
        sum(at < first and sure for at, sure in opened),
        sum(at < first or at <= beyond for at, _ in opened),
    )


def _causes(course: Course) -> list[Cause]:
    concern = min((u.start for u in course.rows.values() if "concern" in u.acts), default=None)
    began = concern if concern is not None else min((u.start for u in course.rows.values()), default=0.0)
    found = []
    for cause in course.causes():
        at = course.opened(cause)
        found.append(
            Cause(
                id=cause.id,
                component=cause.component,
                rank=_rank(course, cause),
                suspected=course.start(cause.history[0].utterance) - began,
                settled=course.start(course.settled(cause)) - began,
                tests_before=sum(course.spoke(t) < at for t in course.tests),
            )
        )
    return found


def _rank(course: Course, cause: HypothesisRow) -> Figure:
    """1 for the first suspect; those named in one breath keep the record's order, but share the bounds."""
    at = course.opened(cause)
    before = [h for h in course.suspects if course.opened(h) < at]
    breath = [h for h in course.suspects if course.opened(h) == at]
    sure = [h for h in before if course.sure([h.history[0].utterance])]
    return Figure(len(before) + breath.index(cause) + 1, len(sure) + 1, len(before) + len(breath))


def _tests_a_suspect(course: Course) -> Figure | None:
    suspects, tests = len(course.suspects), len(course.tests)
    if not suspects:
        return None
    sure_suspects = sum(course.sure([h.history[0].utterance]) for h in course.suspects)
    sure_tests = sum(course.sure(t.utterances) for t in course.tests)
    return Figure(tests / suspects, sure_tests / suspects, tests / max(1, sure_suspects))


def _turned(course: Course, away_from: str) -> Figure:
    """Changes of status away from one: withdrawals of a conclusion, or suspects brought back."""
    return count(
        (before == away_from, before != away_from or course.sure([u]))
        for h in course.suspects
        for before, _, u in course.turns(h)
    )


def _untested(parts: tuple[Fitted, ...]) -> Figure:
    """Only parts that stand for a suspect count; others might have stood for one that was not understood."""
    return Figure(
        sum(p.suspect is not None and not p.spoken_for for p in parts),
        sum(p.suspect is not None and not p.spoken_for and p.sure for p in parts),
        sum(not p.spoken_for for p in parts),
    )


def _unneeded(parts: tuple[Fitted, ...]) -> Figure:
    return Figure(
        sum(p.unneeded for p in parts),
        sum(p.unneeded and p.sure for p in parts),
        sum(p.unneeded or p.perhaps for p in parts),
    )


def _cost(parts: tuple[Fitted, ...]) -> dict[str, Figure]:
    costs: dict[str, Figure] = defaultdict(lambda: Figure.exact(0.0))
    for part in parts:
        if part.amount is not None and (part.unneeded or part.perhaps):
            price = float(part.amount)
            costs[part.currency or "?"] += Figure(
                price * part.unneeded, price * (part.unneeded and part.sure), price
            )
    return dict(costs)


def _consequences(course: Course) -> Figure:
    """Suspects once called the cause that ended as a consequence of another; a conclusion that was withdrawn
    without a word on what it followed from may have been one."""
    called = [h for h in course.suspects if any(c.status == "confirmed" for c in h.history)]
    known = [h for h in called if h.consequence_of]
    perhaps = [h for h in called if not h.consequence_of and h.status == "ruled_out"]
    sure = sum(course.sure([c.utterance for c in h.history]) for h in known)
    return Figure(len(known), sure, len(known) + len(perhaps))


def _found(course: Course) -> Figure:
    independent = [h for h in course.suspects if not h.consequence_of]
    return count((h.status == "confirmed", course.sure([course.settled(h)])) for h in independent)


def _left_over(course: Course) -> Figure:
    left = [(max(0, f.removed - f.installed), course.sure(f.utterances)) for f in course.record.fasteners]
    total = sum(n for n, _ in left)
    return Figure(total, sum(n for n, sure in left if sure), total)


def _verification(course: Course) -> tuple[Verified, bool]:
    """How the last check after the last repair went."""
    record = course.record
    mended = [course.place(u) for c in record.corrections for u in c.utterances]
    if not mended:
        return "no repair", True
    after = [v for v in record.verifications if v.utterances and course.place(v.utterances[-1]) > max(mended)]
    if not after:
        return "skipped", course.sure(u for c in record.corrections for u in c.utterances)
    last = max(after, key=lambda v: course.place(v.utterances[-1]))
    return ("passed" if last.outcome == "pass" else "failed"), course.sure(last.utterances)
