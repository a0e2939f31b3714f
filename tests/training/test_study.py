"""A study counts what the jobs hold, shows how sure it is, and ranks nobody."""

from __future__ import annotations

import csv
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from narrator.cli import cli
from narrator.errors import NarratorError
from narrator.store import Reader, Writer
from narrator.training import intervals
from narrator.training.archive import FOLDER, refresh
from narrator.training.information import Priors
from narrator.training.invented import fill, jobs
from narrator.training.kinds import symptoms_in, system_of
from narrator.training.parquet import open_tables
from narrator.training.report import brief, html, write_csv, write_parquet
from narrator.training.selection import Selection
from narrator.training.study import study
from narrator.training.table import Table
from narrator.training.tables import TABLES, Job, rows
from tests.training.example import example

pytest.importorskip("duckdb")


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("invented")
    fill(made, 120)
    refresh(made)
    return made


def test_rows_of_the_worked_example() -> None:
    made = rows(Job("s", "2031-01-01", "ana"), example())
    assert made["jobs"][0]["cause_rank"] == 2
    assert made["jobs"][0]["search_low"] == 180
    assert [s["withdrawn"] for s in made["suspects"]] == [False, False, True, True]
    assert [t["splits"] for t in made["tests"]] == [True, False, True]
    assert {s["symptom"] for s in made["symptoms"]} == {"pulls, drags or steers badly"}
    assert all(set(row) <= set(TABLES[name]) for name, table in made.items() for row in table)


def test_the_corpus_is_seeded_and_labelled() -> None:
    assert list(jobs(5)) == list(jobs(5))
    assert list(jobs(5)) != list(jobs(5, seed=2))
    assert all(
        new.source == "invented corpus" and record["rules"] == "invented" for new, _, record in jobs(5)
    )


def test_counts_agree_with_the_store(home: Path) -> None:
    found = study(home / FOLDER, Selection())
    assert found.jobs == 120
    with Writer(home) as writer, writer.transaction() as db:
        passed = db.execute(
            'SELECT count(*) FROM records WHERE record LIKE \'%road test","outcome":"pass%\''
        ).fetchone()[0]
        causes = db.execute("SELECT count(*) FROM hypotheses WHERE status = 'confirmed'").fetchone()[0]
    table = {row[0]: row for row in found.table("verification").rows}
    assert table["passed"][1] == passed
    measured = {row[0]: row for row in found.table("measures").rows}
    assert round(measured["causes found"][2] * 120) == causes


def test_a_selection_and_what_it_leaves_out(home: Path) -> None:
    brakes = study(home / FOLDER, Selection(system="brakes"))
    assert 0 < brakes.jobs < 120
    none = study(home / FOLDER, Selection(without=tuple(f"invented{n:02}" for n in range(2, 41))))
    assert none.jobs == study(home / FOLDER, Selection(person="invented01")).jobs
    assert "invented" not in none.of
    with pytest.raises(NarratorError, match="E804"):
        study(home / FOLDER, Selection(code="P9999"))
    early, late = Selection(until="2031-01-06"), Selection(since="2031-01-07")
    assert study(home / FOLDER, early).jobs + study(home / FOLDER, late).jobs == 120


def test_people_are_hidden_and_never_ranked(home: Path) -> None:
    table = study(home / FOLDER, Selection(), least=4).table("people")
    assert all(str(row[0]).startswith("Person ") for row in table.rows[:-1])
    assert "together" in table.rows[-1][0]
    assert all(row[1] >= 4 for row in table.rows[:-1])
    named = study(home / FOLDER, Selection(), people="names", least=4).table("people").rows[:-1]
    assert [row[0] for row in named] == sorted(row[0] for row in named)
    assert "people" not in {t.id for t in study(home / FOLDER, Selection(), people="none").tables}
    assert "invented0" not in html(study(home / FOLDER, Selection(), least=4), [])


