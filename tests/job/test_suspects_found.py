"""How a clearing or a conclusion finds its suspect, and what a line suspects that no rule joins.

Invented sentences, acts given.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from narrator.job.compile import compile_record
from narrator.job.line import Line
from narrator.job.naming import SAME, likeness
from narrator.job.suspicion import suspected
from narrator.language.reader import Reader
from narrator.values import ACTS, Understood, Utterance
from tests.job.test_outcome import record, understood
from tests.job.test_suspicion import suspects


def _line(text: str, **shares: float) -> Line:
    [one] = Reader(use_model=False).read([Utterance(1, 0.0, 1.0, text)])
    return Line(replace(one, meant=tuple(shares.get(word, 0.0) for word in one.tokens)))


def test_a_place_the_network_is_sure_of_is_suspected_where_nothing_else_is() -> None:
    said = "something hums from the impeller bearing could be nothing"
    assert [c.name for c in suspected(_line(said, impeller=0.97))] == ["impeller bearing"]
    assert suspected(_line(said, impeller=0.5)) == []


@pytest.mark.parametrize(
    ("text", "names"),
    [
        (
            "now the wet mat. could be the heater core, could be a plugged drain tube",
            {"heater core", "drain tube"},
        ),
        (
            "he's got a dry bush in the shock or slop in the diff or a loose engine mount",
            {"diff", "engine mount"},
        ),
        ("could be a tired capacitor or damp brushes", {"capacitor", "brush"}),
        ("it's a split hose a weak pump or a dirty sensor", {"hose", "pump", "sensor"}),
        ("a wheel bearing a done shock absorber or a bush", {"wheel bearing", "shock absorber", "bush"}),
        ("so maybe it's only the rust that holds it", {"rust"}),
    ],
)
def test_what_else_a_line_suspects(text: str, names: set[str]) -> None:
    found = set(suspects(record(("hypothesis", text))))
    assert names <= found
    assert not found & {"mat", "damp", "filter"}


def test_what_is_supposed_first_is_no_suspect() -> None:
    assert [c.name for c in suspected(_line("if dirt passes the filter, it blocks the injector"))] == [
        "injector"
    ]


def test_a_thing_with_parts_is_not_meant_by_its_part() -> None:
    assert likeness("tank", "tank cap") < SAME
    assert likeness("master", "master cylinder") == SAME
    told = record(
        ("hypothesis", "could be the tank cap not breathing"),
        ("ruled_out", "so the cap is innocent"),
        ("hypothesis", "then i suspect the tank itself"),
        ("confirmed", "there you have it the tank is rotten inside"),
    )
    assert suspects(told) == {"tank cap": "ruled_out", "tank": "confirmed"}


def test_he_is_what_was_tested_last_wherever_the_test_named_it() -> None:
    told = record(
        ("hypothesis", "could be the fan relay or the motor bearing"),
        ("test", "spin her by the fan and listen at the bearing"),
        ("result", "not a sound"),
        ("ruled_out", "not him either"),
    )
    assert suspects(told) == {"fan relay": "open", "motor bearing": "ruled_out"}


@pytest.mark.parametrize(
    ("said", "status"),
    [
        ("nothing wrong with him", "confirmed"),
        ("so i don't know and i'd sooner say it", "confirmed"),
        ("so it was not that", "ruled_out"),
        ("it ain't what she's complaining of", "ruled_out"),
    ],
)
def test_a_settled_cause_falls_by_words_that_take_it_back_alone(said: str, status: str) -> None:
    told = record(
        ("confirmed", "there it is the wheel bearing is rough"),
        ("step", "new bearing pressed in"),
        ("verification", "round the block and it is better"),
        ("ruled_out", said),
    )
    assert suspects(told)["wheel bearing"] == status


def test_what_stood_beside_the_cause_takes_it_back() -> None:
    told = record(
        ("hypothesis", "could be the feed cable"),
        ("confirmed", "well that's it the feed cable is too thin they used a lamp lead"),
        ("step", "new cable in"),
        ("verification", "and it sulks the same"),
        ("ruled_out", "so much for the lamp lead it was not that"),
    )
    assert suspects(told) == {"feed cable": "ruled_out"}


def test_what_was_suspected_in_other_words_is_cleared_by_them() -> None:
    told = record(
        ("hypothesis", "that's sorry hay or a weak bill hook"),
        ("ruled_out", "for once it ain't the hay"),
    )
    assert suspects(told) == {"bill hook": "open", "hay": "ruled_out"}


def test_a_part_by_which_a_thing_fails_settles_it() -> None:
    told = record(
        ("hypothesis", "it could be the door cylinder going past the piston inside"),
        ("confirmed", "that'll do it then the piston seal is torn"),
    )
    assert suspects(told) == {"door cylinder": "confirmed"}


def test_a_short_name_is_that_of_what_was_tested() -> None:
    told = record(
        ("test", "float switch up by hand and the bilge pump stays silent"),
        ("confirmed", "so that pump's dead"),
    )
    assert suspects(told) == {"bilge pump": "confirmed"}


def test_a_state_before_it_is_no_part_of_an_unlisted_name() -> None:
    told = record(
        ("hypothesis", "that sounds like a crook earthing"),
        ("confirmed", "found it the tail lamp has got no earthing to speak of"),
    )
    assert suspects(told) == {"earthing": "confirmed"}


@pytest.mark.parametrize(("score", "status"), [(0.9, "confirmed"), (0.3, "open")])
def test_a_conclusion_the_model_is_sure_of_needs_no_words_that_settle(score: float, status: str) -> None:
    told = understood(("hypothesis", "it must be the exhaust"), ("confirmed", "there went all her puff"))
    likely = tuple(score if act == "confirmed" else 0.0 for act in ACTS)
    told[1] = replace(told[1], likely=likely)
    assert suspects(compile_record(told)) == {"exhaust": status}


def _likely(told: list[Understood], at: int, act: str, score: float) -> list[Understood]:
    scores = tuple(score if a == act else 0.0 for a in ACTS)
    return [replace(one, likely=scores) if n == at else one for n, one in enumerate(told)]


@pytest.mark.parametrize(("score", "names"), [(0.3, set()), (0.8, {"relay"})])
def test_a_suspicion_hardly_held_puts_nothing_new_on_the_table(score: float, names: set[str]) -> None:
    told = understood(("hypothesis", "the relay does it when it rains"))
    assert set(suspects(compile_record(_likely(told, 0, "hypothesis", score)))) == names


def test_what_is_said_to_be_absent_is_not_settled() -> None:
    told = record(
        ("hypothesis", "the growl could be air on the suction side"),
        ("confirmed", "no air in it then that's that put to bed"),
    )
    assert suspects(told)["air"] == "ruled_out"


def test_a_clearing_by_what_a_thing_was_said_to_do() -> None:
    told = record(
        ("hypothesis", "it's the coil or the carb is drowning her"),
        ("ruled_out", "so nobody's drowning her"),
    )
    assert suspects(told) == {"coil": "open", "carb": "ruled_out"}


def test_a_pair_is_every_suspect_of_that_name() -> None:
    told = record(
        ("hypothesis", "so it's the air filter or the fuel filter or the pump"),
        ("ruled_out", "so that's the pair of filters told go home"),
    )
    assert suspects(told) == {"air filter": "ruled_out", "fuel filter": "ruled_out", "pump": "open"}


def test_what_was_tested_last_may_be_settled_though_it_was_merely_seen() -> None:
    told = record(
        ("test", "now the exhaust joint with two fingers"),
        ("confirmed", "so the fumes are from there that exhaust joint was blowing up through the step"),
    )
    assert suspects(told) == {"exhaust joint": "confirmed"}


def test_what_one_wonders_about_is_no_place() -> None:
    told = record(
        ("hypothesis", "could be the heater matrix"),
        ("ruled_out", "leave the matrix be"),
        ("hypothesis", "makes me wonder on that matrix again dry carpet or no"),
    )
    assert suspects(told) == {"heater matrix": "open"}
