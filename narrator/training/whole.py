"""The whole store as Parquet: every table of facts and of what is derived, one file each, for any engine.

Rows keep the names and order of the store's columns (docs/store.md), so that a job of a cluster, polars or
DuckDB asks the same questions as the database itself. Sound files are not in it.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from narrator.store import Reader
from narrator.store.flatten import DERIVED
from narrator.store.schema import ADDITIONS, FACTS, REVIEW
from narrator.training.parquet import Columns, Sink

FOLDER = "store"
"""Subfolder of an export that the tables of the store lie in."""

_PLACE: dict[str, type] = {"seq": int}
_DERIVED: dict[str, type] = {"session": str, "rules": str, "position": int}


def store_tables() -> dict[str, Columns]:
    """Every exported table with its columns and their types."""
    words = {**FACTS["words"], "other": str}  # added by a later migration
    facts = {**FACTS, "words": words, **REVIEW, **ADDITIONS}
    return {
        "sessions": {"id": str, "started": str, "source": str, "engine": str, "vehicle": str},
        **{name: {**_PLACE, **columns} for name, columns in facts.items()},
        "records": {"session": str, "rules": str, "record": str, "sha256": str, "facts": str},
        **{name: {**_DERIVED, **columns} for name, columns in DERIVED.items()},
    }


def export_store(home: Path, folder: Path) -> dict[str, int]:
    """Write every table into ``folder``; gives the number of rows of each.

    All tables are of one moment. Rows pass one by one through a file, so that memory does not grow with them.

    Raises:
        NarratorError: E801 without DuckDB, E501 when a file cannot be written, E307 without a store.
    """
    tables = store_tables()
    counts: dict[str, int] = {}
    with Reader(home) as reader, Sink(tables) as sink, reader.moment():
        for name, columns in tables.items():
            sink.add(name, _counted(reader.rows(name, tuple(columns)), name, counts))
        sink.write(folder)
    return counts


def _counted(
    rows: Iterator[dict[str, object]], name: str, counts: dict[str, int]
) -> Iterator[dict[str, object]]:
    counts[name] = 0
    for row in rows:
        counts[name] += 1
        yield row
