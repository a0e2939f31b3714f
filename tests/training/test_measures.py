"""Every measure gives what docs/training.md works out by hand, and carries doubt as it says."""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from narrator.job.record import Record
from narrator.training.figure import Figure, count
from narrator.training.information import Priors, entropy
from narrator.training.measures import JobMeasures, measure
from narrator.training.phases import Phases
from tests.training.example import example, suspect, trial

DOC = (Path(__file__).parents[2] / "docs" / "training.md").read_text(encoding="utf-8")
WORKED = dict(re.findall(r"^\| `(\w+)` \|.*\*\*([^*|]+)\*\* \|$", DOC, re.MULTILINE))
DETAIL = {"causes", "told", "fitted", "phases", "verification_sure"}


def shown(value: object) -> str:
    if isinstance(value, Figure):
        best, low, high = (
            f"{float(x):.2f}".rstrip("0").rstrip(".") for x in (value.best, value.low, value.high)
        )
        return best if low == high == best else f"{best} ({low} to {high})"
    if isinstance(value, dict):
        return shown(value["EUR"])
    return "none" if value is None else shown(Figure.exact(value)) if isinstance(value, float) else str(value)


def named(measured: JobMeasures) -> dict[str, object]:
    whole = {f.name: getattr(measured, f.name) for f in dataclasses.fields(measured)}
    phases = {f.name: getattr(measured.phases, f.name) for f in dataclasses.fields(Phases)}
    return {k: v for k, v in (whole | phases).items() if k not in DETAIL}


@pytest.mark.parametrize("name", sorted(WORKED))
def test_worked_example(name: str) -> None:
    assert shown(named(measure(example()))[name]) == WORKED[name]


def test_every_measure_is_documented() -> None:
    assert set(WORKED) == set(named(measure(example())))


def test_a_look_makes_a_line_unsure() -> None:
    looks = [{"kind": "number", "reason": "could be another", "utterance": 12}]
    measured = measure(example(looks=looks))
    assert measured.tests == Figure(3, 2, 3)
    assert measured.tests_splitting == Figure(2, 1, 3 - 1)
    assert measured.bits_gained.low < measured.bits_gained.best


def test_a_corrected_line_is_sure() -> None:
    record = example(looks=[{"kind": "number", "reason": "could be another", "utterance": 12}])
    rows = [u.model_copy(update={"corrected": u.text}) if u.id == 12 else u for u in record.utterances]
    assert measure(record.model_copy(update={"utterances": rows})).tests == Figure.exact(3)


def test_stated_priors_change_the_bits() -> None:
    measured = measure(example(), Priors(unnamed=1e-9, weights={"caliper": 1.0, "hose": 1.0}))
    assert [round(a.expected, 6) for a in measured.told] == [1.0, 0.0, 1.0]
    weighed = measure(example(), Priors(weights={"caliper": 6.0}))
    assert weighed.told[0].expected == pytest.approx(entropy([6, 2]))


def test_a_test_of_all_open_suspects_alike_does_not_split() -> None:
    measured = measure(example(tests=[trial("T1", "pipe", "fail", ["H1", "H2"], 3)]))
    assert (measured.tests_splitting.best, measured.tests_not_splitting.best) == (0, 1)
    assert measured.told[0].gained.best == pytest.approx(entropy([1, 1, 1]) - 1)


def test_a_check_that_never_came_was_skipped() -> None:
    assert measure(example(verifications=[])).verification == "skipped"
    assert measure(example(verifications=[], corrections=[])).verification == "no repair"


def test_a_repair_between_two_tests_asks_a_new_question() -> None:
    again = [trial("T1", "caliper", "pass", ["H1"], 3), trial("T2", "caliper", "pass", ["H1"], 5)]
    repair = [{"action": "adjust", "component": "pad", "utterances": [4]}]
    assert measure(example(tests=again)).tests_repeated.best == 1
    assert measure(example(tests=again, corrections=repair)).tests_repeated.best == 0


def test_nothing_said_gives_no_measures() -> None:
    empty = Record.model_validate({
        key: {} if key == "vehicle" else []
        for key in ("vehicle", "utterances", "hypotheses", "tests", "corrections", "verifications",
                    "fasteners", "parts", "measurements", "open_items")
    } | {"rules": "none"})  # fmt: skip
    measured = measure(empty)
    assert measured.cause_rank is None
    assert measured.tests_a_suspect is None
    assert measured.phases.to_cause is None
    assert measured.verification == "no repair"


def test_rows_that_the_record_lacks_never_stop_the_measuring() -> None:
    odd = example(
        hypotheses=[suspect("H1", "caliper", ("open", 99), ("confirmed", 98))],
        tests=[trial("T1", "caliper", "fail", ["H1", "H7"], 3) | {"utterances": [77]}],
    )
    assert measure(odd).causes_found == Figure(1, 0, 1)


@given(st.lists(st.tuples(st.booleans(), st.booleans())))
def test_a_count_lies_within_its_bounds(events: list[tuple[bool, bool]]) -> None:
    figure = count(events)
    assert figure.low <= figure.best <= figure.high <= len(events)
    assert figure.sure == all(sure for _, sure in events) or not events


@given(st.lists(st.floats(0.01, 100), min_size=1, max_size=20))
def test_doubt_is_least_when_settled_and_most_when_equal(weights: list[float]) -> None:
    assert -1e-9 <= entropy(weights) <= entropy([1.0] * len(weights)) + 1e-9
