from __future__ import annotations

import io
from dataclasses import replace
from typing import get_args

import pytest
from rich.console import Console

from narrator.cli.screen import Screen
from narrator.hearing.level import Level
from narrator.live.view import State, Understanding, View

VIEW = View(
    "listening", "Bench USB mic", 754.0, Level(-18, -30), "cleaned the strap and",
    Understanding(("Strap is loose.", "Two bolts off."), ("ground strap corroded",), ("2 bolts 10 mm",)),
    "2009 Ardenna Volo", "Corrected: 12.6 V.", "", 31, 0, 0.2, True, 1900.0,
)  # fmt: skip


def drawn(view: View, width: int = 100, height: int = 30) -> str:
    out = io.StringIO()
    console = Console(file=out, width=width, height=height, color_system=None)
    console.print(Screen(view), height=height)
    return out.getvalue()


@pytest.mark.parametrize(("width", "height"), [(80, 24), (100, 30), (160, 50)])
@pytest.mark.parametrize("state", get_args(State))
def test_the_state_is_large_and_everything_fits(state: State, width: int, height: int) -> None:
    lines = drawn(replace(VIEW, state=state), width, height).splitlines()
    large = [line for line in lines if line.count("█") > 6 and "dB" not in line]
    assert len(large) >= 6, "letters of six lines at least"
    assert max(map(len, lines)) <= width
    assert len([line for line in lines if line.strip()]) <= height
    assert any("Suspects open (1)" in line and "Fasteners off (1)" in line for line in lines)
    assert any("2 bolts 10 mm" in line for line in lines)


def test_no_two_states_look_alike() -> None:
    shapes = {state: drawn(replace(VIEW, state=state)).split("REC")[0] for state in get_args(State)}
    assert len(set(shapes.values())) == len(shapes)


def test_it_says_whether_it_records_and_what_is_wrong() -> None:
    assert "REC" in drawn(VIEW)
    assert "disk 31:40 h" in drawn(VIEW)
    assert "… cleaned the strap and" in drawn(VIEW)
    bad = drawn(
        replace(
            VIEW, kept=False, level=Level(-90, -90, False, True), minutes_left=12.0, behind=40.0, gaps=2,
            question="Strike 'x'? Say yes or no.",
        ),
        width=140,
    )  # fmt: skip
    for text in ("not recording", "NO SOUND", "disk 12 min", "text 40 s behind", "gaps 2", "Say yes or no"):
        assert text in bad
    assert "CUT OFF" in drawn(replace(VIEW, level=Level(0, -3, True)))


def test_what_matters_stands_before_the_microphones_name() -> None:
    line = next(one for one in drawn(replace(VIEW, kept=False), 80, 24).splitlines() if "dB" in one)
    assert "disk 31:40 h" in line


def test_what_was_heard_cannot_steer_the_terminal() -> None:
    assert "\x1b" not in drawn(replace(VIEW, partial="\x1b[2J", message="\x1b]0;x\x07", vehicle="\x1b[31m"))


def test_a_small_window_still_says_the_state() -> None:
    assert "LISTENING" in drawn(VIEW, 60, 12)
