"""Weights and limits of what weighs the ears against each other (``grammars/hearing/fusion.toml``)."""

from __future__ import annotations

import tomllib
from functools import lru_cache

from narrator.paths import GRAMMARS


@lru_cache(maxsize=8)
def figures(part: str) -> dict[str, float]:
    """One table of the file."""
    table = tomllib.loads((GRAMMARS / "hearing" / "fusion.toml").read_text(encoding="utf-8"))[part]
    return {name: float(value) for name, value in table.items()}
