"""What sounds like a conclusion and is none: *that was the relay that time*, *found your glasses*."""

from __future__ import annotations

from itertools import pairwise

from narrator.job.line import Line
from narrator.job.suspect_words import suspect_words

_W = suspect_words()
_CUES = ("confirm", "settle", "found")
_POSSESSIVES = frozenset("the your our my her his".split())


def tells_of_before(line: Line) -> bool:
    """Whether a line tells what was the matter another time, or with another one."""
    pairs = pairwise(line.tokens)
    return any(a in _W["elsewhere.which"] and b in _W["elsewhere.when"] for a, b in pairs)


def finds_something_else(line: Line) -> bool:
    """Whether all that was found is a thing that is no fault: *found your glasses*, *got the kettle on*."""
    cues = [cue for kind in _CUES for cue in line.cues(kind)]
    return bool(cues) and all(_finds_a_thing(line, cue.text.split()[-1], cue.at[1]) for cue in cues)


def _finds_a_thing(line: Line, last: str, end: int) -> bool:
    following = line.tokens[end : end + 1]
    return last in _POSSESSIVES and bool(following) and _W["elsewhere.faults"].isdisjoint(following)
