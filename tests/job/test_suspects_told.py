"""How suspects are told in ordinary talk: short talks of our own, and how each suspect stands then."""

from __future__ import annotations

import pytest

from tests.job.test_ordinary import compiled


def standing(*said: str) -> dict[str, str]:
    return {row["component"]: row["status"] for row in compiled(list(said))["hypotheses"]}


STANDS: list[tuple[tuple[str, ...], dict[str, str]]] = [
    # one settled, another cleared in the same breath
    (
        ("could be the seals or the valve", "so it's the seals, and the valve's off the hook"),
        {"seal": "confirmed", "valve": "ruled_out"},
    ),
    (
        ("could be the relay or the pump", "it's not the pump so it's the relay next"),
        {"relay": "open", "pump": "ruled_out"},
    ),
    # the bad thing told right before is what was found, not what is cleared already
    (
        (
            "either the caliper or the hose",
            "so that clears the hose",
            "caliper's seized solid",
            "there we go then, found it",
        ),
        {"caliper": "confirmed", "hose": "ruled_out"},
    ),
    (("i think it's the relay", "found it under the bench"), {"relay": "open"}),
    # a denial before the next guesses
    (
        ("i thought it'd be the plug", "so not the plug, could be the coil"),
        {"plug": "ruled_out", "coil": "open"},
    ),
    # a choice said before its hedge, and one that no list of parts knows
    (("seized caliper or a collapsed hose i'd say",), {"caliper": "open", "hose": "open"}),
    (("could be clutch drag or could be the box",), {"clutch": "open", "box": "open"}),
    # theories of others, and complaints that are none
    (("boss says cable, i say the limit switch",), {"cable": "open", "limit switch": "open"}),
    (("customer says the wipers are slow",), {}),
    (("customer thinks the brakes are soft",), {}),
    # nothing is cleared before anything was suspected, without words that clear
    (("compressor keeps tripping the breaker",), {}),
    # cold is no fault, and what may be is no cause
    (
        ("if it's the motor it'll be warm, if it's the valve block it won't", "motor's cold"),
        {"motor": "open", "valve block": "open"},
    ),
    # what sounds like a conclusion and is none
    (("might be the injector", "there's your tea mate", "found your glasses"), {"injector": "open"}),
    (("maybe the pump", "that's the pump out", "there she is"), {"pump": "open"}),
    (("that was the relay that time", "this one could be the fuse"), {"fuse": "open"}),
    # found is what the line before told of, not another suspect
    (
        ("could be the ball joint", "the link knocks when i pull it", "that's our knock"),
        {"ball joint": "open", "link": "confirmed"},
    ),
    # nothing left in it, nothing out of it: that clears nothing; not binding does
    (("belt or tensioner", "tensioner's got no spring left in it"), {"belt": "open", "tensioner": "open"}),
    (("it'll be the transformer", "no volts out of the transformer, two thirty in"), {"transformer": "open"}),
    (
        ("bearing's dry or the brake's binding", "wheel spins free so brake's not binding"),
        {"bearing": "open", "brake": "ruled_out"},
    ),
    # a guess behind what is cleared, and what a search came to
    (
        ("first guess is the main fuse", "main fuse is good, second guess is the light switch"),
        {"main fuse": "ruled_out", "light switch": "open"},
    ),
    (
        ("probably the compressor", "turned out to be the dryer purge valve stuck open"),
        {"compressor": "open", "dryer purge valve": "confirmed"},
    ),
    (("pressure switch i'd guess", "pressure switch, no question"), {"pressure switch": "confirmed"}),
    # what something was done to is no cause
    (
        ("the float switch is stuck, it's been tripping the alarm, that's the fault",),
        {"float switch": "confirmed"},
    ),
]


@pytest.mark.parametrize(("said", "stands"), STANDS, ids=[said[-1] for said, _ in STANDS])
def test_suspects_stand_as_they_were_told(said: tuple[str, ...], stands: dict[str, str]) -> None:
    assert standing(*said) == stands


def checks(*said: str) -> list[str]:
    record = compiled(["could be the impeller", "yep it's the impeller, that's the fault", *said])
    return [row["outcome"] for row in record["verifications"]]


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("new impeller in, telltale's going like a good one now", ["pass"]),
        ("swapped the impeller and she pumps lovely", ["pass"]),
        ("new impeller in, still no water, never pumped a drop", ["fail"]),
        ("new impeller in with two new screws and a dab of grease", []),
        ("new impeller on order and the cover back on", []),
    ],
)
def test_work_on_the_cause_and_what_came_of_it_in_one_breath(said: str, told: list[str]) -> None:
    assert checks(said) == told
