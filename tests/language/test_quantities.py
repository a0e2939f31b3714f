"""Entities of numbers as a whole: never a crash, spans inside the text, looks where a person should look."""

from __future__ import annotations

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from narrator.language.codes import title
from narrator.language.pipeline import pipeline
from narrator.language.plausible import convert, head_band
from narrator.language.sizes import STANDARD, split_size
from narrator.language.unsaid import Memory, units_told
from narrator.language.vin import check_digit
from narrator.values import Fastener, Measurement, Price, Size
from tests.language.quantity_notation import session, understood

REGISTRY = pint.UnitRegistry()
_TALK = """
battery reads twelve point four volts two ten mil bolts no three sorry nut off back on to sixty five newton
metres foot pounds
p zero four twenty vin sierra part number h c seven 7740 $ 38.40 £ dollars fifty miles on the
clock twenty fourteen halden crest t thirty torx allen half an inch quarter degrees plus all four the
seventeen 210mm bolts is
a of them , . ? - spec under k mil draw pounds tyre and or between 3.5 1/4 M8 T30 P0420 '
"""
_WORDS = st.sampled_from(_TALK.split())


@settings(max_examples=300, deadline=None)
@given(st.lists(st.lists(_WORDS, max_size=14).map(" ".join), max_size=3))
def test_any_shop_talk_keeps_its_spans(texts: list[str]) -> None:
    for text, notes in zip(texts, session(texts), strict=True):
        for entity in notes.entities:
            assert 0 <= entity.span[0] < entity.span[1] <= len(text)
            assert 0 <= entity.at[0] < entity.at[1] <= len(notes.words)


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=60))
def test_any_unicode_is_read(text: str) -> None:
    for entity in session([text])[0].entities:
        assert 0 <= entity.span[0] < entity.span[1] <= len(text)


def test_nothing_later_changes_what_was_understood() -> None:
    lines = [
        "battery sits at twelve point four",
        "two ten mil bolts off",
        "and eleven nine",
        "the ten to nine",
    ]
    assert understood(lines)[:2] == understood(lines[:2])


def test_what_the_shop_has_set_is_used() -> None:
    for memory, wanted in (
        (Memory(currency="AUD", temperature="Cel"), ("AUD", "Cel")),
        (Memory(), ("USD", "degF")),
    ):
        found = []
        for text in ("the seal is nine dollars fifty", "it is at ninety degrees"):
            workspace = pipeline()(text)._.notes
            memory.supply(workspace)
            found += workspace.entities
        price = next(e for e in found if isinstance(e, Price))
        degrees = next(e for e in found if isinstance(e, Measurement))
        assert (price.currency, degrees.unit) == wanted


def test_what_is_meant_follows_each_thing_that_tells_it() -> None:
    memory, told = Memory(), []
    for text in (
        "the bolts are off", "torque is thirty newton metres", "the bonnet is open",
        "it is eighty kilometres away", "forty foot pounds", "the seal is nine pounds fifty",
    ):  # fmt: skip
        workspace = pipeline()(text)._.notes
        memory.supply(workspace)
        told.append(units_told(workspace))
    assert [units.torque for units in told] == ["ft.lbf", *["N.m"] * 3, *["ft.lbf"] * 2]
    assert (told[0].distance, told[3].distance) == ("mi", "km")


@pytest.mark.parametrize(
    ("lines", "unit"),
    [
        (["thirty kilometres of road", "it reached ninety degrees"], "Cel"),
        (["drove it thirty miles", "it reached ninety degrees"], "degF"),
        (["the hose is £12", "it reached ninety degrees"], "Cel"),
        (["two nuts fourteen foot pounds", "a new tyre on it", "it reached ninety degrees"], "Cel"),
        (["nine dollars", "ten miles", "to thirty five newton metres", "it reached ninety degrees"], "degF"),
        (["four dollars", "two quarts of oil in it", "it reached ninety degrees"], "degF"),
    ],
)
def test_degrees_follow_the_session(lines: list[str], unit: str) -> None:
    assert understood(lines)[-1] == [f"temperature 90 {unit}"]


@pytest.mark.parametrize(
    ("value", "count", "size"),
    [
        (210, 2, 10),
        (440, 4, 14),
        (313, 3, 13),
        (1213, 12, 13),
        (108, 10, 8),
        (38, 3, 8),
        (28, 2, 8),
        (110, 1, 10),
    ],
)
def test_count_and_size_run_together(value: float, count: int | None, size: float | None) -> None:
    split = split_size(value)
    assert (split.count, split.size) == (count, size) if split else count is None


@given(st.integers(1, 24), st.sampled_from(sorted(s for s in STANDARD if s >= 10 and s == int(s))))
def test_a_split_is_a_reading_of_the_digits(count: int, size: float) -> None:
    split = split_size(float(f"{count}{size:g}"))
    assert split is None or split.size in STANDARD


