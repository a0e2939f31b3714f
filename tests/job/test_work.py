"""Corrections and open items: invented sentences, acts given."""

from __future__ import annotations

import pytest

from narrator.job.record import Record
from narrator.values import Act
from tests.job.test_outcome import record


def corrections(*told: tuple[Act, str]) -> set[tuple[str, str]]:
    return {(row.action, row.component) for row in record(*told).corrections}


def texts(told: Record) -> list[str]:
    return [row.text for row in told.open_items]


def test_what_is_done_to_it_is_done_to_the_cause_just_settled() -> None:
    settled: tuple[Act, str] = ("confirmed", "there's your culprit the fuel strainer is blocked")
    assert corrections(settled, ("step", "i wash it and blow it out")) == {("clean", "fuel strainer")}
    assert corrections(settled, ("step", "new one in and snug")) >= {("replace", "fuel strainer")}


def test_the_new_one_for_the_old() -> None:
    assert corrections(("step", "old temperature sender out and the new one in")) == {
        ("replace", "temperature sender")
    }
    assert corrections(("step", "new gubbins in and wiped dry")) >= {("replace", "gubbins")}


def test_work_told_by_what_is_taken_for_it_or_by_a_change() -> None:
    assert corrections(("step", "a hair of wire and carb cleaner through the main jet")) == {
        ("clean", "main jet")
    }
    assert corrections(("step", "both springs changed and hooked in")) == {("replace", "spring")}
    assert corrections(("step", "fresh gasket on and four bolts back in")) >= {("replace", "gasket")}
    assert corrections(("step", "i swap the coils over")) == set()


def test_a_thing_that_is_also_a_deed_is_no_deed() -> None:
    done = corrections(("step", "put the new crank seal in with some grease on the lip"))
    assert done == {("replace", "crank seal")}


def test_findings_put_off_after_the_last_check_stay_open() -> None:
    told = record(
        ("confirmed", "that's the culprit the hose is split"),
        ("step", "new hose on and the clamp back on"),
        ("verification", "ran it ten minutes and it stays dry"),
        ("observation", "the front tyre is cracked and perished all round"),
        ("observation", "drive chain wants doing at the next service"),
        ("aside", "next week is my holiday"),
    )
    assert texts(told) == [
        "the front tyre is cracked and perished all round",
        "drive chain wants doing at the next service",
    ]


def test_a_suspect_never_settled_is_an_open_item() -> None:
    told = record(("hypothesis", "could be the abs module"), ("plan", "we see next week"))
    assert texts(told) == ["we see next week", "not settled: abs module (could be the abs module)"]
    told = record(("hypothesis", "could be the relay"), ("confirmed", "that's the culprit the fuse is blown"))
    assert texts(told) == []


def test_a_part_spoken_of_and_then_put_in_is_replaced() -> None:
    told = record(
        ("part", "a wheel bearing is ordered for friday"),
        ("step", "here is the wheel bearing in it goes"),
    )
    assert [(row.action, row.component) for row in told.corrections] == [("replace", "wheel bearing")]


def test_what_two_deeds_of_one_line_are_done_to_is_the_same_thing() -> None:
    told = record(
        ("confirmed", "so it's the earth strap it is loose"),
        ("step", "front rack off"),
        ("step", "brushed bright and tightened"),
    )
    assert {row.component for row in told.corrections} == {"earth strap"}


def test_a_deed_is_done_to_all_that_and_joins_and_to_what_stands_before_it() -> None:
    assert corrections(("step", "replaced the impeller and the wear plate")) == {
        ("replace", "impeller"),
        ("replace", "wear plate"),
    }
    assert corrections(("step", "friction wheel replaced and the drive adjusted")) == {
        ("replace", "friction wheel"),
        ("adjust", "drive"),
    }
    assert corrections(("step", "set the idle and the low jet")) == {
        ("adjust", "idle"),
        ("adjust", "low jet"),
    }
    assert corrections(("step", "took up the slack in the track rod")) == {("adjust", "track rod")}
    assert corrections(("step", "slack in the track rod, left it")) == set()


def test_what_is_done_to_it_is_done_to_what_was_just_found() -> None:
    found: tuple[Act, str] = ("observation", "wire's broken inside the loom")
    assert corrections(found, ("step", "soldered it and taped it up")) == {("repair", "wire")}
    assert corrections(("step", "just did the oil and filter then")) == {
        ("replace", "oil"),
        ("replace", "filter"),
    }


def test_what_is_put_off_is_open_until_work_is_done_to_it() -> None:
    cover: tuple[Act, str] = ("step", "left the end cover off till it comes")
    fitted: tuple[Act, str] = ("step", "end cover back on")
    assert texts(record(cover, ("part", "brushes are ordered"))) == ["left the end cover off till it comes"]
    assert texts(record(cover, fitted)) == []
    bleed: tuple[Act, str] = ("observation", "still got to bleed it")
    assert texts(record(("step", "new slave cylinder on"), bleed)) == ["still got to bleed it"]
    assert texts(record(("step", "new slave cylinder on"), bleed, ("step", "bled the clutch"))) == []


def test_what_was_mended_and_checked_is_not_left_open() -> None:
    suspect: tuple[Act, str] = ("hypothesis", "might be the wire broken inside")
    mended: tuple[Act, str] = ("step", "soldered the wire")
    assert texts(record(suspect, mended, ("verification", "all lights working"))) == []
    assert len(texts(record(suspect, mended, ("verification", "still doesn't work")))) == 1


def test_what_is_cleared_is_a_part_and_no_code() -> None:
    assert corrections(("step", "cleared the foot valve")) == {("clean", "foot valve")}
    assert corrections(("confirmed", "it's the foot valve"), ("step", "cleared the codes")) == set()
    assert corrections(("step", "oil filter and air filter done")) == {
        ("replace", "oil filter"),
        ("replace", "air filter"),
    }
    assert corrections(("step", "mount's in and the old bolts cleaned up")) == set()


@pytest.mark.parametrize("text", ["that's all I did", "did", "what did", "did the"])
def test_a_line_that_ends_in_did_is_taken(text: str) -> None:
    assert corrections(("step", text)) == set()
