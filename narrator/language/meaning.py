"""Pipeline stage: what the network makes of each line by itself, kept in ``notes.scratch["read"]``.

Lines of a batch are read together, which takes half the time of one after the other.
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from functools import lru_cache
from typing import Any

import numpy as np

from narrator.language.act_network import QUESTION, Read, Told, act_network
from narrator.language.stage import stage_together
from narrator.language.tokens import Notes
from narrator.paths import GRAMMARS
from narrator.values import ACTS, Act, Fastener

_BATCH = 64
"""Lines read together: more would not stay in the processor's cache."""


@stage_together("meaning")
def meaning(batch: Sequence[Notes]) -> None:
    """Read lines with the network; does nothing where none is installed."""
    network = act_network()
    if network is None:
        return
    for start in range(0, len(batch), _BATCH):
        some = batch[start : start + _BATCH]
        for notes, read in zip(some, network.read([said(n) for n in some]), strict=True):
            notes.scratch["read"] = read


def said(notes: Notes) -> list[str]:
    """The words of an utterance as the network reads them: a question mark counts as a word at the end."""
    return [*notes.words, QUESTION] if QUESTION in notes.marks.values() else notes.words


def read_of(notes: Notes) -> Read | None:
    """What the network made of a line, or None where there is none."""
    found = notes.scratch.get("read")
    return found if isinstance(found, Read) else None


def act_share(notes: Notes, act: Act) -> float:
    """How likely a line does this by its words and the story, to the network; 0 where there is none."""
    found = notes.scratch.get("meaning")
    return float(found[ACTS.index(act)]) if isinstance(found, np.ndarray) else 0.0


def has_amounts(notes: Notes) -> bool:
    """Whether a line has numbers or fasteners, so that what is told of its words is worth the time."""
    return "figures" in notes.scratch or Fastener in map(type, notes.entities)


def told_of(notes: Notes) -> Told | None:
    """What the network tells of a line's words by the story so far, or None where there is none."""
    if "told" not in notes.scratch:
        tell_each([notes])
    found = notes.scratch.get("told")
    return found if isinstance(found, Told) else None


def tell_each(batch: Sequence[Notes]) -> None:
    """See what the network tells of the words of several lines at once, for ``told_of``."""
    network = act_network()
    asked = [notes for notes in batch if "told" not in notes.scratch and "story" in notes.scratch]
    reads = [read for notes in asked if (read := read_of(notes))]
    if network is not None and asked and len(reads) == len(asked):
        stories = np.array([notes.scratch["story"] for notes in asked])
        for notes, told in zip(asked, network.told(reads, stories), strict=True):
            notes.scratch["told"] = told


@lru_cache(maxsize=1)
def meaning_table() -> dict[str, dict[str, Any]]:
    """``grammars/meaning.toml``: from which scores on the network's word counts."""
    return tomllib.loads((GRAMMARS / "meaning.toml").read_text(encoding="utf-8"))
