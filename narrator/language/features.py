"""What the act model's categorizer looks at: words with entities masked, cues, and what went before.

Features are short strings; a spaCy Doc of them is what the text categorizer sees. It knows the utterance, the
cues of the one before, and how far the job has come. Nothing that follows is looked at.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from sys import intern
from typing import NamedTuple

from narrator.language.cues import Masked, mask
from narrator.language.tokens import Notes

STAGES = ("none", "off", "on")
"""Nothing off yet, something off, things going on again."""


class _Names(dict[str, str]):
    """Names of features of one sort, each made once: they are looked up by the same object time and again."""

    def __init__(self, sort: str) -> None:
        self._sort = sort

    def __missing__(self, what: str) -> str:
        self[what] = made = intern(f"{self._sort}={what}")
        return made


_CUE, _ENTITY, _MARK, _STAGE = _Names("c"), _Names("e"), _Names("mark"), _Names("stage")
_ENTITIES, _LENGTHS, _TURNS = ([intern(f"{sort}={n}") for n in range(7)] for sort in ("n", "len", "turn"))


class Features(NamedTuple):
    """What the categorizer looks at in one utterance."""

    line: tuple[str, ...]
    """The masked words between ``<s>`` and ``</s>``: each counts, and two and three in a row."""
    told: tuple[str, ...]
    """The cues and the kinds of entities: each counts, and once more with the stage of the job."""
    stage: str
    before: tuple[str, ...]
    """The same of the line before."""
    others: list[str]
    """The names of all other features."""

    def names(self) -> list[str]:
        """The names of all features."""
        line = self.line
        row = [f"w={w}" for w in dict.fromkeys(line[1:-1])]
        row += [f"b={a}_{b}" for a, b in pairwise(line)]
        row += [f"t={a}_{b}_{c}" for a, b, c in zip(line, line[1:], line[2:], strict=False)]
        row += self.told
        row += [f"{self.stage}+{t}" for t in self.told]
        row += [f"before:{t}" for t in self.before]
        return row + self.others


@dataclass(slots=True)
class Story:
    """How far the job has come, as the cues tell it."""

    turns: int = 0
    taken_off: int = 0
    put_on: int = 0

    def stage(self) -> str:
        """One of ``STAGES``."""
        return "on" if self.put_on >= 2 else "off" if self.taken_off else "none"


def features(notes: Notes, story: Story, before: tuple[str, ...]) -> tuple[Features, tuple[str, ...]]:
    """Features of one utterance, and what the next one is told of it; ``story`` moves on."""
    masked = notes.scratch.get("masked")
    words = (masked if isinstance(masked, Masked) else mask(notes.words, notes.entities)).words
    cues = sorted({cue.name for cue in notes.cues})
    kinds = sorted({entity.type for entity in notes.entities})
    stage = story.stage()
    told = (*map(_CUE.__getitem__, cues), *map(_ENTITY.__getitem__, kinds))
    others = [
        _ENTITIES[min(3, len(notes.entities))],
        _LENGTHS[min(6, len(words) // 3)],
        _TURNS[min(5, story.turns)],
        _STAGE[stage],
    ]
    if notes.marks:
        others += [_MARK[m] for m in sorted(set(notes.marks.values())) if m in "?!"]
    story.turns += 1
    story.put_on += "motion.on" in cues and ("fastener" in kinds or "component" in kinds)
    story.taken_off += "motion.off" in cues and "fastener" in kinds
    return Features(("<s>", *words, "</s>"), told, stage, before, others), told
