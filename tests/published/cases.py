"""The published values that the checks of this folder hold the program against.

Every row of ``data/`` names its source and how that was seen: ``copy`` (a stored copy or an excerpt was
read), ``computed`` (from exact definitions or from rows seen), ``memory`` or ``practice`` (common practice,
no source). What rests on memory or practice alone supports no check by itself.
"""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Any

DATA = Path(__file__).parent / "data"
SEEN = {"copy", "computed", "memory", "practice"}
FIRM = {"copy", "computed"}


@cache
def load(name: str) -> dict[str, Any]:
    return tomllib.loads((DATA / f"{name}.toml").read_text(encoding="utf-8"))


def rows(name: str, group: str) -> list[dict[str, Any]]:
    """The rows of one group of one file."""
    found: list[dict[str, Any]] = load(name)[group]
    return found


def ids(row: dict[str, Any]) -> str:
    """A short name of a row for the test's report."""
    return "-".join(str(value) for key, value in row.items() if key not in {"source", "seen"})[:60]
