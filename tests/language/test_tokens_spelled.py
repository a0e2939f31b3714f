"""Letters and numbers spelled aloud, as a dictation engine punctuates them."""

from __future__ import annotations

import pytest

from narrator.language.pipeline import workspaces
from narrator.language.tokens import split_words
from narrator.values import PartNumber


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


@pytest.mark.parametrize(
    ("heard", "words"),
    [
        ("it's the M10s, isn't it", ["it", "'s", "the", "m10s", "isn't", "it"]),
        ("12.4V at .5A, 3/8 off", ["12.4", "v", "at", "0.5", "a", "3/8", "off"]),
        ("x-ray x ray 90%", ["x-ray", "x-ray", "90", "%"]),
        ("off - on", ["off", "on"]),
    ],
)
def test_each_word_stands_where_it_was_heard(heard: str, words: list[str]) -> None:
    for said in (heard, f"{heard} um {heard}"):
        notes = split_words(said)
        assert notes.words == (words if said == heard else [*words, "um", *words])
        places = [said[start:end].lower().replace(" ", "-") for start, end in notes.source]
        assert [place.replace(".5", "0.5") if place == ".5" else place for place in places] == notes.words


@pytest.mark.parametrize(
    ("said", "number"),
    [
        ("a new speed sensor is wk zero eight eight two", "WK0882"),
        ("the bearing comes as a kit dr one one eight a hundred thirty four dollars", "DR118"),
        ("seal kit trs four oh thirty one pound twenty", "TRS40"),
        ("sender is gt six one eight zero at thirty one pounds", "GT6180"),
        ("new coil number k j four four one two, thirty eight fifty", "KJ4412"),
        ("it makes rpm one two three four", None),
        ("hmm one two three four of them", None),
        ("the cat one two three four", None),
    ],
)
def test_letters_heard_as_one_word_begin_a_part_number(said: str, number: str | None) -> None:
    found = [e.number for e in workspaces([said])[0].entities if isinstance(e, PartNumber)]
    assert found == ([number] if number else [])
