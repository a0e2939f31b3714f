"""The state in which a reading was taken, on sentences that no narration holds."""

from __future__ import annotations

import pytest

from narrator.job.compile import compile_record
from narrator.language.reader import Reader
from narrator.values import Utterance


@pytest.mark.parametrize(
    ("text", "condition"),
    [
        ("thirteen point nine volts with both fuel pumps running", "with both fuel pumps running"),
        ("twelve point one volts with all the lights on", "with all the lights on"),
        ("if it reads eleven volts there it's a good wire", None),
    ],
)
def test_the_state_of_a_reading_is_told_in_the_words_said(text, condition):
    told = compile_record(Reader(use_model=False).read([Utterance(1, 1.0, 4.0, text)]), rules="")
    assert [row.condition for row in told.measurements] == [condition]
