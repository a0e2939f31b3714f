"""Jobs told alike are found whatever the corpus is like; causes and first tests are counted by symptom."""

from __future__ import annotations

import random
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from models.understanding.narrations.build import HERE, build
from narrator.cli import cli
from narrator.job.record import Record
from narrator.session import keep_session
from narrator.training.alike import LIKENESS, PLACES, Group, groups, read, sketch
from narrator.training.archive import refresh
from narrator.training.parquet import open_tables
from narrator.training.patterns import names, symptom_causes, symptom_tests
from narrator.training.selection import Selection
from narrator.training.study import study
from narrator.training.tables import TABLES
from narrator.values import Utterance
from tests.training.example import example, suspect, trial

pytest.importorskip("datasketch")

TEXTS = {
    path.stem: [row["text"] for row in build(path)[0]] for path in sorted(HERE.glob("a*.toml"))[:8]
}  # our own narrations: of different jobs


def told(lines: list[str]) -> Record:
    rows = [
        {"id": n, "start": n, "end": n + 1, "text": t, "clean": t, "acts": [], "entities": []}
        for n, t in enumerate(lines, start=1)
    ]
    return example(utterances=rows, hypotheses=[], tests=[], corrections=[], verifications=[], fasteners=[],
                   parts=[])  # fmt: skip


def misheard(lines: list[str], each: float, seed: int) -> list[str]:
    rng = random.Random(seed)
    return [" ".join("zz" if rng.random() < each else w for w in line.split()) for line in lines]


def sketched(jobs: list[list[str]]) -> list[str]:
    made = [sketch(told(lines)) for lines in jobs]
    assert all(made)
    return [one for one in made if one]


def test_a_job_heard_twice_is_found_and_different_ones_are_not() -> None:
    jobs = [*TEXTS.values(), *(misheard(lines, 0.12, 5) for lines in TEXTS.values())]
    found = groups(read(sketched(jobs)))
    count = len(TEXTS)
    assert {group.jobs for group in found} == {(n, n + count) for n in range(count)}
    assert all(LIKENESS <= group.likeness[0] < 0.8 for group in found)


def test_the_estimate_is_near_the_share_itself() -> None:
    one, *_ = TEXTS.values()
    other = one[: len(one) // 2]

    def pairs(lines: list[str]) -> set[tuple[str, str]]:
        words = " ".join(lines).replace("'", "").split()
        return set(pairwise(words))

    share = len(pairs(one) & pairs(other)) / len(pairs(one) | pairs(other))
    assert groups(read(sketched([one, other])))[0].likeness[0] == pytest.approx(share, abs=0.12)


def test_a_very_short_job_is_not_compared() -> None:
    assert sketch(told(["the lights flicker", "it's the ground strap"])) is None
    assert groups(read([])) == []


def test_many_alike_take_no_pair_by_pair() -> None:
    rng = np.random.default_rng(1)
    row = rng.integers(0, 1 << 16, PLACES, dtype=np.uint16)
    table = np.concatenate([np.broadcast_to(row, (30_000, PLACES)),
                            rng.integers(0, 1 << 16, (30_000, PLACES), dtype=np.uint16)])  # fmt: skip
    assert groups(table) == [Group(tuple(range(30_000)), (1.0,) * 29_999)]


def test_causes_and_first_tests_by_symptom(tmp_path: Path) -> None:
    from narrator.store import Writer  # noqa: PLC0415
    from narrator.store.rows import NewSession  # noqa: PLC0415

    other = example(
        hypotheses=[suspect("H1", "caliper", ("open", 2), ("confirmed", 4))],
        tests=[trial("T1", "wheel bearing", "pass", [], 3)],
    )
    with Writer(tmp_path) as writer:
        for n, record in enumerate([example(), example(), other]):
            session = writer.start_session(NewSession(f"2031-01-0{n + 1}T08:00:00+00:00"))
            writer.keep_record(session, "example", record.model_dump_json(), "0:0 0:0 0:0 0:0 0:0")
    with open_tables(refresh(tmp_path).folder, TABLES) as db:
        db.execute("CREATE TABLE chosen AS SELECT * FROM jobs")
        causes = [row[:5] for row in symptom_causes(db).rows]
        tests = [row[:5] for row in symptom_tests(db).rows]
    symptom = "pulls, drags or steers badly"
    assert causes == [(symptom, "hose", 2, 3, 0.6667), (symptom, "caliper", 1, 3, 0.3333)]
    assert tests == [(symptom, "caliper", 2, 2, 1.0), (symptom, "wheel bearing", 0, 1, 0.0)]
    whole = study(tmp_path / "study", Selection(), once=True)
    assert whole.jobs == 2 - 1
    assert "told alike only the first" in whole.of
    assert whole.table("alike").rows[0][2] == 3


def test_names_of_one_thing(tmp_path: Path) -> None:
    for said in ("i suspect the alternator", "i suspect the alternator", "i suspect the generator"):
        keep_session(tmp_path, [Utterance(1, 0.0, 2.0, said)])
    with open_tables(refresh(tmp_path).folder, TABLES) as db:
        db.execute("CREATE TABLE chosen AS SELECT * FROM jobs")
        assert names(db).rows == (("alternator", 3, "alternator 2, generator 1"),)


def test_the_command(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NARRATOR_HOME", str(tmp_path))
    lines, *_ = TEXTS.values()
    kept = [
        keep_session(tmp_path, [Utterance(n, n * 5.0, n * 5.0 + 4, t) for n, t in enumerate(said)],
                     started=f"2031-01-0{day}T08:00:00+00:00")
        for day, said in enumerate((lines, misheard(lines, 0.05, 1)), start=1)
    ]  # fmt: skip
    run = CliRunner().invoke(cli, ["study"])
    assert run.exit_code == 0, run.output
    assert "2 job(s)" in run.stdout
    assert kept[0] in run.stdout[run.stdout.index("Jobs told alike") :]
    assert "1 job(s)" in CliRunner().invoke(cli, ["study", "--once"]).stdout
