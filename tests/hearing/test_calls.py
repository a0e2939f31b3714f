from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from narrator.hearing import calls
from narrator.hearing.calls import CallEar, each
from narrator.hearing.segmenter import Segment
from narrator.hearing.voice import FRAME
from narrator.hearing.vosk_engine import UNKNOWN
from narrator.paths import GRAMMARS
from narrator.values import Word

CALLS = [
    ["attention please strike that", "attention please scratch that"],
    ["attention please mark this"],
    [f"attention please make that {UNKNOWN}"],
    ["attention please close the job"],
    ["attention please close the door"],
]


class Grammar:
    heard = ""

    def __init__(self, folder: object) -> None:
        self.grammar: list[str] = []

    def set_grammar(self, phrases: Sequence[str], *, skip_unknown: bool = False) -> list[str]:
        return [phrase for phrase in phrases if "mark" in phrase]

    def decode(self, segment: Segment) -> list[Word]:
        return words(self.heard)


class Free:
    """Fits a text the better the more it is like ``said``."""

    said = ""
    frames = 100

    def hear(self, segment: Segment) -> list[Word]:
        return words(self.said)

    def scores(self, samples: object) -> np.ndarray:
        return np.zeros((self.frames, 2), np.float32)

    def fits(self, scores: np.ndarray, texts: Sequence[Sequence[str]]) -> list[float]:
        said = self.said.split()
        return [
            -20.0 * (sum(a != b for a, b in zip(text, said, strict=False)) + abs(len(text) - len(said)))
            for text in texts
        ]

    def times(self, scores: np.ndarray, text: Sequence[str]) -> list[tuple[float, float]]:
        return [(0.2 * i, 0.2 * i + 0.2) for i in range(len(text))]


def words(text: str) -> list[Word]:
    return [Word(word, 0.0, 0.1) for word in text.split()]


def called_all(
    heard: str, said: str, monkeypatch: pytest.MonkeyPatch, seconds: float = 2.0
) -> tuple[list[tuple[str, float]], list[Word]]:
    monkeypatch.setattr(calls, "VoskDecoder", Grammar)
    monkeypatch.setattr(calls, "ShopEar", Free)
    monkeypatch.setattr(Grammar, "heard", heard)
    monkeypatch.setattr(Free, "said", said)
    count = round(seconds * 16_000 / FRAME)
    found = CallEar(CALLS).decode(Segment(0, np.zeros(count * FRAME, np.float32), np.ones(count, np.bool_)))
    return [(" ".join(w.word for w in one), one[0].conf or 0.0) for one in each(found)], found


def called(heard: str, said: str, monkeypatch: pytest.MonkeyPatch, seconds: float = 2.0) -> tuple[str, float]:
    told, _ = called_all(heard, said, monkeypatch, seconds)
    return told[0] if told else ("", 0.0)


def test_a_call_that_fits_is_given_with_how_well(monkeypatch: pytest.MonkeyPatch) -> None:
    said = "attention please strike that"
    assert called(said, said, monkeypatch) == (said, 1.0)
    phrase, sure = called(said, "the tension strike that", monkeypatch)
    assert phrase == said
    assert 0.0 < sure < 0.6
    less = called("attention strike that", "the tension strike that", monkeypatch)
    assert 0.0 < less[1] < sure, "what the grammar heard word by word may fit a little worse"


