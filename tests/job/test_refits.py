"""What goes back by a part, a number or a pointing word; new ones beside old ones. Invented sentences."""

from __future__ import annotations

from dataclasses import replace

import pytest

from narrator.job.fasteners import FastenerLedger
from narrator.job.line import Line
from narrator.job.motion import Motion
from narrator.job.renewed import new_ones
from tests.job.test_fastener_ledger import totals, understood

PANEL = "engine panel off eight thirteen mil bolts"
HATCH = "hatch off three ten mil bolts"


def told(*lines: str) -> dict[str, tuple[int, int]]:
    """Totals by kind and size where the network is sure that the last line puts fasteners back."""
    ledger = FastenerLedger()
    read = understood(list(lines))
    for n, one in enumerate(read, 1):
        moves = ((0.0, 0.95),) * len(one.tokens) if n == len(read) else ()
        ledger.read(Line(replace(one, moves=moves)))
    return {f"{r.kind} {r.size.value if r.size else 0:g}": (r.removed, r.installed) for r in ledger.rows()}


@pytest.mark.parametrize(
    ("line", "panel", "hatch"),
    [
        ("panel home again, the back pair first, then the others, all but one", 7, 0),
        ("panel up, everything but the two at the bottom", 6, 0),
        ("hatch closed, those three", 0, 3),
        ("the same three go back", 0, 3),
        ("engine panel, all of them", 8, 0),
        ("panel again, the front two and the bottom three", 5, 0),
    ],
)
def test_a_line_that_puts_back_finds_its_group(line: str, panel: int, hatch: int) -> None:
    assert told(PANEL, HATCH, line) == {"bolt 13": (8, panel), "bolt 10": (3, hatch)}


def test_the_network_alone_puts_nothing_back_where_it_is_not_sure() -> None:
    quiet = understood([PANEL, HATCH, "panel again, all but one"])
    ledger = FastenerLedger()
    for one in quiet:
        ledger.read(Line(replace(one, moves=((0.0, 0.3),) * len(one.tokens))))
    assert all(row.installed in (0, row.removed) for row in ledger.rows())


@pytest.mark.parametrize(
    ("line", "new"),
    [
        ("three old screws and a new one", 1),
        ("two old allens and one brand new one for the burnt one", 1),
        ("six of the old clips and two out of the packet", 2),
        ("three screws and one from my own box", 1),
        ("seven old bolts and two brand new ones", 2),
        ("three old nuts and one for the one that broke", 1),
        ("two old nuts and a new clamp at the back", 0),
        ("four bolts out of the cover and one out of the bracket", 0),
    ],
)
def test_new_ones_beside_old_ones(line: str, new: int) -> None:
    (one,) = understood([line])
    assert new_ones(Motion(Line(one)), 2, len(one.tokens)) == new


@pytest.mark.parametrize(
    ("lines", "ledger"),
    [
        (
            ["lid off four screws", "lid back with three old screws and one out of the jar"],
            {"screw -": (4, 4)},
        ),
        (
            [
                "guard off three ten mil nuts",
                "guard back with two nuts cause the third one went down the drain",
            ],
            {"nut 10mm": (3, 2)},
        ),
        (
            [
                "plate off two five mil allen screws",
                "head off two ten mil bolts",
                "plate on with both allens",
            ],
            {"screw 5mm": (2, 2), "bolt 10mm": (2, 0)},
        ),
        (
            [
                "wheels off fifteen twenty mil nuts",
                "wheels back, eight nuts on this side, seven on the other",
            ],
            {"nut 20mm": (15, 15)},
        ),
        (
            ["wheel off five nineteen mil nuts", "wheel on five nuts no wait make that four"],
            {"nut 19mm": (5, 4)},
        ),
        (["undertray off seven t thirty screws", "tray back on"], {"screw T30": (7, 7)}),
        (["plug off and one clip with it", "a tie where its clip used to be"], {"clip -": (1, 0)}),
        (["cover off six clips", "no clips left in it so far"], {"clip -": (6, 0)}),
    ],
)
def test_by_rules_alone(lines: list[str], ledger: dict[str, tuple[int, int]]) -> None:
    assert totals(lines) == ledger
