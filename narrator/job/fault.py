"""The fault said of a suspect: *the pin is seized* gives *seized*, *a plugged main jet* gives *plugged*.

Faults are those of ``grammars/vocabulary/faults.toml``; the words stay as said. What links a
thing to its fault is in ``grammars/suspects.toml``.
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from functools import lru_cache

from narrator.job.line import Line
from narrator.job.suspect_words import suspect_words
from narrator.paths import GRAMMARS
from narrator.values import Component

_GOOD = "state.good"
_LONGEST = 4
_BEGINNING = 5
_REACH = 5
"""So many words at most may link a thing and its fault."""
_W = suspect_words()
_LINKS = _W["fault.links"]
_JOINS = _W["join.words"] | _W["join.plain"]
_STATES = tuple(sorted(_W["fault.states"]))


@lru_cache(maxsize=1)
def _faults() -> dict[str, tuple[tuple[str, ...], ...]]:
    """First word to the phrases that begin with it, the longest first."""
    rows = tomllib.loads((GRAMMARS / "vocabulary" / "faults.toml").read_text(encoding="utf-8"))["group"]
    said = {
        tuple(name.split())
        for row in rows
        if row["id"] != _GOOD
        for line in row["words"].splitlines()
        for name in line.split(", ")
        if name.strip()
    }
    table: dict[str, list[tuple[str, ...]]] = {}
    for phrase in sorted(said, key=lambda p: (-len(p), p)):
        table.setdefault(phrase[0], []).append(phrase)
    return {word: tuple(phrases) for word, phrases in table.items()}


def _at(words: tuple[str, ...], i: int) -> tuple[str, ...]:
    """The longest fault that begins at token ``i``, or nothing."""
    for phrase in _faults().get(words[i], ()) if i < len(words) else ():
        if words[i : i + len(phrase)] == phrase:
            return phrase
    return ()


def told_of(line: Line, component: Component) -> frozenset[str]:
    """The beginnings of the longer words right behind a thing, up to the next one: what it was said to do."""
    end = min((c.at[0] for c in line.components if c.at[0] >= component.at[1]), default=len(line.tokens))
    words = line.tokens[component.at[1] : min(end, component.at[1] + _REACH)]
    stop = next((i for i, word in enumerate(words) if word in _JOINS), len(words))
    return frozenset(beginnings(words[:stop]))


def beginnings(words: Sequence[str]) -> list[str]:
    """The beginnings by which forms of one word are known: *drowning*, *drowned*."""
    return [w[:_BEGINNING] for w in words if len(w) >= _BEGINNING and w not in _W["names.stop"]]


def fault_of(line: Line, component: Component) -> str | None:
    """What a line says is wrong with a component, right behind it or right before it; None if nothing."""
    words, (start, end) = line.tokens, component.at
    for i in range(end, min(end + _REACH, len(words))):
        if i in line.breaks:
            break
        if (found := _at(words, i)) and (i > end or len(found) > 1 or found[0].endswith(_STATES)):
            return " ".join(found)
        if words[i] not in _LINKS:
            break
    for first in range(line.since_break(start, _LONGEST), start):
        if words[first:start] in _faults().get(words[first], ()):
            return " ".join(words[first:start])
    return None
