"""The spoken sample as the bundled engine heard it: the first sheet must not blame the wrong part.

``heard_brake_drag.jsonl`` is what ``narrator hear sample_sessions/brake_drag/sound.opus`` gave on 25 November
2026, times, splits and slips as they came.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from narrator.job.compile import compile_record
from narrator.job.record import Record
from narrator.language import Reader
from narrator.utterances import parse_lines


@pytest.fixture(scope="module")
def heard() -> Record:
    lines = Path(__file__).with_name("heard_brake_drag.jsonl").read_text("utf-8").splitlines()
    return compile_record(Reader().read(list(parse_lines(lines))))


def test_the_cause_is_the_one_that_was_named_and_no_other(heard: Record) -> None:
    assert {row.component: row.status for row in heard.hypotheses} == {
        "slide pin": "confirmed",
        "brake hose": "ruled_out",
        "wheel bearing": "ruled_out",
    }


def test_fasteners_parts_and_the_last_check_survive_the_slips(heard: Record) -> None:
    counts = {
        (row.kind, row.size and row.size.value): (row.removed, row.installed) for row in heard.fasteners
    }
    assert counts == {("nut", 19): (5, 5), ("bolt", 14): (2, 2)}
    parts = {row.name: row.state for row in heard.parts}
    assert (parts["slide pin kit"], parts["pad"]) == ("fitted", "needed")
    assert heard.verifications[-1].outcome == "pass"
