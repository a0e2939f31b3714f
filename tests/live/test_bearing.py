from __future__ import annotations

import pytest

from narrator.live.bearing import Bearing

BEARING = Bearing(("attention please", "potential please"))


@pytest.mark.parametrize(
    "text",
    [
        "attention three mark that on the other", "the tension plate is hardly tending",
        "potentially that family", "a tension please", "it was a potential thing",
    ],
)  # fmt: skip
def test_something_like_the_phrase_bears_a_command_out(text: str) -> None:
    assert BEARING.out([text.split()])
    assert BEARING.out([["nothing"], text.split()]), "one reading is enough"


@pytest.mark.parametrize(
    "text",
    [
        "", "two hose clips and both return screws off", "twenty two mil screws from the ground",
        "the extension and the seventeen", "please pass the police report", "it will need an injection pump",
    ],
)  # fmt: skip
def test_narration_bears_none_out(text: str) -> None:
    assert not BEARING.out([text.split()])


def test_of_a_phrase_of_short_words_only_the_whole_counts() -> None:
    own = Bearing(("hey shop",))
    assert own.out(["hey shop pause".split()])
    assert not own.out(["the strap is cold".split()])
    assert not own.out([])


def test_what_stands_behind_something_like_the_phrase_is_told() -> None:
    assert BEARING.behind("it said attention clean sum up".split())[-2:] == [["sum", "up"], ["up"]]
    assert BEARING.behind("two hose clips and both return screws off".split()) == []
    assert BEARING.out(["the pension clean mark that".split()])
    assert ["clean", "mark", "that"] in BEARING.behind("the pension clean mark that".split())
