"""Letters and numbers spelled aloud, as a dictation engine punctuates them."""

from __future__ import annotations

import pytest

from narrator.language.tokens import split_words


@pytest.mark.parametrize(
    ("text", "marks"),
    [
        ("part number H. C. 7740.", {5: "."}),
        ("the number is M. C. dash two two oh nine", {}),
        ("the P. C. V. valve is stuck. Two bolts out", {4: ".", 7: "."}),
        ("vin is sierra victor alpha, six delta, two kilo", {}),
        ("number g, t, eight, eight, dash three one", {}),
        ("alpha, six bolts out", {1: ","}),
    ],
)
def test_stops_and_commas_among_what_is_spelled_say_nothing(text: str, marks: dict[int, str]) -> None:
    assert split_words(text).marks == marks


@pytest.mark.parametrize("text", ["three X-ray Juliet", "three x ray juliet"])
def test_x_ray_is_one_word(text: str) -> None:
    assert split_words(text).words == ["three", "x-ray", "juliet"]


def test_a_word_is_the_same_object_wherever_it_is_said() -> None:
    one, two = split_words("Bleed the brakes"), split_words("4 brakes, bleed the rest")
    assert one.words[0] is two.words[2]
    assert one.words[2] is two.words[1]
