"""Tables as Parquet files, written and asked through DuckDB: the only module that imports it.

Rows go through a file of JSON lines, so that any number of them needs the memory of a few; DuckDB is held to
``MEMORY`` and spills to disk beyond it. Nothing is fetched: extensions are never installed.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Iterable, Mapping
from contextlib import AbstractContextManager
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, Self, TextIO

from narrator.errors import NarratorError

if TYPE_CHECKING:
    import duckdb

MEMORY = "1GB"
THREADS = 2
_TYPES: dict[type, str] = {str: "VARCHAR", int: "BIGINT", float: "DOUBLE", bool: "BOOLEAN"}

Row = Mapping[str, Any]
Columns = Mapping[str, type]


def connect(folder: Path | None = None) -> duckdb.DuckDBPyConnection:
    """A connection in memory, bounded; what does not fit spills into ``folder``.

    Raises:
        NarratorError: E801 when DuckDB is not installed.
    """
    try:
        import duckdb as engine  # noqa: PLC0415 - an extra, told what to install where it is missing
    except ImportError as error:
        raise NarratorError("E801", library="duckdb", extra="study") from error
    made = engine.connect(":memory:")
    for setting in (
        f"memory_limit = '{MEMORY}'", f"threads = {THREADS}", "autoinstall_known_extensions = false",
        "autoload_known_extensions = false", "enable_progress_bar = false",
    ):  # fmt: skip
        made.execute(f"SET {setting}")
    if folder is not None:
        made.execute(f"SET temp_directory = {quoted(folder)}")
    return made


def quoted(value: object) -> str:
    """A value as an SQL string literal."""
    return "'" + str(value).replace("'", "''") + "'"


class Sink(AbstractContextManager["Sink"]):
    """Takes rows of several tables one by one, then writes one Parquet file a table."""

    def __init__(self, tables: Mapping[str, Columns]) -> None:
        self.tables = tables
        self._folder = tempfile.TemporaryDirectory(prefix="narrator-")
        self.path = Path(self._folder.name)
        self._files: dict[str, TextIO] = {
            name: (self.path / f"{name}.jsonl").open("w", encoding="utf-8") for name in tables
        }

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        for file in self._files.values():
            file.close()
        self._folder.cleanup()

    def add(self, table: str, rows: Iterable[Row]) -> None:
        """Take in rows; keys that are no column are left out."""
        columns = self.tables[table]
        file = self._files[table]
        for row in rows:
            file.write(json.dumps({c: row.get(c) for c in columns}, ensure_ascii=False) + "\n")

    def write(self, folder: Path, kept: Path | None = None, dropped: Iterable[str] = ()) -> None:
        """Write ``folder/TABLE.parquet``, after the rows of ``kept`` whose session is not ``dropped``.

        Each file appears whole, in order of session, or not at all.

        Raises:
            NarratorError: E501 when a file cannot be written.
        """
        for file in self._files.values():
            file.flush()
        gone = self.path / "dropped.jsonl"
        gone.write_text("".join(json.dumps({"session": s}) + "\n" for s in dropped), encoding="utf-8")
        with connect(self.path) as db:
            for name, columns in self.tables.items():
                self._one(db, name, columns, folder, kept)

    def _one(
        self, db: duckdb.DuckDBPyConnection, name: str, columns: Columns, folder: Path, kept: Path | None
    ) -> None:
        kinds = ", ".join(f"{quoted(c)}: {quoted(_TYPES[kind])}" for c, kind in columns.items())
        source = self.path / f"{name}.jsonl"
        query = f"SELECT * FROM read_json({quoted(source)}, format='newline_delimited', columns={{{kinds}}})"
        if not source.stat().st_size:  # DuckDB refuses an empty file
            nothing = ", ".join(f'NULL::{_TYPES[kind]} AS "{c}"' for c, kind in columns.items())
            query = f"SELECT {nothing} WHERE false"
        old = kept / f"{name}.parquet" if kept else None
        if old is not None and old.exists():
            gone = f"read_json({quoted(self.path / 'dropped.jsonl')}, columns={{'session': 'VARCHAR'}})"
            without = (
                f" WHERE session NOT IN (SELECT session FROM {gone})"
                if (self.path / "dropped.jsonl").stat().st_size
                else ""
            )
            query = f"SELECT * FROM read_parquet({quoted(old)}){without} UNION ALL {query}"
        if "session" in columns:
            query = f"SELECT * FROM ({query}) ORDER BY session"
        target = folder / f"{name}.parquet"
        part = target.with_suffix(".part")
        try:
            folder.mkdir(parents=True, exist_ok=True)
            db.execute(f"COPY ({query}) TO {quoted(part)} (FORMAT parquet, COMPRESSION zstd)")
            part.replace(target)
        except OSError as error:
            raise NarratorError("E501", path=target, why=error.strerror or error) from error


def without(source: Path, target: Path, columns: Iterable[str], salt: str) -> None:
    """A copy of a file that lacks some columns, and whose sessions go by ids that tell nothing.

    A session's id tells when it began; with the same ``salt`` it gets the same new one.
    """
    hidden = ", ".join(f'"{c}"' for c in ("session", *columns))
    with connect() as db:
        other = f"substr(md5(session || {quoted(salt)}), 1, 12) AS session"
        query = f"SELECT {other}, * EXCLUDE ({hidden}) FROM read_parquet({quoted(source)}) ORDER BY 1"
        db.execute(f"COPY ({query}) TO {quoted(target)} (FORMAT parquet, COMPRESSION zstd)")


def open_tables(folder: Path, tables: Iterable[str]) -> duckdb.DuckDBPyConnection:
    """A connection with each table's file as a view of its name."""
    db = connect()
    for name in tables:
        db.execute(f"CREATE VIEW {name} AS SELECT * FROM read_parquet({quoted(folder / f'{name}.parquet')})")
    return db
