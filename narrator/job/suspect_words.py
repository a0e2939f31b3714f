"""The word sets of ``grammars/suspects.toml``, by table and name, read once."""

from __future__ import annotations

import tomllib
from functools import lru_cache
from typing import Any

from narrator.paths import GRAMMARS


@lru_cache(maxsize=1)
def _tables() -> dict[str, dict[str, Any]]:
    return tomllib.loads((GRAMMARS / "suspects.toml").read_text(encoding="utf-8"))


def alike() -> dict[str, str]:
    """The first of several words for one thing, by each of them."""
    rows = (row.split() for row in _tables()["alike"]["words"])
    return {word: words[0] for words in rows for word in words}


@lru_cache(maxsize=1)
def suspect_words() -> dict[str, frozenset[str]]:
    """Every set under its table and name, joined by a point: ``names.vague``."""
    return {
        f"{table}.{name}": frozenset(words.split())
        for table, row in _tables().items()
        for name, words in row.items()
        if isinstance(words, str)
    }
