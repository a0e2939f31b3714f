"""Bare degrees take the unit that the session tells later."""

from __future__ import annotations

import pytest

from narrator.job.degrees import settle_degrees
from narrator.language import Reader
from narrator.values import Look, Measurement, Understood, Utterance


def _line(n: int, unit: str, settled: bool, degrees: str | None, looks: tuple[Look, ...] = ()) -> Understood:
    one = Measurement(
        span=(0, 5),
        at=(0, 1),
        rule="unit.degree",
        quantity="temperature",
        value=86.0,
        unit=unit,
        settled=settled,
    )
    told = {"Cel": "Cel", "degF": "degF"}.get(degrees or "")
    return Understood(
        Utterance(n, 0.0, 1.0, "words"), "words", ("words",), entities=(one,), looks=looks, degrees=told
    )  # type: ignore[arg-type]


def _units(lines: list[Understood]) -> list[str | None]:
    return [e.unit for one in lines for e in one.entities if isinstance(e, Measurement)]


@pytest.mark.parametrize(
    ("told", "wanted"),
    [
        ((None, None), ["degF", "degF"]),
        ((None, "Cel"), ["Cel", "degF"]),
        (("degF", "Cel"), ["Cel", "degF"]),
    ],
)
def test_open_degrees_take_what_was_told_last(told: tuple[str | None, str | None], wanted: list[str]) -> None:
    lines = [_line(1, "degF", False, told[0]), _line(2, "degF", True, told[1])]
    assert _units(settle_degrees(lines)) == wanted


def test_a_look_in_the_other_unit_falls_away() -> None:
    looks = (Look("band", "86 degF lies outside", 1, (0, 5)), Look("slip", "a slip", 1, (0, 5)))
    settled = settle_degrees([_line(1, "degF", False, None, looks), _line(2, "Cel", True, "Cel")])
    assert [look.kind for look in settled[0].looks] == ["slip"]


def test_a_session_read_whole_or_line_by_line_is_the_same() -> None:
    said = ["back left is at eighty six degrees", "right fifty eight", "new pads forty pounds sterling, £40"]
    lines = [Utterance(n, float(n), n + 0.5, text) for n, text in enumerate(said, 1)]
    whole = settle_degrees(Reader(use_model=False).read(lines))
    assert whole == settle_degrees(list(Reader(use_model=False).read(iter(lines))))
    assert _units(whole)[:2] == ["Cel", "Cel"]
    assert whole[0].clean == "Back left is at 86°"
