"""A few of the trials of ``tests.faults.kill``; docs/measurements/faults.md has the result of two hundred."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.faults.kill import examine, run_and_kill


@pytest.mark.filterwarnings("ignore:.*fork.*:DeprecationWarning")
@pytest.mark.parametrize("after", [0.15, 0.8, 1.4])
def test_killed_in_the_middle_nothing_that_was_kept_is_lost(tmp_path: Path, after: float) -> None:
    lines = run_and_kill(tmp_path, after)
    outcome = examine(tmp_path, lines)
    assert "ended" not in lines
    assert outcome.problems == ()
    assert outcome.missing == 0
    assert outcome.lost_s <= 1.0
