"""Ordinary talk, and what a person would write down of it: invented jobs of ``tests/job/ordinary``.

Expectations were written before the program read the jobs. What is known to be wrong says so (``wrong``) and
is held to be wrong, so that a mending shows.
"""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from narrator.job.compile import compile_record
from narrator.language import Reader
from narrator.values import Utterance
from tests.job.facts_of_a_job import Job, Row, wrong

FILES = sorted((Path(__file__).parent / "ordinary").glob("*.toml"))


def jobs() -> list[Any]:
    told = [(path.stem, job) for path in FILES for job in tomllib.loads(path.read_text("utf-8"))["job"]]
    return [pytest.param(job, id=f"{stem}-{job['name'].replace(' ', '_')}") for stem, job in told]


def compiled(said: list[str]) -> Row:
    heard = [Utterance(n, n * 8.0, n * 8.0 + 6, text) for n, text in enumerate(said, start=1)]
    return compile_record(list(Reader().read(heard))).model_dump(mode="json")


@pytest.mark.parametrize("job", jobs())
def test_a_job_is_written_down_as_a_person_would(job: Job, request: pytest.FixtureRequest) -> None:
    if "wrong" in job:
        request.applymarker(pytest.mark.xfail(reason=job["wrong"], strict=True))
    assert wrong(compiled(job["said"]), job["expect"]) == []


RECORD: Row = {
    "hypotheses": [
        {"component": "fuel pump", "status": "open"},
        {"component": "relay", "status": "ruled_out"},
    ],
    "tests": [{"component": None, "outcome": "fail"}],
    "fasteners": [
        {"kind": "bolt", "size": {"value": 10.0, "unit": "mm"}, "removed": 4, "installed": 3},
        {"kind": "clip", "size": None, "removed": 2, "installed": 2},
    ],
    "measurements": [
        {"value": 12.4, "unit": "V", "role": "reading"},
        {"value": 40, "unit": "N.m", "role": "setting"},
    ],
    "parts": [{"name": "coil", "number": "KJ4412", "price": {"amount": "38.50"}, "state": "needed"}],
    "open_items": [{"text": "Bracket's cracked, left"}],
    "verifications": [{"outcome": "pass"}],
    "corrections": [{"action": "replace", "component": "fuel pump"}],
    "cautions": [{"text": "Mind that spring, it bites"}],
    "vehicle": {"year": 2011, "make": "Halden", "model": "Courier", "vin": None,
                "odometer": {"value": 87400, "unit": "mi"}},
    "utterances": [
        {"struck": False, "entities": [{"type": "dtc", "code": "P0420"}, {"type": "price"}]},
        {"struck": False, "entities": [{"type": "dtc", "code": "P0420"}, {"type": "dtc", "code": "U0100"}]},
        {"struck": True, "entities": [{"type": "dtc", "code": "P0300"}]},
    ],
}  # fmt: skip

RIGHT: list[tuple[str, list[str]]] = [
    ("suspects", ["pump: open", "relay: ruled_out"]),
    ("tests", [": fail"]),
    ("fasteners", ["bolt 10 mm: 4 off, 3 on", "clip: 2 off, 2 on"]),
    ("readings", ["12.4 V", "40 N.m setting"]),
    ("parts", ["coil KJ4412 38.50: needed"]),
    ("open", ["bracket"]),
    ("repair", ["pass"]),
    ("work", ["replace pump"]),
    ("codes", ["U0100", "P0420"]),
    ("vehicle", ["2011 halden courier", "87400 mi"]),
    ("cautions", ["spring"]),
]

OTHERWISE: list[tuple[str, list[str]]] = [
    ("suspects", ["pump: open"]),
    ("suspects", ["pump: open", "relay: open"]),
    ("suspects", ["pump: open", "fuel pump: open"]),
    ("tests", ["pump: fail"]),
    ("tests", [": pass"]),
    ("fasteners", ["bolt 10 mm: 4 off, 4 on", "clip: 2 off, 2 on"]),
    ("readings", ["12.4 V"]),
    ("readings", ["2.4 V", "40 N.m setting"]),
    ("parts", ["coil KJ4413: needed"]),
    ("open", []),
    ("repair", ["fail"]),
    ("work", ["clean pump"]),
    ("codes", ["U0100", "P0420", "P0300"]),
    ("vehicle", ["2010 halden courier", "87400 mi"]),
    ("vehicle", ["2011 halden courier"]),
    ("cautions", []),
]


@pytest.mark.parametrize(("section", "lines"), RIGHT)
def test_lines_that_the_record_has_are_found(section: str, lines: list[str]) -> None:
    assert wrong(RECORD, {section: lines}) == []


@pytest.mark.parametrize(("section", "lines"), OTHERWISE)
def test_lines_that_the_record_has_not_are_told(section: str, lines: list[str]) -> None:
    assert len(wrong(RECORD, {section: lines})) == 1
