"""What is marked in annotated talk, word by word: things that the work is about, what a line suspects,
which fasteners come off or go on, what numbers measure.

Tags are indices into ``TAGS``; ``UNKNOWN`` where a mark is optional or the talk has acts alone. A word is a
subject (1) where a line that suspects, clears or settles something says it of an annotated suspect.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from models.understanding.corpus import Suspect, Talk
from models.understanding.narrations.markup import Event, Line
from narrator.language.act_network import AMOUNTS, KINDS, MOVES, ROLES, TAGS
from narrator.language.sizes import PLURALS
from narrator.language.tokens import Notes
from narrator.values import Span

UNKNOWN = -1
_KINDS = {"C": "component", "Cs": "component", "T": "tool", "X": "material", "F": "fastener"}
_AMOUNT = {unit: n for n, units in enumerate(AMOUNTS.values()) for unit in units}
_CHANGES = {"removed": MOVES.index("off"), "installed": MOVES.index("on")}
_DIAGNOSES = frozenset(("hypothesis", "ruled_out", "confirmed"))
_SHORTEST = 3
_COUNTED = (
    "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen"
    " seventeen eighteen nineteen twenty"
)
NUMBER_WORDS = {word: str(n) for n, word in enumerate(_COUNTED.split())} | {
    "both": "2", "pair": "2", "couple": "2", "to": "2", "too": "2", "for": "4", "ate": "8", "dozen": "12",
    "single": "1", "another": "1", "a": "1", "an": "1",
}  # fmt: skip
_OF_SIZES = PLURALS.keys() | frozenset(
    f"{_COUNTED} quarter half third eighth sixteenth thirty mil mill mm millimetre millimeter inch t m torx"
    " quarters thirds eighths sixteenths inches twenties thirties".split()
)


def tags(talk: Talk, notes: Sequence[Notes]) -> Iterator[list[int]]:
    """Tags of each line's words."""
    for line, one in zip(talk.lines, notes, strict=True):
        if not talk.spans or _aside(line):
            yield [UNKNOWN if not talk.spans else 0] * len(one.words)
            continue
        out = [0 if talk.things else UNKNOWN] * len(one.words)
        for start, end, mark in line.spans:
            letter, *rest = mark.split()
            inside = _within(one, (start, end))
            for n, place in enumerate(inside):
                if rest[-1:] == ["?"] and letter != "F":
                    out[place] = UNKNOWN
                elif letter in _KINDS:
                    out[place] = TAGS.index(f"{'first' if n == 0 else 'more'} {_KINDS[letter]}")
        yield out


def subjects(talk: Talk, notes: Sequence[Notes]) -> Iterator[list[int]]:
    """1 for words said of an annotated suspect, 0 for others; ``UNKNOWN`` outside of talk of suspects."""
    for line, one in zip(talk.lines, notes, strict=True):
        if not talk.suspects or _DIAGNOSES.isdisjoint(line.acts[0]):
            yield [UNKNOWN] * len(one.words)
            continue
        out = [0] * len(one.words)
        for start, end, mark in line.spans:
            if mark.split()[0] in ("C", "Cs") and any(_said(s, line.said[start:end]) for s in talk.suspects):
                for place in _within(one, (start, end)):
                    out[place] = 1
        for place, word in enumerate(one.words):
            if any(_said(s, word) for s in talk.suspects if len(s.groups) == 1):
                out[place] = 1
        yield out


