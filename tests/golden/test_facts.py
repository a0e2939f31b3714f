"""The checker of hand-written facts finds what is missing: it must be able to fail."""

from __future__ import annotations

from typing import Any

import pytest

from tests.golden.facts import misses


def record() -> dict[str, Any]:
    return {
        "vehicle": {"year": 2013, "make": "Torvane", "model": "Linnet", "odometer": None},
        "utterances": [
            {"id": 1, "text": "p zero four twenty", "acts": ["result"],
             "entities": [{"type": "dtc", "code": "P0420"}]},
            {"id": 2, "text": "lunch", "acts": ["aside"], "entities": []},
        ],
        "hypotheses": [
            {"component": "injector", "statement": "bad injector", "status": "ruled_out",
             "history": [{"status": s, "utterance": 1} for s in ("open", "confirmed", "ruled_out")]},
            {"component": "brake hose", "statement": "collapsed hose", "status": "confirmed", "history": []},
        ],
        "tests": [{"component": "brake hose", "procedure": "opened the bleeder", "outcome": "fail"}],
        "verifications": [{"outcome": "fail"}, {"outcome": "pass"}],
        "fasteners": [{"kind": "nut", "size": {"value": 19.0, "unit": "mm"}, "location": "wheel",
                       "removed": 5, "installed": 4}],
        "parts": [{"name": "slide pin kit", "number": "BK7714", "price": {"amount": "18.50"},
                   "state": "needed"}],
        "measurements": [{"value": 35.0, "unit": "N.m"}],
        "open_items": [{"text": "order pads"}],
        "cautions": [{"text": "use a stand"}],
    }  # fmt: skip


NUT = {"kind": "nut", "size": {"value": 19, "unit": "mm"}, "removed": 5, "installed": 4}

HELD: list[tuple[str, Any]] = [
    ("vehicle", {"year": 2013, "make": "torvane", "odometer": None}),
    ("suspect", [{"about": "injector", "status": "ruled_out", "passed_through": ["open", "confirmed"]}]),
    ("confirmed_only", ["brake hose"]),
    ("test", [{"about": "bleeder", "outcome": "fail"}]),
    ("fastener", [NUT, NUT | {"where": "wheel"}]),
    ("part", [{"about": "slide pin", "number": "BK7714", "price": "18.50", "state": "needed"}]),
    ("reading", [{"value": 35, "unit": "N.m"}]),
    ("never_read", [{"value": 30, "unit": "N.m"}]),
    ("code", [{"code": "P0420"}]),
    ("caution", [{"about": "stand"}]),
    ("open_item", [{"about": "pads"}]),
    ("aside", [{"utterance": 2}]),
    ("verification", "pass"),
]

LACKING: list[tuple[str, Any]] = [
    ("vehicle", {"model": "arrow"}),
    ("vehicle", {"odometer": {"value": 1, "unit": "mi"}}),
    ("suspect", [{"about": "pump", "status": "open"}]),
    ("suspect", [{"about": "injector", "status": "confirmed"}]),
    ("suspect", [{"about": "injector", "status": "ruled_out", "passed_through": ["ruled_out", "open"]}]),
    ("suspect", [{"about": "injector", "not_about": "bad", "status": "ruled_out"}]),
    ("confirmed_only", ["injector"]),
    ("test", [{"about": "hose", "outcome": "pass"}]),
    ("test", [{"about": "pump", "outcome": "pass"}]),
    ("fastener", [NUT | {"installed": 5}]),
    ("fastener", [NUT | {"where": "bracket"}]),
    ("fastener", [NUT | {"size": {"value": 19, "unit": "in"}}]),
    ("part", [{"about": "slide pin", "number": "BK7715"}]),
    ("part", [{"about": "slide pin", "price": "18.05"}]),
    ("part", [{"about": "slide pin", "state": "fitted"}]),
    ("part", [{"about": "pads"}]),
    ("reading", [{"value": 35, "unit": "ft.lbf"}]),
    ("never_read", [{"value": 35, "unit": "N.m"}]),
    ("code", [{"code": "P0303"}]),
    ("caution", [{"about": "tand"}]),
    ("open_item", [{"about": "bolt"}]),
    ("aside", [{"utterance": 1}]),
    ("verification", "fail"),
]


@pytest.mark.parametrize(("section", "wanted"), HELD)
def test_a_fact_that_is_there_is_found(section: str, wanted: Any) -> None:
    assert misses(record(), {section: wanted}) == []


@pytest.mark.parametrize(("section", "wanted"), LACKING)
def test_a_fact_that_is_not_there_is_missed(section: str, wanted: Any) -> None:
    assert len(misses(record(), {section: wanted})) == 1


def test_a_section_that_nothing_checks_is_refused() -> None:
    with pytest.raises(ValueError, match="suspects"):
        misses(record(), {"suspects": []})
