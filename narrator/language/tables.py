"""Rules as data: the TOML files of ``grammars/``, read once."""

from __future__ import annotations

import tomllib
from functools import cache
from typing import Any

from narrator.language.tokens import Notes
from narrator.paths import GRAMMARS

Table = dict[str, Any]


@cache
def load(name: str) -> Table:
    """The parsed file ``grammars/<name>.toml``."""
    return tomllib.loads((GRAMMARS / f"{name}.toml").read_text(encoding="utf-8"))


def rules(name: str) -> list[Table]:
    """Every rule of a file (each table of its arrays that has an ``id``)."""
    return [row for rows in load(name).values() if isinstance(rows, list) for row in rows]


def fired(notes: Notes, rule: str) -> None:
    """Remember that a rule was used, for those who want to know why."""
    notes.scratch.setdefault("fired", set()).add(rule)  # type: ignore[attr-defined]


def taken_back(notes: Notes) -> set[int]:
    """Tokens of values that the speaker took back (``narrator.language.selfcorrect``)."""
    ranges: list[tuple[int, int]] = notes.scratch.get("dropped", [])  # type: ignore[assignment]
    return {i for start, end in ranges for i in range(start, end)}


def used(notes: Notes) -> set[int]:
    """Tokens that a stage has used although no entity covers them (the count of *two of the bolts*)."""
    found: set[int] = notes.scratch.setdefault("used", set())  # type: ignore[assignment]
    return found
