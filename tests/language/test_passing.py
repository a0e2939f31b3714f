"""Times that only pass are no readings; what is timed is (common practice, no source)."""

from __future__ import annotations

import pytest

from narrator.language.pipeline import pipeline
from narrator.language.reader import Reader
from narrator.values import Measurement, Odometer, Utterance


def times(text: str) -> list[tuple[float, str | None]]:
    [read] = Reader(use_model=False).read([Utterance(1, 0.0, 1.0, text)])
    found = read.entities
    return [(e.value, e.unit) for e in found if isinstance(e, Measurement) and e.quantity == "time"]


@pytest.mark.parametrize(
    "text",
    [
        "give it ten minutes to cool",
        "half an hour and not a drop",
        "run her for quarter of an hour on the hill",
        "After 20 minutes it's still dry.",
    ],
)
def test_what_only_passes_is_no_reading(text: str) -> None:
    assert times(text) == []


@pytest.mark.parametrize(
    ("text", "time"),
    [
        ("it took fourteen minutes to stick", (14, "min")),
        ("drops in two minutes and the book says ten minutes", (2, "min")),
        ("it bleeds down in ninety four seconds", (94, "s")),
        ("empty to seven bar in five minutes and a half", (5.5, "min")),
        ("from nothing to ten bar in eleven minutes", (11, "min")),
    ],
)
def test_what_is_timed_is_a_reading(text: str, time: tuple[float, str]) -> None:
    assert time in times(text)


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("two hundred and eighteen thousand kilometres and every one with the windows down", 218000, "km"),
        ("turned over nine hundred and eighty one thousand two hundred miles last week", 981200, "mi"),
    ],
)
def test_a_great_and_exact_distance_is_on_the_clock(text: str, value: int, unit: str) -> None:
    found = [e for e in pipeline()(text)._.notes.entities if isinstance(e, Odometer)]
    assert [(e.value, e.unit) for e in found] == [(value, unit)]


def test_an_interval_is_not_on_the_clock() -> None:
    for text in ("the belt is good for a hundred thousand kilometres", "due every sixty thousand miles"):
        assert not [e for e in pipeline()(text)._.notes.entities if isinstance(e, Odometer)]


def test_a_distance_driven_is_no_reading() -> None:
    [read] = Reader(use_model=False).read(
        [Utterance(1, 0.0, 1.0, "thirty kilometres of gravel and it is fine")]
    )
    assert not [e for e in read.entities if isinstance(e, Measurement)]


def test_seconds_after_which_something_happens_are_no_reading() -> None:
    assert times("after ten seconds it comes back by itself") == []
    assert times("it holds for ten seconds") == [(10, "s")]
