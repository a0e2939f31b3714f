"""The count of false commands: what is kept of a talk is decided the same way again."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np

from narrator.hearing.segmenter import Segment
from narrator.live.grammar import read_commands
from narrator.paths import GRAMMARS
from narrator.values import SAMPLE_RATE, Word
from tests.bench.false_commands import Repeated, again, figure, kept, lines_of, talks, word_row

COMMANDS = read_commands(GRAMMARS / "commands.jsgf")


def words(text: str, start: float = 0.0, conf: float | None = None) -> list[dict[str, Any]]:
    return [word_row(Word(word, start + i, start + i + 1.0, conf)) for i, word in enumerate(text.split())]


def talk(*utterances: tuple[str, str, float], level: str = "quiet") -> dict[str, Any]:
    """A row: of each utterance what was dictated, what the ear of commands told, and how sure."""
    rows = [
        [
            words(text, 10.0 * n),
            "both",
            SAMPLE_RATE + n,
            [[SAMPLE_RATE + n, words(told, 0.0, sure)]] if told else [],
        ]
        for n, (text, told, sure) in enumerate(utterances)
    ]
    return {
        "talk": "u1",
        "voice": "v",
        "level": level,
        "how": "both ears",
        "seconds": 3600.0,
        "utterances": rows,
        "found": [],
    }


def test_kept_utterances_are_taken_again_by_text_and_ear() -> None:
    row = talk(
        ("it's the bearing", "", 0.0),
        ("attention please strike that", "", 0.0),
        ("attention crews boast this", "attention please mark this", 0.99),
        ("the belt is off", "attention please mark this", 0.5),
    )
    assert [name for name, _ in again(row, COMMANDS)] == ["strike_last", "mark"]


def test_what_was_left_out_is_no_command() -> None:
    row = talk(("attention please strike that", "", 0.0))
    row["utterances"][0][0] = []
    assert again(row, COMMANDS) == []


def test_the_figure_counts_by_level_and_the_phrase_alone_by_itself() -> None:
    rows = [talk(("a", "", 0.0)), talk(("b", "", 0.0), level="made")]
    rows[0]["found"] = [["mark", "a"], ["attention", "a"]]
    quiet, made, together = figure(rows)
    assert (
        "quiet both ears: 1 false commands, 1 times the phrase alone; 1.00 h of sound, 1 utterances" in quiet
    )
    assert "made both ears: 0 false commands" in made
    assert "2.00 h of sound, 2 utterances, 2 talks, 1 voices" in together


def test_the_noted_answer_is_found_by_the_length_of_the_sound() -> None:
    ear = Repeated()
    ear.told = [[SAMPLE_RATE, words("attention please help", 0.0, 0.9)]]

    def heard(samples: int) -> int:
        return len(ear.decode(Segment(0, np.zeros(samples, np.float32), np.ones(1, np.bool_))))

    assert heard(SAMPLE_RATE) == 3
    assert heard(SAMPLE_RATE // 2) == 0


def test_talks_and_rows_are_read(tmp_path: Path) -> None:
    (tmp_path / "a.txt").write_text("one\n\ntwo\n", encoding="utf-8")
    (tmp_path / "b.jsonl").write_text('{"text": "three"}\n', encoding="utf-8")
    (tmp_path / "README.md").write_text("no talk", encoding="utf-8")
    found = {path.stem: lines_of(path) for path in talks([tmp_path])}
    assert found == {"a": ["one", "two"], "b": ["three"]}
    assert kept(tmp_path / "none.jsonl") == []
    (tmp_path / "rows.jsonl").write_text(json.dumps({"talk": "a"}) + "\n", encoding="utf-8")
    assert kept(tmp_path / "rows.jsonl") == [{"talk": "a"}]
