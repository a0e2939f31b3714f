"""docs/store.md names every table and command, and its queries run."""

from __future__ import annotations

import re
import sqlite3
from pathlib import Path

import pytest
from click.testing import CliRunner

from narrator.cli import cli
from narrator.store import Writer
from narrator.store.opening import database_path
from tests.store.helpers import put

DOC = (Path(__file__).parents[2] / "docs" / "store.md").read_text(encoding="utf-8")
QUERIES = [" ".join(found.split()) for found in re.findall(r'sqlite3 -readonly narrator\.db "([^"]+)"', DOC)]


def test_every_table_is_described_and_no_other(home: Path) -> None:
    with Writer(home) as writer, writer.transaction() as db:
        put(writer)
        kept = {name for name in (*db.table_names(), *db.view_names()) if "_fts_" not in name}
    named = set(re.findall(r"^\| `(\w+)` \|", DOC, re.MULTILINE))
    assert kept - named == {
        "lines_fts",
        "hypotheses_fts",
        "tests_fts",
        "session_list",
        "erasures",
        "_sqlite_migrations",
    }
    assert named <= kept
    assert all(f"`{name}`" in DOC for name in kept)


@pytest.mark.parametrize("command", re.findall(r"^\| `narrator (\w+)", DOC, re.MULTILINE))
def test_every_command_exists(command: str) -> None:
    assert CliRunner().invoke(cli, [command, "--help"]).exit_code == 0


@pytest.mark.parametrize("query", QUERIES)
def test_every_query_runs(home: Path, query: str) -> None:
    with Writer(home) as writer:
        put(writer)
    db = sqlite3.connect(f"file:{database_path(home)}?mode=ro", uri=True)
    rows = db.execute(query).fetchall()
    assert "lines_fts" not in query or len(rows) == 1
    db.close()


def test_there_are_queries() -> None:
    assert len(QUERIES) == 3
