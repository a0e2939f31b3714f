"""Which fasteners a word of motion moves, and which way: invented sentences, all of them steps."""

from __future__ import annotations

import pytest

from tests.job.test_repeats import counts

Ledger = dict[tuple[str, float | None], tuple[int, int]]


@pytest.mark.parametrize(
    ("lines", "ledger"),
    [
        (
            ["cover off four ten mil bolts", "cover back on four bolts", "then four bolts out four bolts in"],
            {("bolt", 10): (8, 8)},
        ),
        (["two eight mil nuts off, the new fuse on, two nuts on again, just snug"], {("nut", 8): (2, 2)}),
        (
            [
                "five nineteen mil lug nuts off",
                "spindle nut off",
                "wheel on five lug nuts",
                "spindle nut back on",
            ],
            {("nut", 19): (5, 5), ("nut", None): (1, 1)},
        ),
        (
            ["cover open nine eight mil bolts", "cover back all nine bolts", "nine bolts out once more"],
            {("bolt", 8): (18, 9)},
        ),
        (
            ["six t twenty screws out", "and if the screw falls out of there it stays"],
            {("screw", 20): (6, 0)},
        ),
        (["four screws out", "three screws back in", "one screw on the bench"], {("screw", None): (4, 3)}),
        (["harness down four clamps one ten mil bolt each"], {("clamp", None): (4, 0), ("bolt", 10): (4, 0)}),
        (
            ["metal coupling on the shaft, one two point five mil grub screw, drop of threadlocker"],
            {("screw", 2.5): (0, 1)},
        ),
        (["run one self tapping screw in the frame"], {("screw", None): (0, 1)}),
        (["undertray off nine t thirty screws wait eight of them"], {("screw", 30): (8, 0)}),
        (["two flare nuts off inch and an eighth"], {("nut", 1.125): (2, 0)}),
        (["it's never had a clip on it"], {}),
    ],
)
def test_ledger(lines: list[str], ledger: Ledger) -> None:
    assert {k: v for k, v in counts(*lines).items() if v != (0, 0)} == ledger
