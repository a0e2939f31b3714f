"""What is marked in annotated talk, word by word, as the network learns it."""

from __future__ import annotations

from models.understanding.corpus import Suspect, Talk
from models.understanding.narrations.markup import parse_text
from models.understanding.network.labels import UNKNOWN, subjects, tags
from models.understanding.train_acts import read_notes
from narrator.language.act_network import TAGS

TEXT = """
h | could be the [feed pump]{C} or the [<really=relay>]{C relay ?} i reckon
t | [test lamp]{T} on the [relay]{C}
a | my brother sold me a pump once
"""
TALK = Talk("t", tuple(parse_text(TEXT)), True, suspects=(Suspect((("pump",),), ()),))


def test_names_are_tagged_optional_ones_are_not() -> None:
    hypothesis, test, aside = tags(TALK, read_notes(TALK))
    first, more = TAGS.index("first component"), TAGS.index("more component")
    assert hypothesis[3:5] == [first, more]
    assert hypothesis.count(UNKNOWN) == 1
    assert test[:2] == [TAGS.index("first tool"), TAGS.index("more tool")]
    assert not any(aside)


def test_what_a_line_suspects_is_its_subject_and_only_there() -> None:
    hypothesis, test, aside = subjects(TALK, read_notes(TALK))
    assert [n for n, value in enumerate(hypothesis) if value == 1] == [3, 4]
    assert set(test) == set(aside) == {UNKNOWN}


def test_acts_alone_teach_nothing_of_words() -> None:
    told = Talk("t", TALK.lines, False, spans=False)
    assert {value for line in tags(told, read_notes(told)) for value in line} == {UNKNOWN}
