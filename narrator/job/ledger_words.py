"""The word sets of ``grammars/ledger.toml``, read once."""

from __future__ import annotations

import tomllib
from functools import lru_cache
from typing import Any

from narrator.paths import GRAMMARS


class LedgerWords(dict[str, frozenset[str]]):
    """Sets of words by table and name (``words["off.verbs"]``), and the tables of numbers."""

    numbers: dict[str, int]
    pairs: dict[str, int]
    each: dict[str, int]
    ordinals: dict[str, int]
    plain: dict[str, str]
    """Dialect words and what they mean."""


@lru_cache(maxsize=1)
def ledger_words() -> LedgerWords:
    """Everything in the file; sets are written as one string of words."""
    tables: dict[str, dict[str, Any]] = tomllib.loads((GRAMMARS / "ledger.toml").read_text(encoding="utf-8"))
    sets = {
        f"{table}.{name}": frozenset(value.split())
        for table, rows in tables.items()
        for name, value in rows.items()
        if isinstance(value, str)
    }
    count, made = tables["count"], LedgerWords(sets)
    made.numbers, made.pairs, made.each = count["numbers"], count["pairs"], count["each"]
    made.ordinals = tables["portion"]["ordinals"]
    made.plain = tables["plain"]["words"]
    return made


@lru_cache(maxsize=10_000)
def number(word: str) -> int | None:
    """A count in words or figures, 1 to 40; a pair is two."""
    known = ledger_words()
    value = known.numbers.get(word) or known.pairs.get(word)
    if value is None and word.isascii() and word.isdigit() and 0 < int(word[:3]) <= 40:
        return int(word[:3])
    return value


def corrected_count(words: tuple[str, ...]) -> int | None:
    """The number in *no make that three*, *sorry four of them*: a short line that mends the last number."""
    known = ledger_words()
    lead = 0
    while lead < len(words) and words[lead] in known["again.sorry"]:
        lead += 1
    made = words[lead : lead + 2]
    anew = len(made) == 2 and made[0] in known["again.make"] and made[1] in ("that", "it", "them")
    if anew or (lead and made[:1] == ("it",)):
        lead += 2
    follows = words[lead + 1] if lead + 1 < len(words) else ""
    if not lead or not lead < len(words) or (len(words) > lead + 4 and follows not in known["again.mended"]):
        return None
    return number(words[lead])
