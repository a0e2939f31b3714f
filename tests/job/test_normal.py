"""Readings that nobody gave a limit for, against what is normal; each said in several ways."""

from __future__ import annotations

import pytest

from narrator.job.normal import bands
from tests.job.test_contrast import _said


@pytest.mark.parametrize(
    ("told", "normal"),
    [
        (("drop along the ground lead is point one volts",), 1.0),
        (("i'm losing two volts between the block and the frame",), -1.0),
        (("voltage drop on the plus side", "nought point nought five volts"), 1.0),
        (("it only drops to eleven volts",), None),
        (("asleep it takes twenty milliamps",), 1.0),
        (("half an hour locked and it's at four hundred milliamps",), -1.0),
        (("unplug the radio and four hundred milliamps drops to thirty milliamps",), None),
        (("and it charges fourteen point two volts",), 1.0),
        (("alternator on test at idle", "twelve point four volts at the battery"), -1.0),
        (("battery rests at twelve point six volts",), None),
        (("it charges at thirteen point one volts",), None),
        (("twelve point one volts at the battery", "start it up and it's twelve point two volts"), -1.0),
        (("battery's fourteen volts with it running",), 1.0),
        (("start it and the battery drops to eleven volts",), None),
        (("compression's one fifty five on one, one fifty on two, ninety on three",), -1.0),
        (("compression's one fifty five on one, one fifty on two, one forty on three",), None),
        (("leak down is twelve percent on one, forty on two",), -1.0),
        (("leak down is twelve percent on one, nine on two",), None),
    ],
)
def test_a_reading_against_what_is_normal(told, normal):
    assert _said(*told) == normal


def test_what_the_technician_says_it_should_be_goes_first():
    assert _said("two volts drop along the lead and the book allows three volts") == 1.0


def test_each_band_is_in_order():
    for band in bands():
        low, high = band.span
        assert low <= high and band.bad[0] <= band.good[0] < band.good[1] <= band.bad[1]
        assert band.judge(sum(band.good) / 2) == 1.0
        assert band.judge(high + 1) is None
