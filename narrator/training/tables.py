"""One job's record as rows of the study's tables: the shape that is kept as Parquet and asked with SQL.

``TABLES`` names every column and its type; docs/training.md describes the tables. Raise ``VERSION`` whenever
the same record would give other rows.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

from narrator.job.record import Record
from narrator.training import kinds
from narrator.training.alike import sketch
from narrator.training.course import Course
from narrator.training.figure import Figure
from narrator.training.information import EQUAL, Priors
from narrator.training.measures import JobMeasures, measure
from narrator.training.phases import Phases

VERSION = "2"

Row = dict[str, Any]

FIGURES: tuple[str, ...] = (
    "suspects", "tests", "suspects_before_first_test", "cause_rank", "cause_suspected", "tests_a_suspect",
    "tests_splitting", "tests_not_splitting", "bits_gained", "tests_repeated", "conclusions_withdrawn",
    "suspects_reopened", "parts_untested", "parts_unneeded", "consequences_as_causes", "causes_found",
    "fasteners_left_over", *(f.name for f in fields(Phases)),
)  # fmt: skip
"""Measures of a job that carry bounds: three columns each (``x``, ``x_low``, ``x_high``)."""

_ONE = {"session": str}
TABLES: dict[str, dict[str, type]] = {
    "jobs": {
        **_ONE, "started": str, "person": str, "year": int, "make": str, "model": str, "rules": str,
        "bits_expected": float, "verification": str, "verification_sure": bool, "cause": str, "system": str,
        **{f"{name}{end}": float for name in FIGURES for end in ("", "_low", "_high")},
    },
    "suspects": {
        **_ONE, "id": str, "rank": int, "component": str, "system": str, "fault": str, "status": str,
        "cause": bool, "consequence": bool, "withdrawn": bool, "reopened": bool, "sure": bool,
    },
    "tests": {
        **_ONE, "id": str, "number": int, "procedure": str, "component": str, "system": str, "outcome": str,
        "open": int, "bears": int, "splits": bool, "expected": float, "gained": float, "gained_low": float,
        "gained_high": float, "sure": bool,
    },
    "fitted": {
        **_ONE, "name": str, "spoken_for": bool, "unneeded": bool, "perhaps": bool, "sure": bool,
        "amount": float, "currency": str,
    },
    "symptoms": {**_ONE, "symptom": str, "utterance": int},
    "codes": {**_ONE, "code": str},
    "components": {**_ONE, "component": str, "system": str},
    "sketches": {**_ONE, "sketch": str},
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Job:
    """What the store knows of a job beside its record."""

    session: str
    started: str
    person: str | None


def rows(job: Job, record: Record, priors: Priors = EQUAL) -> dict[str, list[Row]]:
    """The rows of one job for every table."""
    course = Course(record)
    measured = measure(record, priors)
    made = {
        "jobs": [_job(job, record, measured)],
        "suspects": _suspects(course),
        "tests": _tests(course, measured),
        "fitted": [
            {"name": f.name, "spoken_for": f.spoken_for, "unneeded": f.unneeded, "perhaps": f.perhaps,
             "sure": f.sure, "amount": None if f.amount is None else float(f.amount), "currency": f.currency}
            for f in measured.fitted
        ],
        "symptoms": [{"symptom": s, "utterance": u} for s, u in kinds.symptoms(record)],
        "codes": [{"code": code} for code in kinds.named_codes(record)],
        "components": [
            {"component": c, "system": kinds.system_of(c)} for c in kinds.named_components(record)
        ],
        "sketches": [{"sketch": made} for made in [sketch(record)] if made],
    }  # fmt: skip
    return {name: [{"session": job.session, **row} for row in made[name]] for name in TABLES}


def _job(job: Job, record: Record, measured: JobMeasures) -> Row:
    cause = measured.causes[0].component if measured.causes else None
    row: Row = {
        "started": job.started,
        "person": job.person,
        "year": record.vehicle.year,
        "make": record.vehicle.make,
        "model": record.vehicle.model,
        "rules": record.rules,
        "bits_expected": measured.bits_expected,
        "verification": measured.verification,
        "verification_sure": measured.verification_sure,
        "cause": cause,
        "system": kinds.system_of(cause) if cause else None,
    }
    for name in FIGURES:
        value: Figure | None = getattr(measured if hasattr(measured, name) else measured.phases, name)
        row[name] = value.best if value else None
        row[f"{name}_low"] = value.low if value else None
        row[f"{name}_high"] = value.high if value else None
    return row


def _suspects(course: Course) -> list[Row]:
    causes = {h.id for h in course.causes()}
    order = sorted(course.suspects, key=course.opened)
    found = []
    for rank, h in enumerate(order, start=1):
        turned = [before for before, _, _ in course.turns(h)]
        found.append({
            "id": h.id, "rank": rank, "component": h.component, "system": kinds.system_of(h.component),
            "fault": h.fault, "status": h.status, "cause": h.id in causes,
            "consequence": bool(h.consequence_of), "withdrawn": "confirmed" in turned,
            "reopened": "ruled_out" in turned, "sure": course.sure(c.utterance for c in h.history),
        })  # fmt: skip
    return found


def _tests(course: Course, measured: JobMeasures) -> list[Row]:
    return [
        {
            "id": t.id, "number": n, "procedure": t.procedure, "component": t.component,
            "system": kinds.system_of(t.component) if t.component else None, "outcome": t.outcome,
            "open": a.open, "bears": a.bears, "splits": a.splits, "expected": a.expected,
            "gained": a.gained.best, "gained_low": a.gained.low, "gained_high": a.gained.high,
            "sure": course.sure(t.utterances),
        }
        for n, (t, a) in enumerate(zip(course.in_order(), measured.told, strict=True), start=1)
    ]  # fmt: skip
