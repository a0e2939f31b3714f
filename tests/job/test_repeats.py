"""What *the same on the other side* repeats: invented sentences, acts given."""

from __future__ import annotations

from tests.job.test_outcome import record


def counts(*lines: str) -> dict[tuple[str, float | None], tuple[int, int]]:
    told = record(*(("step", text) for text in lines))
    return {(f.kind, f.size and f.size.value): (f.removed, f.installed) for f in told.fasteners}


def test_in_the_middle_of_taking_apart_only_that_side_is_repeated() -> None:
    told = counts(
        "mudguard off four eight mil bolts",
        "left fork leg out two six mil pinch bolts",
        "and the same on the right",
    )
    assert told == {("bolt", 8): (4, 0), ("bolt", 6): (4, 0)}


def test_with_all_back_together_the_whole_round_is_repeated() -> None:
    told = counts(
        "left wheel off four nineteen mil nuts",
        "caliper off two fourteen mil bolts",
        "caliper back on both bolts",
        "wheel back on all four nuts",
        "same again on the right side",
    )
    assert told == {("nut", 19): (8, 8), ("bolt", 14): (4, 4)}