def test_what_was_heard_freely_is_told_beside_the_call(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(calls, "VoskDecoder", Grammar)
    monkeypatch.setattr(calls, "ShopEar", Free)
    monkeypatch.setattr(Grammar, "heard", "attention please strike that")
    monkeypatch.setattr(Free, "said", "the tension strike that")
    found = CallEar(CALLS).decode(Segment(0, np.zeros(100 * FRAME, np.float32), np.ones(100, np.bool_)))
    assert [word.other for word in found] == ["the tension strike that"] * 4


def test_of_the_calls_like_what_the_grammar_heard_the_one_that_fits_best_is_given(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    said = "attention please scratch that"
    assert called("attention please strike that", said, monkeypatch) == (said, 1.0)
    said = "attention please close the door"
    assert called("attention please close job", said, monkeypatch) == (said, 1.0)


def test_two_meanings_that_fit_alike_are_no_call(monkeypatch: pytest.MonkeyPatch) -> None:
    _, sure = called("attention please close the", "attention please close the", monkeypatch)
    assert sure <= 0.5, "none of them does by itself"


def test_calls_that_do_not_do_by_themselves_are_told_by_half_as_sure(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(calls, "_WITHIN", 25.0)
    told, _ = called_all("attention please close the", "attention please close the door", monkeypatch)
    assert [phrase for phrase, _ in told] == [
        "attention please close the door",
        "attention please close the job",
    ]
    assert told[0][1] == 1.0
    assert 0.0 < told[1][1] <= 0.5
    monkeypatch.undo()
    told, _ = called_all("attention please close the", "attention please close the door", monkeypatch)
    assert [phrase for phrase, _ in told] == ["attention please close the door"], "the other fits far worse"


def test_free_words_do_not_hide_that_the_phrase_does_not_fit(monkeypatch: pytest.MonkeyPatch) -> None:
    said = "attention peas make that eight bolts"
    short = called("attention please make", said, monkeypatch)
    monkeypatch.setattr(Free, "frames", 1000)
    assert called("attention please make", said, monkeypatch) == short
    assert short[0] == "attention please make that"
    assert short[1] <= 0.5, "a call with free words must be surer to do by itself"
    plain = called("attention please make that", said, monkeypatch)
    assert plain[1] > 0.7, "or be heard word by word, and no other near to it"


def test_words_of_the_grammar_in_other_speech_are_no_call(monkeypatch: pytest.MonkeyPatch) -> None:
    assert called("that please", "bring me that please", monkeypatch) == ("", 0.0)
    assert called("", "the strap is loose", monkeypatch) == ("", 0.0)


def test_free_words_after_a_call_do_not_count_against_it(monkeypatch: pytest.MonkeyPatch) -> None:
    said = "attention please make that eight bolts"
    assert called("attention please make that", said, monkeypatch) == ("attention please make that", 1.0)


def test_what_rang_before_a_call_is_none_of_it(monkeypatch: pytest.MonkeyPatch) -> None:
    class Timed(Grammar):
        def decode(self, segment: Segment) -> list[Word]:
            return [Word(w, 0.3 * i, 0.3 * i + 0.3) for i, w in enumerate(self.heard.split())]

    monkeypatch.setattr(calls, "VoskDecoder", Timed)
    monkeypatch.setattr(calls, "ShopEar", Free)
    monkeypatch.setattr(Timed, "heard", "attention job that job attention please strike that")
    monkeypatch.setattr(Free, "said", "attention please strike that")
    found = CallEar(CALLS).decode(Segment(0, np.zeros(200 * FRAME, np.float32), np.ones(200, np.bool_)))
    assert " ".join(word.word for word in found) == "attention please strike that"
    assert abs(found[0].start - (4 * 0.3 - calls.AROUND_S)) < 0.03


def test_free_words_after_a_call_cost_the_more_the_more_they_are(monkeypatch: pytest.MonkeyPatch) -> None:
    free = CALLS[2][0].removesuffix(f" {UNKNOWN}").split()
    call = calls._Call(free, True, 0)
    losses = [loss for _, loss in call.ways([*free, "eight", "bolts"])]
    assert losses == sorted(losses, reverse=True)
    assert losses[0] > losses[-1] > 0.0
    assert call.ways(free)[-1][0] != free, "a call that goes on is not the phrase alone"
    closed = calls._Call(free, False, 0).ways([*free, "eight"])
    assert closed[0] == (free, 0.0)
    assert closed[-1][0] == [*free, "eight"]
    assert closed[-1][1] > call.ways([*free, "eight"])[-1][1], "behind it nothing is expected"


def test_talk_that_runs_into_a_call_hides_it_no_longer_and_is_none_of_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    said = "attention please strike that and then gave up"
    told, found = called_all(said, said, monkeypatch)
    assert told[0] == ("attention please strike that", 1.0)
    assert {word.end for word in each(found)[0]} == {0.8}
    hidden = "attention please strike it and then gave up"
    told, _ = called_all("attention please strike", hidden, monkeypatch)
    assert told[0][1] <= 0.5, "other talk hides a misfit as free words do"


def test_a_call_whose_words_the_model_lacks_and_a_long_piece_are_not_heard(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert (
        called("attention please mark this", "attention please mark this", monkeypatch)[0]
        != "attention please mark this"
    )
    said = "attention please strike that"
    assert called(said, said, monkeypatch, seconds=9.0) == ("", 0.0)


def test_a_long_piece_is_heard_from_where_a_call_begins(monkeypatch: pytest.MonkeyPatch) -> None:
    class Late(Grammar):
        def decode(self, segment: Segment) -> list[Word]:
            return [Word(w, 3.0 + 0.3 * i, 3.3 + 0.3 * i) for i, w in enumerate(self.heard.split())]

    said = "attention please strike that"
    monkeypatch.setattr(calls, "VoskDecoder", Late)
    monkeypatch.setattr(calls, "ShopEar", Free)
    monkeypatch.setattr(Late, "heard", said)
    monkeypatch.setattr(Free, "said", said)
    found = CallEar(CALLS).decode(Segment(0, np.zeros(500 * FRAME, np.float32), np.ones(500, np.bool_)))
    assert " ".join(word.word for word in found) == said


@pytest.mark.engine
def test_the_second_ear_knows_every_word_of_the_commands() -> None:
    pytest.importorskip("vosk")
    from narrator.hearing.second_ear import FOLDER  # noqa: PLC0415
    from narrator.hearing.vosk_engine import VoskDecoder  # noqa: PLC0415
    from narrator.live.grammar import read_commands  # noqa: PLC0415

    calls = read_commands(GRAMMARS / "commands.jsgf").calls()
    phrases = [phrase for ways in calls for phrase in ways]
    assert VoskDecoder(FOLDER).missing_words(phrases) == []
