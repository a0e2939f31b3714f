"""The word sets of ``grammars/suspects.toml``, by table and name, read once."""

from __future__ import annotations

import tomllib
from functools import lru_cache

from narrator.paths import GRAMMARS


@lru_cache(maxsize=1)
def suspect_words() -> dict[str, frozenset[str]]:
    """Every set under its table and name, joined by a point: ``names.vague``."""
    tables = tomllib.loads((GRAMMARS / "suspects.toml").read_text(encoding="utf-8"))
    return {
        f"{table}.{name}": frozenset(words.split())
        for table, row in tables.items()
        for name, words in row.items()
        if isinstance(words, str)
    }
