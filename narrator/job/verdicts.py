"""Verdicts in so many words: *the bearing is good*, *so the relay is finished*."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from narrator.job.felt import feels
from narrator.job.line import Line
from narrator.job.naming import likeness
from narrator.job.outcome_words import outcome_words
from narrator.values import Component

_SAME = 0.6
"""Likeness from which a verdict's thing is the one that was tested: less than ``naming.SAME``, as the test
named it but a line or two before."""


@dataclass(frozen=True, slots=True)
class _Words:
    between: frozenset[str]
    verdicts: Mapping[str, float]


@lru_cache(maxsize=1)
def _words() -> _Words:
    table = outcome_words()["declared"]
    good, bad = (dict.fromkeys(table[name].split(), to) for name, to in (("good", 1.0), ("bad", -1.0)))
    return _Words(frozenset(table["between"].split()), good | bad)


def verdicts(line: Line) -> list[tuple[Component, float]]:
    """Each thing that the line calls good (1) or bad (-1) in so many words, in order."""
    told = _words()
    found = []
    for component in line.components:
        for n, word in enumerate(line.tokens[component.at[1] : component.at[1] + 4]):
            if word in told.verdicts:
                found.append((component, told.verdicts[word]))
            elif firm := feels(line, component, component.at[1] + n):
                found.append((component, firm))
            if word not in told.between:
                break
    return found


def declared(line: Line) -> float:
    """1 where the line calls the last thing it names good (*the bearing is good*), -1 where bad, else 0."""
    found = verdicts(line)
    return found[-1][1] if found else _at_last(line)


def _at_last(line: Line) -> float:
    """*so the feed's good*: the verdict that a line ends with, whatever it calls the thing."""
    words = line.tokens
    if len(words) < 4 or words[-2] not in ("is", "'s", "are") or "so" not in words[-7:-2]:
        return 0.0
    return _words().verdicts.get(words[-1], 0.0)


def calls_good(line: Line) -> bool:
    """Whether a line calls anything good in so many words: *the thermostat goes back, it is good*."""
    told = _words()
    pairs = pairwise(line.tokens)
    return any(told.verdicts.get(word, 0.0) > 0 and before in told.between for before, word in pairs)


def verdict_on(line: Line, names: Sequence[str]) -> float:
    """What a line calls one of these things in so many words: *so the relay is finished*, *bags are mint*."""
    said = {good for thing, good in verdicts(line) if is_named(thing, names)}
    return said.pop() if len(said) == 1 else 0.0


def is_named(component: Component, names: Sequence[str]) -> bool:
    """Whether it is one of the things with these names."""
    return any(likeness(component.name, name) >= _SAME for name in names)


def speaks_of_others(line: Line, names: Sequence[str]) -> bool:
    """Whether what a line calls good or bad in so many words is none of these."""
    found = [thing for thing, _ in verdicts(line)]
    return bool(found) and bool(names) and not any(is_named(thing, names) for thing in found)
