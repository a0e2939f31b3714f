"""What the ledgers cost grows as a session does: counted in calls, whatever the load of the machine."""

from __future__ import annotations

import sys
from typing import Any

from narrator.job.compile import compile_record
from narrator.language import Reader
from narrator.values import Understood
from tests.bench.understanding import session


def calls(understood: list[Understood]) -> int:
    """How many functions are called to compile a session."""
    count = 0

    def told(_frame: Any, event: str, _given: Any) -> None:
        nonlocal count
        count += event in ("call", "c_call")

    sys.setprofile(told)
    try:
        compile_record(understood, rules="")
    finally:
        sys.setprofile(None)
    return count


def test_lines_that_are_seven_times_and_a_half_as_many_take_as_many_times_the_calls() -> None:
    understood = list(Reader().read(session(None, 3000)))
    calls(understood[:100])  # what is read from files once
    few, many = calls(understood[:400]), calls(understood)
    assert 6.5 < many / few < 7.8
