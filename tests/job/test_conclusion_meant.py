"""Which of a line's things a conclusion is about, where the network doubts the rules' choice."""

from __future__ import annotations

from dataclasses import replace

from narrator.job.conclusion import settled_by
from narrator.job.line import Line
from narrator.language.reader import Reader
from narrator.values import Utterance


def line(text: str, **shares: float) -> Line:
    [one] = Reader(use_model=False).read([Utterance(1, 0.0, 1.0, text)])
    return Line(replace(one, meant=tuple(shares.get(word, 0.0) for word in one.tokens)))


def settled(text: str, **shares: float) -> str | None:
    found = settled_by(line(text, **shares))
    return found.name if found else None


def test_the_thing_meant_is_taken_where_the_first_one_is_doubted() -> None:
    said = "look the bracket has rubbed a hole in the fuel hose"
    assert settled(said, bracket=0.1, hose=0.9) == "fuel hose"
    assert settled(said, bracket=0.6, hose=0.9) == "bracket"


def test_without_a_judgement_the_rules_choose() -> None:
    said = "look the bracket has rubbed a hole in the fuel hose"
    assert settled(said) == settled(said, bracket=0.1, hose=0.3) == "bracket"
