"""Conclusions that the acts of a line do not tell: invented sentences, acts and their scores given."""

from __future__ import annotations

from dataclasses import replace

from narrator.job import judged
from narrator.job.compile import compile_record
from narrator.job.line import Line
from narrator.language.reader import Reader
from narrator.values import ACTS, Act, Understood, Utterance

Said = tuple[Act, str, dict[str, float]]


def heard(*said: Said) -> list[Understood]:
    told = [Utterance(n, n * 5.0, n * 5.0 + 4, text) for n, (_, text, _) in enumerate(said, start=1)]
    read = Reader(use_model=False).read(told)
    return [
        replace(one, acts=(act,), likely=tuple(scores.get(a, 0.01) for a in ACTS))
        for one, (act, _, scores) in zip(read, said, strict=True)
    ]


def standings(*said: Said) -> dict[str | None, list[tuple[str, int]]]:
    record = compile_record(heard(*said))
    return {h.component: [(row.status, row.utterance) for row in h.history] for h in record.hypotheses}


DOUBT: Said = ("hypothesis", "could be the alternator or the fuel pump", {"hypothesis": 0.99})


def test_a_result_that_is_almost_a_clearing_clears_the_open_suspect_it_names() -> None:
    told = standings(DOUBT, ("result", "the alternator is all good", {"result": 0.5, "ruled_out": 0.5}))
    assert told["alternator"][-1] == ("ruled_out", 2)
    assert told["fuel pump"] == [("open", 1)]


def test_what_is_merely_seen_clears_nothing() -> None:
    told = standings(
        DOUBT, ("observation", "a label on the alternator", {"observation": 0.99, "ruled_out": 0.02})
    )
    assert told["alternator"] == [("open", 1)]


def test_what_is_open_at_the_end_is_settled_by_the_line_that_did_it_most_plainly() -> None:
    told = standings(
        DOUBT,
        ("result", "there it is the fuel pump is seized solid", {"result": 0.5, "confirmed": 0.9}),
        ("aside", "tea first", {"aside": 0.99}),
    )
    assert told["fuel pump"][-1] == ("confirmed", 2)


def test_a_suspicion_long_before_is_not_settled_by_itself() -> None:
    assert standings(DOUBT)["fuel pump"] == [("open", 1)]


def test_the_models_look_at_as_many_things_as_they_have_weights() -> None:
    line = Line(heard(DOUBT)[0])
    row = judged.features(line, line.components[0], judged.Standing())
    assert len(row) == len(judged.NAMES) == len(set(judged.NAMES))


def test_without_scores_of_acts_nothing_is_judged() -> None:
    line = Line(replace(heard(DOUBT)[0], likely=()))
    assert judged.judge(line, line.components[0], judged.Standing()) is None
