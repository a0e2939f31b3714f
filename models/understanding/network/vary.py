"""Talk varied at random: other parts, tools and numbers, words left out, lines spliced.

The varied lines are not annotated; the large encoder says what each does, and the small network learns to say
the same. So they need not be good sense, only like the talk of a workshop.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from random import Random
from typing import Any

Name = Sequence[Any]
"""Kind of thing, first token, and one past the last (as JSON gives it: a list)."""

_NUMBERS = tuple(
    words.split()
    for words in (
        "two three four five six seven eight nine",
        "ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen",
        "twenty thirty forty fifty sixty seventy eighty ninety",
        "hundred thousand",
    )
)
_ALIKE = {word: words for words in _NUMBERS for word in words}
_LONGEST = 60


@dataclass(frozen=True, slots=True)
class Spoken:
    """A talk's lines as words, and in each line the names that may be exchanged."""

    lines: Sequence[Sequence[str]]
    names: Sequence[Sequence[Name]]


def vary(talks: Sequence[Spoken], random: Random) -> Iterator[list[list[str]]]:
    """One variation of each talk, line for line; some are changed much, some hardly at all."""
    things: dict[tuple[str, int], list[Sequence[str]]] = defaultdict(list)
    for talk in talks:
        for line, names in zip(talk.lines, talk.names, strict=True):
            for kind, start, end in names:
                things[kind, min(2, end - start)].append(line[start:end])
    others = [line for talk in talks for line in talk.lines if len(line) > 5]
    for talk in talks:
        strength = random.random()
        renamed: dict[tuple[str, ...], Sequence[str]] = {}
        out = []
        for line, names in zip(talk.lines, talk.names, strict=True):
            new = _renamed(line, names, things, renamed, random) if strength > 0.25 else list(line)
            new = [w for w in _renumbered(new, random) if random.random() >= 0.04 * strength]
            out.append(_spliced(new, others, strength, random)[:_LONGEST] or list(line))
        yield out


def _renamed(
    line: Sequence[str],
    names: Iterable[Name],
    things: dict[tuple[str, int], list[Sequence[str]]],
    renamed: dict[tuple[str, ...], Sequence[str]],
    random: Random,
) -> list[str]:
    """The line with its names exchanged for others of their kind, the same ones through a whole talk."""
    out: list[str] = []
    done = 0
    for kind, start, end in sorted(names, key=lambda name: name[1]):
        if start < done or end <= start:
            continue
        old = tuple(line[start:end])
        if old not in renamed:
            renamed[old] = random.choice(things[kind, min(2, end - start)]) if random.random() < 0.7 else old
        out += [*line[done:start], *renamed[old]]
        done = end
    return [*out, *line[done:]]


def _renumbered(line: Iterable[str], random: Random) -> list[str]:
    return [random.choice(_ALIKE[w]) if w in _ALIKE and random.random() < 0.6 else w for w in line]


def _spliced(line: list[str], others: Sequence[Sequence[str]], strength: float, random: Random) -> list[str]:
    """Now and then the line's beginning with another's end, or another line altogether."""
    chance = random.random()
    if chance < 0.24 * strength and len(line) > 5:
        other = random.choice(others)
        return line[: random.randint(2, len(line) - 1)] + list(other[random.randint(1, len(other) - 2) :])
    return list(random.choice(others)) if chance > 0.94 else line