def test_only_what_changed_is_measured_again(home: Path) -> None:
    assert refresh(home).measured == 0
    with Writer(home) as writer, Reader(home) as reader:
        session = sorted(reader.digests())[3]
        writer.forget(session)
    after = refresh(home)
    assert (after.jobs, after.measured) == (119, 0)
    with open_tables(home / FOLDER, TABLES) as db:
        assert db.execute("SELECT count(*) FROM tests WHERE session = ?", [session]).fetchone() == (0,)
    fill(home, 1, seed=7)
    assert refresh(home).measured == 1


def test_stated_priors_are_kept_apart(home: Path) -> None:
    stated = refresh(home, Priors(unnamed=0.25))
    assert stated.folder != home / FOLDER
    assert stated.measured == stated.jobs


def test_intervals_stand_with_what_they_bound() -> None:
    row = ("suspension", 29, 190.9, 2.07, 5, 0.17, 0.08, 0.35, 0, None, None, None)
    columns = (
        "system",
        "jobs",
        "seconds",
        "tests",
        "part",
        "share",
        "from",
        "to",
        "gone",
        "share ",
        "from ",
        "to ",
    )
    names, rows = brief(Table("systems", "By system", "", columns, (row,)))
    assert names == ["system", "jobs", "seconds", "tests", "part", "share (95 %)", "gone", "share (95 %)"]
    assert rows == [["suspension", "29", "190.9", "2.07", "5", "17% (8% to 35%)", "0", "–"]]
    seconds = Table(
        "phases", "Time", "", ("measure", "jobs", "mean", "from", "to"), (("intake", 2, 1.6, 0.2, 9.5),)
    )
    assert brief(seconds)[1] == [["intake", "2", "2 (0 to 10)"]]


def test_files(home: Path, tmp_path: Path) -> None:
    found = study(home / FOLDER, Selection())
    write_csv(found, tmp_path)
    write_parquet(found, tmp_path)
    with (tmp_path / "causes.csv").open(encoding="utf-8", newline="") as file:
        lines = list(csv.reader(file))
    assert len(lines) == 1 + len(found.table("causes").rows)
    with open_tables(tmp_path, ["causes", "cost"]) as db:
        assert db.execute("SELECT count(*) FROM causes").fetchone() == (len(lines) - 1,)
    page = html(found, ["a <note>"])
    assert page.count("<svg ") == 6
    assert "a &lt;note&gt;" in page
    assert not any(word in page for word in ("<script", "http://cdn", "src=", "@import", "<link"))


def test_the_command(home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NARRATOR_HOME", str(home))
    page = tmp_path / "report.html"
    run = CliRunner().invoke(
        cli, ["study", "--symptom", "leak", "--prior", "oil filter=3", "--html", str(page)]
    )
    assert run.exit_code == 0
    assert "symptom leak" in run.stdout
    assert "INVENTED" in run.stderr
    assert "INVENTED" in page.read_text(encoding="utf-8")
    bad = CliRunner().invoke(cli, ["study", "--prior", "oil=heavy"])
    assert isinstance(bad.exception, NarratorError)
    assert bad.exception.code == "E805"


def test_what_to_install_is_told(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "duckdb", None)
    with pytest.raises(NarratorError, match=r"narrator\[study\]"):
        study(home / FOLDER, Selection())


def test_intervals() -> None:
    low, high = intervals.share(7, 50)  # SciPy's own example, Wilson: 0.0695 to 0.2619
    assert (round(low, 4), round(high, 4)) == (0.0695, 0.2619)
    assert intervals.share(0, 0) == (0.0, 1.0)
    assert intervals.mean([1.0]) is None
    assert intervals.mean([2.0, 2.0]) == (2.0, 2.0)
    inside = intervals.mean([1.0, 2.0, 3.0, 4.0, 5.0])
    assert inside is not None
    assert 1 < inside[0] < 3 < inside[1] < 5


def test_systems_and_symptoms() -> None:
    assert system_of("left caliper") == "brakes"
    assert system_of("alternator") == "charging"
    assert system_of("thingamajig") == "other"
    assert symptoms_in("It stalls and the engine light is on") == [
        "stalls or cuts out",
        "shows a warning or a code",
    ]
