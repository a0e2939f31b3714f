"""The bench of whole jobs in sound: which line an utterance is held against, and what is put together."""

from __future__ import annotations

import numpy as np
import pytest

from narrator.values import SAMPLE_RATE, Utterance
from tests.bench import jobs_in_sound
from tests.bench.gold import Figures
from tests.bench.jobs_in_sound import Job, by_lines, lines_of, row_of, sound_of


def test_an_utterance_counts_for_the_line_that_was_being_said_for_most_of_it() -> None:
    spans = [(1.0, 3.0), (4.0, 6.0), (7.0, 9.0)]
    heard = [
        Utterance(1, 1.1, 2.9, "whole"),
        Utterance(2, 3.9, 7.5, "over two lines"),
        Utterance(3, 7.6, 9.0, "the rest"),
    ]
    assert lines_of(heard, spans) == {1: 1, 2: 2, 3: 3}


def test_what_was_heard_in_parts_is_put_together() -> None:
    rows = [
        {"id": 1, "acts": ["step"], "entities": ["a"]},
        {"id": 2, "acts": ["step", "test"], "entities": ["b"]},
        {"id": 3, "acts": ["aside"], "entities": []},
    ]
    found = by_lines({"utterances": rows, "fasteners": []}, {1: 4, 2: 4, 3: 5})
    assert found == {
        "utterances": [
            {"id": 4, "acts": ["step", "test"], "entities": ["a", "b"]},
            {"id": 5, "acts": ["aside"], "entities": []},
        ],
        "fasteners": [],
    }


def test_a_job_is_spoken_with_its_pauses_and_the_same_each_time(monkeypatch: pytest.MonkeyPatch) -> None:
    def speak(text: str, voice: str) -> np.ndarray:  # type: ignore[type-arg]
        if not text:
            raise ValueError(f"{voice} says nothing")
        return np.full(SAMPLE_RATE * len(text), 0.1, np.float32)

    monkeypatch.setattr(jobs_in_sound, "speak", speak)
    job = Job("z99", "tool:voice", None, 0, (0.5, 1.0))
    sound, spans = sound_of(job, ["ab", "", "c"], [])
    assert [round(end - start) for start, end in spans] == [2, 0, 1]
    pauses = [spans[1][0] - spans[0][1], spans[2][0] - spans[1][1]]
    assert all(0.5 <= pause <= 1.0 for pause in pauses)
    assert len(sound) / SAMPLE_RATE == pytest.approx(spans[-1][1], abs=1.01)
    assert spans == sound_of(job, ["ab", "", "c"], [])[1]
    assert job.file(jobs_in_sound.build.HERE, "flac").name == "z99-tool_voice-quiet-0.5-1.flac"


def test_a_figure_that_nothing_was_asked_for_is_shown_as_none() -> None:
    read, heard = Figures(), Figures()
    read.note("acts", right=3, missed=1)
    heard.note("acts", right=1, missed=3)
    assert row_of("z99", read, heard).startswith("| z99 | 0.857 0.400 |   –    –  |")
