"""How far parts have come, by what is said of them: invented sentences, acts given."""

from __future__ import annotations

from dataclasses import replace

import pytest

from narrator.job.compile import compile_record
from narrator.language.tokens import split_words
from narrator.values import Act
from tests.job.test_outcome import record, understood


def parts(*told: tuple[Act, str]) -> list[tuple[str, str]]:
    return [(row.name, row.state) for row in record(*told).parts]


KIT: tuple[Act, str] = ("part", "caliper kit is forty two pounds fifty")
BOTH: tuple[tuple[Act, str], ...] = (
    ("part", "thermostat is fourteen pounds fifty"),
    ("part", "gasket is two pounds ninety"),
)


@pytest.mark.parametrize(
    ("told", "state"),
    [
        (("part", "kit's ordered"), "ordered"),
        (("part", "kit came in today"), "received"),
        (("part", "it'll be here tomorrow"), "ordered"),
        (("plan", "picked it up at lunch"), "received"),
        (("step", "rebuilt the caliper with the kit"), "fitted"),
        (("step", "got one in the drawer so that's on"), "fitted"),
        (("observation", "hand's on the kit now"), "needed"),
        (("plan", "kit hasn't turned up"), "needed"),
    ],
)
def test_a_part_told_before_is_meant_by_less_than_its_name(told: tuple[Act, str], state: str) -> None:
    assert parts(KIT, told) == [("caliper kit", state)]


def test_both_are_all_that_were_just_told() -> None:
    assert parts(*BOTH, ("part", "got both on the shelf")) == [
        ("thermostat", "received"),
        ("gasket", "received"),
    ]


def test_what_went_back_is_on_order_again() -> None:
    came: tuple[Act, str] = ("part", "caliper kit arrived this morning")
    assert parts(came, ("step", "wrong one, sent it back")) == [("caliper kit", "ordered")]


def test_each_part_has_the_words_of_its_own_clause() -> None:
    told: tuple[Act, str] = ("part", "wheel cylinder's in stock, brake shoes friday")
    assert parts(told) == [("wheel cylinder", "received"), ("brake shoe", "ordered")]


@pytest.mark.parametrize(
    ("said", "state"),
    [
        ("new fuel cap on, eighteen dollars", "fitted"),
        ("drop link replaced, seventeen quid", "fitted"),
        ("new slave cylinder in, thirty four quid from the factors", "fitted"),
        ("need the drop link replaced, seventeen quid", "needed"),
        ("new tyres are ninety five dollars each fitted", "needed"),
        ("new fuel cap on order, eighteen dollars", "ordered"),
    ],
)
def test_a_line_of_parts_may_tell_that_one_is_in(said: str, state: str) -> None:
    (one,) = understood(("part", said))
    told = compile_record([replace(one, breaks=tuple(split_words(said).marks))])
    assert [row.state for row in told.parts] == [state]
    assert bool(told.corrections) is (state == "fitted")


def test_a_price_is_of_the_part_named_last_before_it() -> None:
    told = record(("part", "ordered brushes and a bearing the bearing's eight pounds fifty"))
    assert [(row.name, row.state, row.price and row.price.amount) for row in told.parts] == [
        ("brush", "ordered", None),
        ("bearing", "ordered", "8.50"),
    ]
    both = record(("step", "cleaned out the bowl"), ("part", "new filter on, bowl cleaned, filter nine quid"))
    assert [row.name for row in both.parts] == ["filter"]


def test_fasteners_may_be_parts_to_be_had() -> None:
    assert parts(("part", "needs a new washer")) == [("washer", "needed")]
    assert parts(("observation", "ball valve was seized"), ("part", "need two bolts for it")) == [
        ("bolt", "needed")
    ]


@pytest.mark.parametrize(
    ("said", "state"),
    [
        ("pump's on, two bolts", "fitted"),
        ("changed the pump", "fitted"),
        ("swapped the pump over with the good one", "received"),
    ],
)
def test_work_on_a_part_that_came_fits_it(said: str, state: str) -> None:
    assert parts(("part", "got the pump this morning"), ("step", said)) == [("pump", state)]
