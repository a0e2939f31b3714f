from collections import Counter
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from narrator.language.repair import repair, repairer
from narrator.language.repair_rules import rules_data
from narrator.language.tokens import Notes, split_words

RULES = rules_data()


def read(text: str) -> Notes:
    notes = split_words(text)
    repair(notes)
    return notes


def words(text: str) -> list[str]:
    return split_words(text).words


@pytest.mark.parametrize("rule", RULES, ids=[rule["id"] for rule in RULES])
def test_every_rule_reads_its_example_and_leaves_the_other_alone(rule: dict[str, str]) -> None:
    assert read(rule["example"]).words == words(rule["reads"])
    assert read(rule["not"]).words == words(rule["not"])


def test_rule_ids_are_unique() -> None:
    assert max(Counter(rule["id"] for rule in RULES).values()) == 1


def test_a_repair_keeps_what_was_heard_and_where() -> None:
    text = "okay, too ten mil bolts and the kelp or is off"
    notes = read(text)
    assert notes.words == words("okay, two ten mil bolts and the caliper is off")
    assert [(text[slice(*r.span)], r.heard, r.meant) for r in notes.repairs] == [
        ("too", "too", "two"),
        ("kelp or", "kelp or", "caliper"),
    ]
    assert text[slice(*notes.span(7, 8))] == "kelp or"


def test_marks_move_with_joined_words() -> None:
    notes = read("the fan moat are is seized, so that is it")
    assert notes.words[notes.marks and min(notes.marks)] == "so"


def test_a_line_without_slips_is_left_as_it_is() -> None:
    heard = "the brake pads are worn down to metal"
    assert read(heard) == split_words(heard)


@pytest.mark.parametrize(
    ("heard", "meant"),
    [
        ("new radeator in", "new radiator in"),
        ("check the brakepads", "check the brake pads"),
        ("the rear calipper is wet", "the rear caliper is wet"),
        ("a new thermastat", "a new thermostat"),
        ("the crankshaff seal", "the crankshaft seal"),
    ],
)
def test_unknown_words_are_read_by_sound(heard: str, meant: str) -> None:
    notes = read(heard)
    assert notes.words == words(meant)
    assert notes.repairs[0].rule == "repair.sound"
    assert 0 < notes.repairs[0].score <= 1


@pytest.mark.parametrize(
    "text",
    [
        "twenty fourteen halden vale with ninety thousand on it",
        "2009 Tamsin Arrow, lady says it clonks",
        "he went for a biscuit and a cup of coffee",
        "the old seal or the new one either way it leaks",
        "is it the switch or the relay i can not tell",
        "we break for lunch then bleed the brakes",
        "twelve volts at the post and two bolts on the cover",
        "which one is the right one to write up",
        "there's a hole in it for the bolt",
        "it is too tight to turn so leave it for four days",
        "somebody asked whether their van was there",
        "the air con blows cold and the leaf spring is fine",
    ],
)
def test_clean_talk_is_left_alone(text: str) -> None:
    assert read(text).repairs == []


@given(st.text())
@settings(max_examples=200)
def test_any_text(text: str) -> None:
    notes = read(text)
    assert len(notes.words) == len(notes.source)
    for one in notes.repairs:
        assert 0 <= one.span[0] < one.span[1] <= len(text)
        assert text[slice(*one.span)] == one.heard
    assert all(0 <= at <= len(notes.words) for at in notes.marks)


_SAID = sorted({word for rule in RULES for word in words(rule["example"]) + list(rule["heard"])})


@given(st.lists(st.sampled_from(_SAID), max_size=14))
@settings(max_examples=300)
def test_any_row_of_slips(row: list[str]) -> None:
    text = " ".join(row)
    notes = read(text)
    assert len(notes.words) == len(notes.source)
    spans = [one.span for one in notes.repairs]
    assert spans == sorted(spans)
    assert all(a[1] <= b[0] for a, b in pairwise(spans))


def test_the_plan_is_the_same_twice() -> None:
    row = words("the alternate her is dead and the buttery too")
    assert repairer().plan(row, {}) == repairer().plan(row, {})
