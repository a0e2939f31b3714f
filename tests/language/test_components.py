from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from narrator.language.components import components
from narrator.language.terms import terms
from narrator.language.tokens import Notes, split_words
from narrator.values import Component, Entity, Fastener, Material, Position, Tool
from tests.language.quantity_notation import session


def read(text: str, taken: tuple[Entity, ...] = ()) -> Notes:
    notes = split_words(text)
    notes.entities.extend(taken)
    terms(notes)
    components(notes)
    return notes


def names(text: str, sort: type[Entity] = Component) -> list[str]:
    return [e.name for e in read(text).entities if isinstance(e, sort)]  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("the left rear door harness boot is torn", ["left rear door harness boot"]),
        ("brake light switch bracket is bent", ["brake light switch bracket"]),
        ("so it's the relay socket", ["relay socket"]),
        ("the condenser fan motor is seized", ["condenser fan motor"]),
        ("the p c v valve rattles", ["pcv valve"]),
        ("a c blows warm and the o two sensor is new", ["a/c", "o2 sensor"]),
        ("have a look at the slave", ["slave"]),
        ("two new front brake discs", ["front brake disc"]),
        ("fuse eight shows nothing", ["fuse eight"]),
        ("pin eighty seven is spread", ["pin eighty seven"]),
        ("upper radiator hose and lower arm bushings", ["upper radiator hose", "lower arm bushing"]),
        ("the mower deck spindle bearing is rough", ["mower deck spindle bearing"]),
        ("hub motor connector got wet", ["hub motor connector"]),
        ("Strut: out. Drop link, one 15.", ["strut", "drop link"]),
        ("the pump is dry", ["pump"]),
        ("module unplugged and it falls", ["module"]),
        ("not a thing wrong with the amp", ["amp"]),
        ("the passenger mirror is dead", ["mirror"]),
        ("left mirror glass is cracked", ["left mirror glass"]),
        ("the left leg is wet", ["leg"]),
        ("side stand switch is broken", ["side stand switch"]),
        ("the centre swivel leaks across", ["centre swivel"]),
    ],
)  # fmt: skip
def test_parts_keep_the_words_said(text: str, parts: list[str]) -> None:
    assert names(text) == parts


@pytest.mark.parametrize(
    "text",
    [
        "if you pump it a bunch it comes back",
        "i plug the port and push",
        "it cranks fine but it won't start",
        "engine off and key in my pocket",
        "drain it and fill it again",
        "she smells burning oil at the stop lights",
        "that one is fine",
        "took it round the block",
        "seal it and lock it",
        "my fingers are cold and so is my arm",
        "up on the stand it is quiet",
        "i hang it up on a hook",
        "hand pump on it and a mirror behind it",
    ],
)
def test_what_is_no_part(text: str) -> None:
    assert names(text) == []


@pytest.mark.parametrize(
    ("text", "sort", "found"),
    [
        ("put the multimeter on it", Tool, ["multimeter"]),
        ("vice grips and a pry bar", Tool, ["vice grips", "pry bar"]),
        ("spring compressors on again", Tool, ["spring compressor"]),
        ("look behind it with a mirror", Tool, ["mirror"]),
        ("a length of clear hose into the feed", Tool, ["clear hose"]),
        ("hand pump on the return side", Tool, ["hand pump"]),
        ("soap water on every union", Material, ["soap water"]),
        ("soak it in penetrating oil", Material, ["penetrating oil"]),
        ("four quarts of fresh oil", Material, ["oil"]),
        ("oil pressure is low", Material, []),
        ("grease the slide pins", Material, []),
        ("a knock from the nearside front", Position, ["nearside front"]),
        ("the passenger spindle is seized", Position, ["passenger"]),
        ("driver's side spindle turns", Position, ["driver's side"]),
        ("the left caliper drags", Position, ["left"]),
        ("right the new relay is in", Position, []),
        ("a clunk from the rear", Position, ["rear"]),
        ("two bolts at the back", Position, []),
    ],
)
def test_tools_materials_positions(text: str, sort: type[Entity], found: list[str]) -> None:
    assert names(text, sort) == found


def test_a_corner_and_a_part_are_two_entities() -> None:
    text = "the front left caliper is seized"
    assert names(text, Position) == ["front left"]
    assert names(text) == ["caliper"]


def test_what_another_stage_took_is_left_alone() -> None:
    text = "hose clamp on the hose"
    clamp = Fastener(span=(0, 10), at=(0, 2), rule="x", kind="clamp")
    assert [e.name for e in read(text, (clamp,)).entities if isinstance(e, Component)] == ["hose"]


def test_a_fasteners_part_is_found_beside_it() -> None:
    assert names("two of the rocker cover bolts are loose") == ["rocker cover"]
    assert names("five wheel nuts off") == []


def test_a_rating_is_no_amplifier() -> None:
    _, notes = session(["unplug the amp and the amp is dead", "the ten amp fuse feeds the amp"])
    assert [e.name for e in notes.entities if isinstance(e, Component)] == ["fuse", "amp"]


def test_spans_point_at_the_words() -> None:
    text = "So the FAN RELAY, it clicks."
    (relay,) = [e for e in read(text).entities if isinstance(e, Component)]
    assert text[slice(*relay.span)] == "FAN RELAY"
    assert relay.head == "relay"


@given(st.text())
@settings(max_examples=200)
def test_any_text(text: str) -> None:
    notes = read(text)
    for entity in notes.entities:
        assert 0 <= entity.span[0] < entity.span[1] <= len(text)
        assert 0 <= entity.at[0] < entity.at[1] <= len(notes.words)


_SOME = "the a left right rear front old brake fuel pump relay valve bolts oil it two eight drain seal 's . ,"


@given(st.lists(st.sampled_from(_SOME.split()), max_size=14))
@settings(max_examples=300)
def test_any_row_of_words_gives_entities_that_do_not_overlap(row: list[str]) -> None:
    ats = sorted(e.at for e in read(" ".join(row)).entities)
    assert all(a[1] <= b[0] for a, b in pairwise(ats))


@pytest.mark.parametrize(
    ("text", "sides"),
    [
        ("left one's forty one degrees and the right one's warm", ["left", "right"]),
        ("no sir and the left one spins like a top", ["left"]),
        ("thirty five millimetre left and seventy right", ["left", "right"]),
        ("same again on the right", ["right"]),
        ("i've left one out on the bench", []),
        ("turn it left turn it right", []),
        ("all right then what is left", []),
        ("that is the right one for it", []),
    ],
)
def test_sides_said_by_themselves(text: str, sides: list[str]) -> None:
    assert names(text, Position) == sides


def test_a_weak_noun_is_a_part_where_something_tells_which() -> None:
    assert names("turn the bar slowly and look at the tray") == ["bar", "tray"]
    assert names("two bar and a tray of tea") == []
