"""The store leaves as Parquet in full, and its file opens in datasette with views that answer."""

from __future__ import annotations

import asyncio
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from narrator.cli import cli
from narrator.session import keep_session
from narrator.store import Writer
from narrator.store.asking import VIEWS
from narrator.store.opening import database_path
from narrator.training.invented import fill
from narrator.training.parquet import connect, quoted
from narrator.training.whole import store_tables
from narrator.values import Correction, Utterance, Word

SAID = ("the lights flicker", "i suspect the ground strap", "or the alternator", "i test the alternator",
        "fourteen volts", "so it's not the alternator", "yep it's the ground strap it's loose")  # fmt: skip


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("whole")
    words = [tuple(Word(w, n * 5.0, n * 5.0 + 0.2, 0.9) for w in text.split()) for n, text in enumerate(SAID)]
    session = keep_session(
        made, [Utterance(n, n * 5.0, n * 5.0 + 3, t, words[n]) for n, t in enumerate(SAID)]
    )
    with Writer(made) as writer:
        writer.add_correction(session, Correction(0, "the lamps flicker", "ana", "2031-01-01T00:00:00Z"))
    fill(made, 5)
    return made


@pytest.fixture(scope="module")
def exported(home: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("parquet")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("NARRATOR_HOME", str(home))
        run = CliRunner().invoke(cli, ["export", "--all", "--parquet", str(folder)])
    assert run.exit_code == 0, run.output
    return folder / "store"


def test_every_table_leaves_with_every_row_and_column(home: Path, exported: Path) -> None:
    inside = {"lines", "erasures", "_sqlite_migrations", "session_list", *VIEWS}
    with Writer(home) as writer, writer.transaction() as db, connect() as duck:
        kept = {name for name in db.table_names() if "_fts" not in name and not name.startswith("sqlite_")}
        assert kept - inside == set(store_tables())
        for name in store_tables():
            file = quoted(exported / f"{name}.parquet")
            columns = [row[0] for row in duck.execute(f"DESCRIBE SELECT * FROM {file}").fetchall()]
            there = [column.name for column in db.table(name).columns]
            assert set(there) - {"seq"} == set(columns) - {"seq"}, name
            (count,) = duck.execute(f"SELECT count(*) FROM {file}").fetchall()[0]
            assert count == db.table(name).count, name


def test_polars_reads_it(exported: Path) -> None:
    polars = pytest.importorskip("polars")
    said = polars.read_parquet(exported / "utterances.parquet")
    words = polars.read_parquet(exported / "words.parquet")
    assert said.filter(polars.col("text") == SAID[1]).height == 1
    assert words.height == sum(len(text.split()) for text in SAID)
    better = polars.scan_parquet(exported / "corrections.parquet").select("text", "who").collect()
    assert better.rows() == [("the lamps flicker", "ana")]
    suspects = polars.read_parquet(exported / "hypotheses.parquet")
    assert "ground strap" in suspects["component"].to_list()


def test_datasette_shows_the_views(home: Path) -> None:
    app = pytest.importorskip("datasette.app")

    async def ask() -> dict[str, Any]:
        served = app.Datasette([str(database_path(home))])
        await served.invoke_startup()
        pages = {}
        for name in (*VIEWS, "session_list"):
            answer = await served.client.get(f"/narrator/{name}.json?_shape=array&_size=5")
            assert answer.status_code == 200, (name, answer.text)
            pages[name] = answer.json()
        found = await served.client.get(
            "/narrator/hypotheses.json?_search=alternator&status=ruled_out&_shape=array"
        )
        pages["search"] = found.json()
        page = await served.client.get("/narrator/job_causes")
        assert page.status_code == 200
        return pages

    with ThreadPoolExecutor(1) as other:  # the browser tests' loop may still run in this thread
        pages = other.submit(asyncio.run, ask()).result()
    assert all(pages[name] for name in (*VIEWS, "session_list"))
    assert {"session", "started", "vehicle", "component"} <= set(pages["job_causes"][0])
    assert {row["component"] for row in pages["search"]} == {"alternator"}
