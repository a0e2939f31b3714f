"""The measures of whole narrated jobs equal the values that a person worked out by hand."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest

from models.understanding.narrations.build import HERE, build
from narrator.training.figure import Figure
from narrator.training.measures import JobMeasures, measure
from tests.training.gold import JOBS, load, notes, record

OURS = sorted(path.stem for path in JOBS.glob("a*.toml"))
OTHERS = sorted(path.stem for path in JOBS.glob("d*.toml"))
ELSEWHERE = os.environ.get("NARRATOR_NARRATIONS")
PHASES = {"intake", "search", "further", "repair", "to_cause"}


def check(measured: JobMeasures, expected: dict[str, Any]) -> None:
    wrong = {}
    for name, given in expected.items():
        found: Any
        value: Any
        if name == "unneeded_cost":
            found = {k: figure(v) for k, v in measured.unneeded_cost.items()}
            value = {k: triple(v) for k, v in given.items()}
        elif name == "verification":
            found, value = measured.verification, given
        else:
            one = getattr(measured.phases if name in PHASES else measured, name)
            found, value = figure(one), triple(given)
        if found != value:
            wrong[name] = (found, value)
    assert not wrong
    named = PHASES | set(JobMeasures.__dataclass_fields__)
    assert named - set(expected) - {"phases", "causes", "told", "fitted", "verification_sure"} <= {"further"}


def figure(value: object) -> object:
    if isinstance(value, Figure):
        return tuple(round(float(x), 2) for x in (value.best, value.low, value.high))
    return value if value is None else triple(value)


def triple(value: Any) -> tuple[float, ...]:
    given = value if isinstance(value, list) else [value] * 3
    return tuple(round(float(x), 2) for x in given)


@pytest.mark.parametrize("name", OURS)
def test_measures_of_our_narrations(name: str) -> None:
    rows, gold = build(HERE / f"{name}.toml")
    check(measure(record(rows, gold, notes(name))), notes(name)["expected"])


@pytest.mark.skipif(not ELSEWHERE, reason="NARRATOR_NARRATIONS names no folder of annotated narrations")
@pytest.mark.parametrize("name", OTHERS)
def test_measures_of_other_narrations(name: str) -> None:
    check(measure(load(name, Path(str(ELSEWHERE)))), notes(name)["expected"])


def test_there_are_enough_of_them() -> None:
    assert len(OURS) >= 3
    assert len(OTHERS) >= 3
