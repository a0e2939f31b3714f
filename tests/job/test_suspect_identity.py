"""A suspect keeps one identity: by another word for it, by how it was heard, and what a line is only about.

Invented sentences, acts given.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from narrator.job.line import Line
from narrator.job.naming import likeness, sounds_like
from narrator.job.table import Table
from narrator.values import Act, Component
from tests.job.test_outcome import record, understood
from tests.job.test_suspicion import suspects


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("vacuum tap", "vacuum petcock"),
        ("brake light", "brake lamp"),
        ("earth strap", "ground strap"),
        ("carby", "carburettor"),
        ("brake disc", "brake rotor"),
    ],
)
def test_two_words_for_one_thing_are_one_suspect(one: str, other: str) -> None:
    assert likeness(one, other) >= 0.7


@pytest.mark.parametrize(
    ("heard", "meant", "same"),
    [
        ("flex he", "flexi", True),
        ("crush drive", "cush drive", True),
        ("hydra", "hydro", True),
        ("release crew", "release screw", True),
        ("fuel pipe", "fuel pump", False),
        ("bracket", "brush", False),
        ("hinge", "flange", False),
    ],
)
def test_what_a_name_sounds_like(heard: str, meant: str, same: bool) -> None:
    assert sounds_like(heard, meant) is same


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("for the fuse i would say the start capacitor", {"start capacitor"}),
        ("now for the lamp you'd blame the belt before anything", {"belt"}),
        ("with a hot hub i suspect the wheel bearing", {"wheel bearing"}),
        ("now the step so it'll be the motor or the door switch", {"motor", "door switch"}),
        ("right the trigger that'll be the unloader stuck shut", {"unloader"}),
        ("so the heater it's the thermostat or the tap", {"thermostat", "tap"}),
        # nothing comes behind the words that doubt: what stands before them is the suspect
        ("the relay i reckon", {"relay"}),
        ("the thermostat is my first guess", {"thermostat"}),
        ("could be the pump it's the original one", {"pump"}),
    ],
)
def test_the_matter_of_a_line_is_no_suspect(text: str, names: set[str]) -> None:
    assert set(suspects(record(("hypothesis", text)))) == names


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("four things weak battery bad pump plugged screen or a ram", {"battery", "pump", "screen", "ram"}),
        ("it comes by the lamp seal or by the trunk seal", {"lamp seal", "trunk seal"}),
        ("i suspect the coil or the tip over sensor", {"coil", "sensor"}),
        ("it's either fuel or air", {"fuel", "air"}),
        ("could be spark going when it's hot", {"spark"}),
        ("could be air getting in at the gasket", {"gasket"}),
    ],
)
def test_what_is_offered_as_a_choice_is_suspected(text: str, names: set[str]) -> None:
    assert set(suspects(record(("hypothesis", text)))) == names


def test_what_no_component_names_is_cleared_by_its_own_name() -> None:
    told = record(
        ("hypothesis", "so either the expander sticks or the brake cable isn't letting go"),
        ("ruled_out", "it can't be the expander"),
    )
    assert suspects(told) == {"brake cable": "open", "expander": "ruled_out"}


@pytest.mark.parametrize(
    "said",
    [
        "so i spoke before my time the belt was only shining",
        "so i was wrong about the belt being the reason",
        "i have to swallow it the belt is strong",
        "well i'll eat my hat about the belt",
    ],
)
def test_a_cause_taken_back_after_its_cure_was_tried_falls(said: str) -> None:
    told = record(
        ("confirmed", "there it is it's the drive belt"),
        ("step", "new belt round the pulleys"),
        ("verification", "and it slips just the same"),
        ("ruled_out", said),
    )
    assert suspects(told)["drive belt"] == "ruled_out"


def test_the_trial_of_a_cure_counts_whatever_it_is_called() -> None:
    told = record(
        ("hypothesis", "a growl is air or no oil"),
        ("confirmed", "then this is simple it sucks air"),
        ("step", "six litres of oil in it"),
        ("result", "it growls the same only wetter"),
        ("ruled_out", "so it was true but it was not the reason"),
    )
    assert suspects(told)["air"] == "ruled_out"


def test_work_on_a_suspect_does_not_clear_it() -> None:
    told = record(
        ("hypothesis", "it might be the linkage"),
        ("step", "linkage up on its three bolts nice and tight"),
    )
    assert suspects(told) == {"linkage": "open"}


def test_work_on_a_suspect_that_is_called_good_clears_it() -> None:
    told = record(
        ("hypothesis", "it might be the thermostat"),
        ("step", "the thermostat goes back the same one it is good"),
    )
    assert suspects(told) == {"thermostat": "ruled_out"}


@pytest.mark.parametrize(
    ("act", "said", "status"),
    [
        ("observation", "so it's the strap it is bent", "confirmed"),
        ("hypothesis", "so it's the strap after all it must be rotten inside", "confirmed"),
        ("hypothesis", "i've got it it's the strap", "confirmed"),
        ("hypothesis", "maybe it's the strap", "open"),
        ("hypothesis", "it's the strap or the lug on it", "open"),
        ("hypothesis", "if it stops it's the strap", "open"),
        ("hypothesis", "my cousin says it's the strap", "open"),
        ("plan", "so it's the strap for monday", "open"),
    ],
)
def test_what_is_called_the_cause_in_so_many_words_is_settled(act: Act, said: str, status: str) -> None:
    told = record(("hypothesis", "could be the earth strap"), (act, said))
    assert suspects(told)["earth strap"] == status


def test_a_thing_cleared_beside_the_cause() -> None:
    told = record(("hypothesis", "the fan motor is dead or its resistor is"))
    assert suspects(told) == {"fan motor": "open", "resistor": "open"}
    told = record(
        ("hypothesis", "the fan motor is dead or its resistor is"),
        ("confirmed", "it's the resistor burnt through"),
        ("ruled_out", "and nothing wrong with the motor"),
    )
    assert suspects(told) == {"fan motor": "ruled_out", "resistor": "confirmed"}


@pytest.mark.parametrize(
    "said", ["that tells me nearly nothing", "i'm none the wiser", "wouldn't swear either way"]
)
def test_a_result_that_proves_nothing_clears_nothing(said: str) -> None:
    told = record(
        ("hypothesis", "could be the pickup coil"), ("test", "meter on the pickup coil"), ("result", said)
    )
    assert suspects(told) == {"pickup coil": "open"}


@pytest.mark.parametrize(
    ("act", "said", "status"),
    [
        ("observation", "there you go scuttle drain blocked it fills up like a sink", "confirmed"),
        ("hypothesis", "that'll do it the scuttle drain is choked with leaves", "confirmed"),
        ("ruled_out", "so the scuttle drain as well stuck solid", "confirmed"),
        ("hypothesis", "that'll do it if the scuttle drain is choked", "open"),
        ("ruled_out", "that's no blocked scuttle drain", "ruled_out"),
        ("ruled_out", "the scuttle drain was dirty but it does its job", "ruled_out"),
    ],
)
def test_a_fault_told_as_the_cause_settles_an_open_suspect(act: Act, said: str, status: str) -> None:
    told = record(("hypothesis", "could be the scuttle drain or the door seal"), (act, said))
    assert suspects(told)["scuttle drain"] == status


@pytest.mark.parametrize(
    "said", ["the check valve is tight so one of the four remains", "cowl off that's just the one"]
)
def test_good_news_and_work_settle_nothing(said: str) -> None:
    told = record(("confirmed", said))
    assert "confirmed" not in suspects(told).values()


def test_a_name_asked_after_before_it_was_heard_is_looked_at_again() -> None:
    table = Table()
    line = Line(understood(("hypothesis", "could be the cush drive"))[0])
    table.hear(line)
    suspect = table.open("cush drive", line)
    assert table.find("crush drive") is None, "it may be a thing of its own"
    heard = Component(span=(13, 24), at=(3, 5), name="crush drive", rule="network.name")
    table.hear(Line(replace(line.understood, entities=(heard,))))
    assert table.find("crush drive") is suspect
