"""Jobs are found by what happened in them, and only those."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from narrator.errors import NarratorError
from narrator.store import Reader, Writer
from narrator.store.asking import VIEWS
from narrator.store.finding import Wanted
from narrator.store.opening import database_path
from narrator.store.review import ReviewReader
from narrator.store.schema import remake_derived
from tests.store.helpers import bytes_in, facts_now, put, record_json


def job(home: Path, writer: Writer, started: str, **parts: object) -> str:
    session = put(writer, started=started)
    assert writer.keep_record(session, "t1", record_json(**parts), facts_now(home, session))
    return session


def suspect(component: str, status: str) -> dict[str, object]:
    return {"id": "H1", "statement": f"it is the {component}", "component": component, "status": status,
            "history": [{"status": status, "utterance": 1}]}  # fmt: skip


def trial(procedure: str, outcome: str) -> dict[str, object]:
    return {"id": "T1", "procedure": procedure, "outcome": outcome, "hypotheses": [], "utterances": [2]}


CODE = [{"id": 3, "clean": "P0303", "acts": ["concern"], "entities": [{"type": "dtc", "code": "P0303"}]}]


@pytest.fixture
def three(home: Path) -> dict[str, str]:
    with Writer(home) as writer:
        return {
            "cleared": job(
                home, writer, "2031-03-01T09:00:00+01:00", hypotheses=[suspect("alternator", "ruled_out")],
                tests=[trial("voltage drop across the strap", "fail")], utterances=CODE,
            ),
            "confirmed": job(
                home, writer, "2031-03-02T09:00:00+01:00", hypotheses=[suspect("alternator", "confirmed")],
                tests=[trial("voltage drop across the strap", "pass")],
                parts=[{"name": "alternator belt", "state": "fitted"}],
                verifications=[{"text": "", "outcome": "fail"}, {"text": "", "outcome": "pass"}],
            ),
            "ground": job(
                home, writer, "2031-03-03T09:00:00+01:00", hypotheses=[suspect("ground strap", "confirmed")],
                verifications=[{"text": "", "outcome": "pass"}, {"text": "", "outcome": "fail"}],
            ),
        }  # fmt: skip


@pytest.mark.parametrize(("asked", "found"), [
    ({"suspected": "alternator"}, ["confirmed", "cleared"]),
    ({"suspected": "alternators", "ended": "cleared"}, ["cleared"]),
    ({"ended": "confirmed"}, ["ground", "confirmed"]),
    ({"confirmed": "ground", "no_code": True}, ["ground"]),
    ({"tested": "voltage drop", "outcome": "fail"}, ["cleared"]),
    ({"outcome": "pass"}, ["confirmed"]),
    ({"code": "p03*"}, ["cleared"]),
    ({"fitted": "belt"}, ["confirmed"]),
    ({"verified": "pass"}, ["confirmed"]),
    ({"since": "2031-03-02", "until": "2031-03-02"}, ["confirmed"]),
    ({"said": "ground strap loose", "suspected": "alternator"}, ["confirmed", "cleared"]),
    ({"concern": "P0303"}, ["cleared"]),
    ({"vehicle": "ardenna", "person": "ana"}, ["ground", "confirmed", "cleared"]),
    ({"person": "nobody"}, []),
    ({"said": "nothing of the kind"}, []),
])  # fmt: skip
def test_find(home: Path, three: dict[str, str], asked: dict[str, object], found: list[str]) -> None:
    with Reader(home) as reader:
        answer = reader.find(Wanted(**asked))  # type: ignore[arg-type]
    names = {session: name for name, session in three.items()}
    assert [names[job.session] for job in answer.jobs] == found
    assert answer.count == len(found)


def test_a_find_shows_why(home: Path, three: dict[str, str]) -> None:
    with Reader(home) as reader:
        answer = reader.find(Wanted(suspected="alternator", ended="cleared", said="loose"))
    assert answer.jobs[0].why == (
        (1, "it is the alternator", "suspect"), (1, "the ground strap is loose", "line")
    )  # fmt: skip


@pytest.mark.parametrize(("asked", "why"), [
    ({"ended": "cleared"}, (1, "it is the alternator", "suspect")),
    ({"outcome": "fail"}, (2, "voltage drop across the strap", "test")),
    ({"code": "p0303"}, (3, "P0303", "line")),
    ({"system": "charging", "code": "p*"}, (1, "it is the alternator", "suspect")),
])  # fmt: skip
def test_every_kind_of_condition_shows_why(
    home: Path, three: dict[str, str], asked: dict[str, str], why: tuple[int, str, str]
) -> None:
    with Reader(home) as reader:
        (found,) = reader.find(Wanted(**asked), system_of=SYSTEMS.get).jobs  # type: ignore[arg-type]
    assert why in found.why


SYSTEMS = {"alternator": "charging", "ground strap": "wiring"}


def test_a_system_is_asked_by_its_components(home: Path, three: dict[str, str]) -> None:
    with Reader(home) as reader:
        counts = {
            name: reader.find(Wanted(system=name), system_of=lambda part: SYSTEMS.get(part, "")).count
            for name in ("charging", "wiring", "brakes")
        }
        both = reader.find(Wanted(system="charging", ended="cleared"), system_of=lambda part: SYSTEMS[part])
    assert counts == {"charging": 2, "wiring": 1, "brakes": 0}
    assert [job.session for job in both.jobs] == [three["cleared"]]


def test_jobs_are_found_a_page_at_a_time(home: Path, three: dict[str, str]) -> None:
    with Reader(home) as reader:
        pages = [reader.find(Wanted(person="ana"), 2, skip) for skip in (0, 2, 4)]
    assert [len(page.jobs) for page in pages] == [2, 1, 0]
    assert {page.count for page in pages} == {3}
    assert {job.session for page in pages for job in page.jobs} == set(three.values())


def test_results_tell_the_lines_and_who_spoke(home: Path, three: dict[str, str]) -> None:
    with ReviewReader(home) as reader:
        assert reader.people() == ["ana"]
        answer = reader.find(Wanted(suspected="alternator", ended="cleared", said="loose"))
        (found,) = reader.results(answer)
    assert (found.session, found.person, found.decides) == (three["cleared"], "ana", True)
    (line,) = found.lines
    assert (line.utterance, line.line, line.what) == (
        1,
        "the ground strap is loose",
        "suspect: it is the alternator",
    )


@pytest.mark.parametrize("asked", [{"suspected": "strap"}, {"ended": "open"}, {"system": "strap"}])
def test_a_job_that_fits_twice_is_found_once(home: Path, asked: dict[str, str]) -> None:
    with Writer(home) as writer:
        two = [suspect("ground strap", "open"), suspect("battery strap", "open") | {"id": "H2"}]
        session = job(home, writer, "2031-03-01T09:00:00+01:00", hypotheses=two)
    with Reader(home) as reader:
        answer = reader.find(Wanted(**asked), system_of=lambda part: part.split()[-1])  # type: ignore[arg-type]
    assert (answer.count, [found.session for found in answer.jobs]) == (1, [session])


def test_count_tells_of_more_than_are_shown(home: Path, three: dict[str, str]) -> None:
    with Reader(home) as reader:
        answer = reader.find(Wanted(person="ana"), most=1)
    assert (answer.count, len(answer.jobs)) == (3, 1)


@pytest.mark.parametrize("wanted", [Wanted(), Wanted(suspected="?!"), Wanted(suspected="belt", said="*")])
def test_nothing_asked(home: Path, three: dict[str, str], wanted: Wanted) -> None:
    with Reader(home) as reader, pytest.raises(NarratorError, match="E313"):
        reader.find(wanted)


def test_views_read_with_any_program(home: Path, three: dict[str, str]) -> None:
    db = sqlite3.connect(f"file:{database_path(home)}?mode=ro", uri=True)
    rows = {name: db.execute(f"SELECT * FROM {name}").fetchall() for name in VIEWS}
    db.close()
    assert [row[3] for row in rows["job_causes"]] == ["alternator", "ground strap"]
    assert ("alternator", 2, 1, 1, 0, 2) in rows["component_outcomes"]
    assert len(rows["job_tests"]) == 2
    assert [row[3] for row in rows["job_codes"]] == ["P0303"]


def test_asking_survives_remade_tables(home: Path, three: dict[str, str]) -> None:
    with Writer(home) as writer, writer.transaction() as db:
        remake_derived(db)
    with Reader(home) as reader:
        assert reader.find(Wanted(suspected="alternator")).count == 0


def test_a_forgotten_job_leaves_no_words_in_the_indexes(home: Path) -> None:
    with Writer(home) as writer:
        session = job(home, writer, "2031-03-01T09:00:00+01:00", hypotheses=[suspect("zanzibar", "open")])
        writer.forget(session)
    assert b"zanzibar" not in bytes_in(home)