def moves(talk: Talk, notes: Sequence[Notes]) -> Iterator[list[list[int]]]:
    """For each word whether it is of fasteners that come off, and of such that go on.

    Where a line moves fasteners that it does not name (*spin them out*), every word is of them; where it
    names some, the words between are ``UNKNOWN``, and so is a named one that may be what an event means.
    """
    for line, one in zip(talk.lines, notes, strict=True):
        nothing = [0] * len(MOVES)
        if not talk.spans:
            yield [[UNKNOWN] * len(MOVES) for _ in one.words]
            continue
        out = [[UNKNOWN] * len(MOVES) if line.events else list(nothing) for _ in one.words]
        named = [(span, mark.split()) for *span, mark in line.spans if mark.split()[0] == "F"]
        told = {tuple(span): list(nothing) for span, _ in named}
        for event in line.events:
            meant = _named(event, named)
            for span in meant or ([] if named else [(0, len(line.said))]):
                told.setdefault(span, list(nothing))[_CHANGES[event.change]] = 1
            if not meant and named:
                told.clear()
                break
        for span, ways in told.items():
            for place in _within(one, span):
                out[place] = ways
        yield out


def _named(event: Event, named: Sequence[tuple[list[int], list[str]]]) -> list[Span]:
    """The spans that an event means: of its kind and size, else of its kind where no size is said."""
    alike = [(tuple(span), mark) for span, mark in named if mark[1] == event.kind]
    for size in (event.size, "-"):
        if sized := [(span[0], span[1]) for span, mark in alike if mark[3] == size]:
            return sized
    return []


def amounts(talk: Talk, notes: Sequence[Notes]) -> Iterator[list[int]]:
    """Place in ``AMOUNTS`` of what each word's number measures."""
    for line, one in zip(talk.lines, notes, strict=True):
        if not talk.spans:
            yield [UNKNOWN] * len(one.words)
            continue
        out = [0] * len(one.words)
        for start, end, mark in line.spans:
            letter, *rest = mark.split()
            if letter in ("M", "S"):
                for place in _within(one, (start, end)):
                    out[place] = _AMOUNT.get(rest[2].split(",")[0], UNKNOWN)
        yield out


def roles(talk: Talk, notes: Sequence[Notes]) -> Iterator[list[int]]:
    """Place in ``ROLES`` of what each word tells of fasteners."""
    for line, one in zip(talk.lines, notes, strict=True):
        out = [0 if talk.spans else UNKNOWN] * len(one.words)
        for start, end, mark in line.spans if talk.spans else ():
            letter, *rest = mark.split()
            if letter != "F":
                continue
            count, size = rest[1].rstrip("?"), rest[2]
            for place in _within(one, (start, end)):
                out[place] = _role(one.words[place], count, size)
                if out[place] == ROLES.index("count"):
                    count = ""  # in "eight eights" only the first is how many
        yield out


def _role(word: str, count: str, size: str) -> int:
    value = NUMBER_WORDS.get(word, word if word.isdigit() else "")
    if count not in ("", "-") and value == count:
        return ROLES.index("count")
    sized = bool(value) or word in _OF_SIZES or any(c.isdigit() for c in word)
    return ROLES.index("size" if sized and size != "-" else "name")


def kinds(talk: Talk, notes: Sequence[Notes]) -> Iterator[list[int]]:
    """Place in ``KINDS`` of what the fasteners are that a word is of; ``UNKNOWN`` elsewhere."""
    for line, one in zip(talk.lines, notes, strict=True):
        out = [UNKNOWN] * len(one.words)
        for start, end, mark in line.spans if talk.spans else ():
            letter, *rest = mark.split()
            if letter == "F":
                for place in _within(one, (start, end)):
                    out[place] = KINDS.index(rest[0] if rest[0] in KINDS else "other")
        yield out


def _aside(line: Line) -> bool:
    return line.acts[0] == ["aside"]


def _within(notes: Notes, span: Span) -> list[int]:
    return [n for n, (start, _) in enumerate(notes.source) if span[0] <= start < span[1]]


def _said(suspect: Suspect, name: str) -> bool:
    """Whether a name has a word of each of a suspect's groups (at a word's start) and none of its bars."""
    text = name.lower()

    def begins(words: Sequence[str]) -> bool:
        return any(len(w) >= _SHORTEST and re.search(rf"\b{re.escape(w.lower())}", text) for w in words)

    return all(map(begins, suspect.groups)) and not begins(suspect.bar)
