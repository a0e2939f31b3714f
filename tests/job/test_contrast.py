"""Readings against each other, and limits whose direction the thing measured tells; said in several ways."""

from __future__ import annotations

import pytest

from narrator.job.findings import against_limit
from narrator.job.line import Line
from narrator.language.reader import Reader
from narrator.values import Utterance


def _said(*told: str) -> float | None:
    """What the last of these remarks says, as read in a session."""
    utterances = [Utterance(n, float(n), n + 1.0, text) for n, text in enumerate(told, start=1)]
    lines = [Line(one) for one in Reader(use_model=False).read(utterances)]
    return against_limit(lines[-1], lines[:-1])


@pytest.mark.parametrize(
    "told",
    [
        "the left one is forty millimetres, the right fifty five",
        "first magnet four ohms and the second nought point six",
        "i get five volts on one leg and zero on the other",
        "ninety degrees at the nearside hub and forty at the offside",
        "nine kilos to move it while the other side moves at two",
        "the first reads three volts and the rest are at nothing",
        "inlet hose ninety degrees and the outlet barely thirty",
    ],
)
def test_sides_that_should_be_alike_and_are_not(told):
    assert _said(told) == -1.0


@pytest.mark.parametrize(
    "told",
    [
        "left twelve point one volts and right twelve point two",
        "thirty psi on the left and thirty on the right",
        "one sixty eight psi one seventy one seventy two",
    ],
)
def test_readings_that_agree(told):
    assert _said(told) == 1.0


@pytest.mark.parametrize(
    "told",
    [
        "front tyres thirty two psi and rears thirty eight",
        "two bar at idle and four bar at three thousand",
        "cold it is five bar and after ten minutes warm three and a half",
        "twelve point three volts and it dips to eleven point eight",
        "four amps and the manual is not here",
        "left thirty psi right thirty one and the third won't read",
    ],
)
def test_differences_that_tell_nothing(told):
    assert _said(told) != -1.0


@pytest.mark.parametrize(
    ("told", "held"),
    [
        (("pump it up to two bar and wait", "one point four bar is left"), -1.0),
        (("gauge on at eight bar tap shut", "ten minutes and it's fallen to six bar"), -1.0),
        (("it was three bar and an hour later it's two point one",), -1.0),
        (("two bar in and watch the clock", "half an hour and still two bar"), 1.0),
        (("two bar in and a look at the pedal", "one point four bar at the other end"), None),
    ],
)
def test_a_pressure_over_a_wait(told, held):
    assert _said(*told) == held


@pytest.mark.parametrize(
    ("told", "kept"),
    [
        ("i lose nine pounds a minute limit's two pounds", -1.0),
        ("eight thou of play and the limit is five thou", -1.0),
        ("three thou of runout and the limit is five thou", 1.0),
        ("the lining is two millimetres and the limit is three millimetres", -1.0),
        ("the pads are nine millimetres and the limit is three millimetres", 1.0),
        ("two millimetres and the limit is three millimetres", None),
        ("thirty millivolts of ripple and anything under a hundred i'm happy with", 1.0),
        ("two volts and everything over half a volt is trouble", -1.0),
        ("point nine bar and anything under one point two bar is a problem", -1.0),
        ("six hundred and forty amps and it's rated six eighty", 1.0),
        ("should be one fifty ohms and i get open then one fifty ohms then open", -1.0),
        ("thin place three millimetres thick place five millimetres and minimum is four millimetres", -1.0),
    ],
)
def test_the_thing_measured_tells_which_way_a_limit_goes(told, kept):
    assert _said(told) == kept


@pytest.mark.parametrize(
    ("told", "verdict"),
    [
        (("pressure tester on, ten psi and it sat there for fifteen minutes",), 1.0),
        (("ten psi and it won't hold for a minute",), -1.0),
        (("ten psi, held for a minute then bled off",), -1.0),
        (("ten psi and it hasn't moved in twenty minutes",), 1.0),
        (("it's at ten psi",), None),
        (("fifteen psi on the tester", "drops from fifteen psi to nine psi in a minute"), -1.0),
        (("battery went from twelve point six volts to eleven point eight volts overnight",), -1.0),
        (("from ninety degrees to forty degrees in ten minutes",), None),
        (("from fifteen psi to nine psi when i open the tap",), None),
        (("wiggle test on the plug, nothing changes",), 1.0),
        (("i wiggle the plug and it dies",), -1.0),
        (("wiggle the plug and it doesn't drop out",), 1.0),
        (("shake the harness", "no change"), 1.0),
        (("tapped the relay and it came back",), -1.0),
        (("no change with the plug out",), None),
        (("blanked the valve off, no different",), 1.0),
        (("unplugged the valve and the idle drops",), None),
        (("15 minutes later it's at 1.18 bar and who calls that a leak",), None),
        (("test light on the solenoid, nothing with the switch pressed",), -1.0),
        (("test light on the solenoid", "lights up"), 1.0),
        (("test lamp on the feed barely glows",), -1.0),
        (("test light in series with the battery lead and it lights up",), None),
        (("the light on the dash does nothing",), None),
        (("groups all four point one volts bar group six, that's at three point two volts",), -1.0),
        (("the fuel tap's on and it starts",), None),
    ],
)
def test_what_stays_and_what_does_not(told, verdict):
    assert _said(*told) == verdict
