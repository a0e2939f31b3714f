"""What the small models learn from comes from the annotated narrations; those here are our own, invented."""

from __future__ import annotations

from models.understanding import train_balance, train_listed, train_sizes, train_suspects
from models.understanding.corpus import strips

NAME = "v01"


def test_sizes_learn_from_numbers_that_no_rule_entered() -> None:
    found = [e for name in ("r01", NAME) for e in train_sizes.examples(name)]
    assert {e.right for e in found} == {True, False}
    assert len({len(e.row) for e in found}) == 1


def test_names_and_suspects_learn_from_what_was_annotated() -> None:
    assert {e.right for e in train_listed.examples(NAME)} == {True, False}
    assert {e.kind for e in train_suspects.examples(NAME)} == {0, 1, 2}


def test_totals_learn_from_narrations_and_strips() -> None:
    job = train_balance.read_job(NAME)
    assert job.done and any(any(case.right) for case in job.cases)
    strip = train_balance.read_strip(next(strips()))
    assert strip.done and strip.gold and len({len(t.row) for c in strip.cases for t in c.found}) == 1
