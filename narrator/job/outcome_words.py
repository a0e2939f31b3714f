"""The tables of ``grammars/outcome.toml``, read once: what tells how a test went."""

from __future__ import annotations

import tomllib
from functools import lru_cache
from typing import Any

from narrator.paths import GRAMMARS


@lru_cache(maxsize=1)
def outcome_words() -> dict[str, Any]:
    """Every table under its name."""
    return tomllib.loads((GRAMMARS / "outcome.toml").read_text(encoding="utf-8"))