def test_a_split_is_repaired_visibly() -> None:
    notes = session(["28mm bolts on the cover"])[0]
    bolt = next(e for e in notes.entities if isinstance(e, Fastener))
    assert (bolt.count, bolt.other) == (2, "28 mm")
    assert [(r.heard, r.rule) for r in notes.repairs] == [("28", "repair.split")]
    assert [look.kind for look in notes.looks] == ["split"]


@pytest.mark.parametrize(
    ("said", "other"),
    [
        ("three sixteenths bolts out", "3 of 16 mm"),
        ("two or three bolts out", "2"),
        ("five sixteenths bolts", ""),
    ],
)
def test_an_ambiguous_number_keeps_the_other_reading_and_asks_for_a_look(said: str, other: str) -> None:
    notes = session([said])[0]
    bolt = next(e for e in notes.entities if isinstance(e, Fastener))
    assert (bolt.other, [look.kind for look in notes.looks]) == (other, ["split"] if other else [])


def test_a_vin_that_lacks_a_character_is_no_reading_and_no_code() -> None:
    start, end = "one mike eight golf delta mike nine alpha", "kilo papa zero four two seven eight"
    notes = session([f"vin is {start} x-ray {end}"])[0]
    assert notes.entities == []
    assert notes.looks[0].reason == "a VIN has 17 characters, 16 were heard: 1M8GDM9AXKP04278"


@pytest.mark.parametrize(
    ("said", "other"),
    [
        ("coil number k j four four one two thirty eight fifty", "KJ441 and 238.50"),
        ("valve h k seven oh two one sixty four fifty", "HK7021 and 64.50"),
        ("gasket number d g one one zero two ninety", "DG110 and 2.90"),
        ("coil number k j four four one two, thirty eight fifty", None),
        ("drop link p l four four one oh eighteen sixty", None),
    ],
)
def test_a_digit_between_a_part_number_and_its_price_asks_for_a_look(said: str, other: str | None) -> None:
    looks = [look.reason for look in session([said])[0].looks]
    assert [reason.rpartition("also mean ")[2] for reason in looks] == ([other] if other else [])


def test_every_pair_the_check_digit_cannot_hear_is_named() -> None:
    for one, two in ("CT", "EV", "GP", "AJ", "H8"):
        whole = f"1M8{one}DM90{check_digit(f'1M8{one}DM900KL042733')}KL042733"
        assert check_digit(whole.replace(one, two, 1)) == whole[8]
        assert f"{one}/{two}" in session([f"vin {whole}"])[0].looks[0].reason


def test_a_vin_is_put_up_for_reading_back() -> None:
    start, end = "vin is sierra victor alpha six delta two kilo", "xray juliet bravo 1 zero 4 eight 2 four"
    good, bad = session([f"{start} three {end}", f"{start} four {end}"])
    assert "E/V" in good.looks[0].reason
    assert "check digit does not agree" in bad.looks[0].reason
    assert check_digit("SHORT") is None


def test_a_torque_out_of_its_band_is_looked_at() -> None:
    wrong, right = session(["the ten mil bolts to 106 foot pounds", "the ten mil bolts to 106 inch pounds"])
    assert [look.kind for look in wrong.looks] == ["band"]
    assert right.looks == []
    assert head_band(Size(10, "mm")) == pytest.approx((2.2, 54.7), rel=0.03)
    assert head_band(Size(6, "mm"), thread=True) == pytest.approx((2.2, 22.5), rel=0.03)
    assert head_band(Size(0.5, "in")) is None


@pytest.mark.parametrize(
    ("value", "unit", "other", "expression"),
    [
        (89, "ft.lbf", "N.m", ("force_pound*foot", "newton*meter")),
        (106, "in.lbf", "N.m", ("force_pound*inch", "newton*meter")),
        (2, "bar", "psi", ("bar", "pound_force_per_square_inch")),
        (35, "psi", "kPa", ("pound_force_per_square_inch", "kilopascal")),
        (0.035, "in", "mm", ("inch", "millimeter")),
        (420, "mA", "A", ("milliampere", "ampere")),
    ],
)
def test_conversions_are_those_of_the_unit_library(
    value: float, unit: str, other: str, expression: tuple[str, str]
) -> None:
    wanted = REGISTRY.Quantity(value, expression[0]).to(expression[1]).magnitude
    assert convert(value, unit, other) == pytest.approx(wanted, rel=1e-9)


def test_what_cannot_be_converted() -> None:
    assert convert(1, "V", "psi") is None
    assert convert(212, "degF", "Cel") == pytest.approx(100)


def test_titles_only_of_checked_codes() -> None:
    assert title("P0303") == "Cylinder 3 Misfire Detected"
    assert title("P1234") is None


@pytest.mark.parametrize(
    ("text", "count", "size"),
    [("five, nineteen mil lug nuts", 5, 19.0), ("two, ten mil bolts", 2, 10.0)],
)
def test_a_breath_heard_as_a_comma_parts_no_number(text: str, count: int, size: float) -> None:
    found = [e for e in pipeline()(text)._.notes.entities if e.type == "fastener"]
    assert [(e.count, e.size.value) for e in found] == [(count, size)]
