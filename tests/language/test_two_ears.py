from __future__ import annotations

import json

from narrator.job.compile import compile_record
from narrator.language import Reader
from narrator.language.two_ears import ear_looks
from narrator.looks import queue
from narrator.utterances import parse_lines, to_json
from narrator.values import Utterance, Word


def line(*words: tuple[str, str | None]) -> Utterance:
    heard = tuple(Word(w, i / 2, i / 2 + 0.4, 0.9, other) for i, (w, other) in enumerate(words))
    return Utterance(7, 0.0, 5.0, " ".join(w for w, _ in words), heard)


TWO = line(
    ("Undo", None), ("210mm", "two ten mil"), ("bolts,", "two ten mil"), ("nine", "five"), ("volts", None)
)


def test_a_stretch_with_two_readings_gives_one_look_with_both() -> None:
    assert [look.reason for look in ear_looks(TWO)] == [
        "heard as “210mm bolts” and as “two ten mil”",
        "heard as “nine” and as “five”",
    ]
    assert list(ear_looks(line(("two", None), ("bolts", None)))) == []
    (look,) = ear_looks(line(("ten", "")))
    assert "one ear only" in look.reason


def test_two_spellings_of_one_thing_are_not_two_readings() -> None:
    assert list(ear_looks(line(("mill-bolts", "mil bolts")))) == []
    assert list(ear_looks(line(("22", "2")))) != []


def test_a_word_with_two_readings_is_not_called_poorly_heard_as_well() -> None:
    def kinds(other: str | None) -> list[str]:
        one = Utterance(1, 0.0, 3.0, "nine volts", (Word("nine", 0.0, 0.4, 0.1, other),))
        understood = list(Reader(use_model=False).read([one]))
        return [q.kind for q in queue(understood, compile_record(understood), [one])]

    assert "faint" in kinds(None)
    assert "ears" in kinds("five") and "faint" not in kinds("five")


def test_both_readings_survive_the_json_of_utterances() -> None:
    assert next(parse_lines([json.dumps(to_json(TWO))])) == TWO


def test_both_readings_reach_the_record_and_the_queue() -> None:
    understood = list(Reader(use_model=False).read([TWO]))
    record = compile_record(understood)
    told = [row.reason for row in record.looks if row.kind == "ears"]
    assert told == [look.reason for look in ear_looks(TWO)]
    queued = [one for one in queue(understood, record, [TWO]) if one.kind == "ears"]
    assert sorted(one.reason for one in queued) == sorted(told)
    assert {one.utterance for one in queued} == {7}
