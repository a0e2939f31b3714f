"""What is marked in annotated talk, word by word, as the network learns it."""

from __future__ import annotations

from models.understanding.corpus import Suspect, Talk
from models.understanding.narrations.markup import parse_text
from models.understanding.network.labels import UNKNOWN, amounts, kinds, moves, roles, subjects, tags
from models.understanding.train_acts import read_notes
from narrator.language.act_network import AMOUNTS, KINDS, ROLES, TAGS

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


MOVED = Talk(
    "m",
    tuple(
        parse_text(
            """
s | [two ten bolts]{F bolt 2 10mm} out and on with [a clip]{F clip 1 -} | R bolt 10mm 2; I clip - 1
s | spin them out | R bolt 10mm 2
r | [twelve point four]{M voltage 12.4 V} at the [bolt]{F bolt 1? -}
"""
        )
    ),
    True,
)


def test_fasteners_that_move_are_off_or_on_and_words_between_are_not_known() -> None:
    named, unnamed, still = moves(MOVED, read_notes(MOVED))
    assert named[0] == [1, 0]
    assert named[-1] == [0, 1]
    assert [UNKNOWN, UNKNOWN] in named
    assert unnamed == [[1, 0]] * 3
    assert {tuple(ways) for ways in still} == {(0, 0)}


def test_what_numbers_measure() -> None:
    *_, last = amounts(MOVED, read_notes(MOVED))
    assert last[0] == list(AMOUNTS).index("voltage")
    assert last[-1] == 0


def test_words_of_fasteners_say_how_many_how_large_and_what() -> None:
    line = parse_text("s | [eight eights]{F bolt 8 8mm} and [two half inch nuts]{F nut 2 1/2in} off the lid")
    talk = Talk("f", tuple(line), True)
    (told,), (kind,) = roles(talk, read_notes(talk)), kinds(talk, read_notes(talk))
    named = {"count": [0, 3], "size": [1, 4, 5], "name": [6]}
    for role, places in named.items():
        assert [n for n, value in enumerate(told) if value == ROLES.index(role)] == places
    bolt, nut = KINDS.index("bolt"), KINDS.index("nut")
    assert kind[:7] == [bolt, bolt, UNKNOWN, nut, nut, nut, nut]
    assert set(kind[7:]) == {UNKNOWN}


def test_where_only_fasteners_are_marked_nothing_is_said_of_other_things() -> None:
    line = parse_text("s | [two bolts]{F bolt 2 -} off the pump")
    talk = Talk("y", tuple(line), False, things=False)
    (told,) = tags(talk, read_notes(talk))
    assert told == [TAGS.index("first fastener"), TAGS.index("more fastener"), *[UNKNOWN] * 3]
