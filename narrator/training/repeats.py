"""Tests that were done over again although nothing on the machine had changed."""

from __future__ import annotations

from rapidfuzz.fuzz import token_sort_ratio

from narrator.job.record import TestRow
from narrator.training.course import Course

SAME = 80.0
"""Likeness of wording (rapidfuzz, 0 to 100, words in any order) from which two tests are the same."""
ALIKE = 60.0
"""From here on they may be."""


def repeats(course: Course) -> list[tuple[TestRow, bool, bool]]:
    """Every test but the first, in order: (test, whether it repeats an earlier one, whether that is sure).

    A test repeats an earlier one of the same component that had given a result, told in the same words, with
    no repair between them: a test after a repair asks a new question.
    """
    mended = [course.place(u) for row in course.record.corrections for u in row.utterances[:1]]
    order = course.in_order()
    found: list[tuple[TestRow, bool, bool]] = []
    for n, test in enumerate(order[1:], start=1):
        best = max((_likeness(course, old, test, mended) for old in order[:n]), default=0.0)
        same = best >= SAME
        sure = course.sure(test.utterances) if same else not ALIKE <= best < SAME
        found.append((test, same, sure))
    return found


def _likeness(course: Course, old: TestRow, new: TestRow, mended: list[int]) -> float:
    between = any(course.spoke(old) < place < course.began(new) for place in mended)
    if between or old.outcome == "inconclusive" or not old.component or old.component != new.component:
        return 0.0
    return token_sort_ratio(old.procedure.lower(), new.procedure.lower())
