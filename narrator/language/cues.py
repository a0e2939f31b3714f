"""Cues: phrases that tell how an utterance is meant, found by rules from ``grammars/cues/``.

A rule is a name and a list of phrases over the *masked* words of an utterance, in which everything
already recognized stands as its type: ``it 's the <component>``. The notation of a phrase: words;
``a|b`` alternatives; ``word?`` optional; ``*`` up to three words.
"""

from __future__ import annotations

import re
import tomllib
from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cache, lru_cache, partial, reduce
from itertools import repeat
from operator import or_
from pathlib import Path
from sys import intern
from typing import NamedTuple

from narrator.language.stage import stage
from narrator.language.tokens import Notes
from narrator.paths import GRAMMARS
from narrator.values import Cue, Entity, Span

_MASKS = {
    "fastener": "<fastener>",
    "measurement": "<measure>",
    "dtc": "<code>",
    "vin": "<vin>",
    "component": "<component>",
    "position": "<position>",
    "part_number": "<partnumber>",
    "price": "<price>",
    "tool": "<tool>",
    "material": "<material>",
    "vehicle": "<vehicle>",
    "odometer": "<odometer>",
}
MASKS = {kind: intern(name) for kind, name in _MASKS.items()}


@dataclass(frozen=True, slots=True)
class CueRule:
    """One named rule: its phrases, and sentences that must hold it (``yes``) or must not (``no``)."""

    name: str
    phrases: tuple[str, ...]
    yes: tuple[str, ...]
    no: tuple[str, ...]


class Masked(NamedTuple):
    """Words with entities collapsed to their type; the tokens of mask word i are ``starts[i : i + 2]``."""

    words: list[str]
    starts: list[int]
    """One more than words: the last is where the tokens end."""


def mask(words: list[str], entities: list[Entity]) -> Masked:
    """Collapse every entity to one mask word; where entities overlap the longer one wins."""
    found = [(*e.at, e.type) for e in entities]
    if len(found) > 1:
        found.sort(reverse=True)
    out, starts, clear = words[:], list(range(len(words) + 1)), len(words)
    for start, end, kind in found:
        if end > clear or start >= end:
            return mask(words, _longest(entities))
        out[start:end] = (MASKS[kind],)
        del starts[start + 1 : end]
        clear = start
    return Masked(out, starts)


def _longest(entities: Sequence[Entity]) -> list[Entity]:
    """Those entities that overlap no longer one and have any words."""
    kept: list[Entity] = []
    for entity in sorted(entities, key=lambda e: e.at[0] - e.at[1]):
        start, end = entity.at
        if start < end and not any(e.at[0] < end and start < e.at[1] for e in kept):
            kept.append(entity)
    return kept


def _element(part: str) -> str:
    """A phrase element as a regular expression that eats one trailing space."""
    if part == "*":
        return r"(?:\S+ ){0,3}?"
    choices = sorted({choice.rstrip("?") for choice in part.rstrip("?").split("|")})
    body = f"(?:{'|'.join(re.escape(choice) for choice in choices)}) "
    return f"(?:{body})?" if part.endswith("?") else body


@cache
def _choices(part: str) -> frozenset[str]:
    """The words that an element may be; kept, since thousands of phrases have some hundred elements."""
    return frozenset(intern(choice.rstrip("?")) for choice in part.rstrip("?").split("|"))


def first_words(phrase: str) -> frozenset[str]:
    """The words that a phrase may begin with.

    Raises:
        ValueError: when it may begin with any word, or be no word at all.
    """
    found = _opening(phrase.split())
    if found is None:
        raise ValueError(f"cue phrase {phrase!r} has to begin with a word")
    return found


def _opening(parts: Sequence[str]) -> frozenset[str] | None:
    """The words that elements may begin with; None where that may be any word, or they may be no word."""
    found: frozenset[str] = frozenset()
    for part in parts:
        if part == "*":
            break
        found |= _choices(part)
        if not part.endswith("?"):
            return found
    return None


def next_words(phrase: str, first: str) -> frozenset[str] | None:
    """The words that may follow ``first`` where a phrase begins with it; None for any, or the line's end."""
    parts = phrase.split()
    found: frozenset[str] = frozenset()
    for place, part in enumerate(parts):
        if first in _choices(part):
            following = _opening(parts[place + 1 :])
            if following is None:
                return None
            found |= following
        if not part.endswith("?"):
            break
    return found


@cache
def _pattern(phrase: str) -> re.Pattern[str]:
    """A phrase as a pattern that matches at the start of a word; made when the phrase is first tried."""
    return re.compile("".join(_element(part) for part in phrase.split()))


class _Try(NamedTuple):
    """A phrase whose first word, and the next one if there is one, may stand there."""

    number: int
    """Of its rule."""
    size: int
    """How many words it is, where those decide; else 0."""
    phrase: str
    needs: int
    """The bits of the elements that it cannot do without; 0 where the words before it decide."""


def _firm(parts: Sequence[str]) -> list[frozenset[str]]:
    """The words of each element that a phrase cannot do without."""
    return [_choices(part) for part in parts if part != "*" and not part.endswith("?")]


class _Elements(NamedTuple):
    """All elements that phrases cannot do without, as bits of a number."""

    bits: dict[frozenset[str], int]
    of_word: dict[str, int]
    """The bits of those elements that a word may be."""


@lru_cache(maxsize=1)
def _elements() -> _Elements:
    found = _Elements({}, {})
    for rule in cue_rules():
        for phrase in rule.phrases:
            for words in _firm(phrase.split()):
                if words not in found.bits:
                    found.bits[words] = bit = 1 << len(found.bits)
                    found.of_word.update((word, found.of_word.get(word, 0) | bit) for word in words)
    return found


@cache
def _try(number: int, phrase: str) -> _Try:
    """A phrase made ready to be tried; the same one wherever it may stand, so that it stays in the cache."""
    parts = phrase.split()
    firm = _firm(parts)
    if len(parts) < 3 and len(firm) == len(parts):
        return _Try(number, len(parts), phrase, 0)
    return _Try(number, 0, phrase, reduce(or_, map(_elements().bits.__getitem__, firm)))


@dataclass(slots=True)
class _Beginning:
    """Phrases that begin with one word, in the order of their rules, each with the words that may follow."""

    phrases: list[tuple[int, str, frozenset[str] | None]] = field(default_factory=list)
    tried: dict[str, tuple[_Try, ...] | None] = field(default_factory=dict)
    """What to try before each word that one of them asks for; made ready when it is first met."""
    rest: tuple[_Try, ...] = ()
    """What to try before any other word: most need not be."""

    def ready(self, after: str) -> tuple[_Try, ...]:
        """What to try where ``after`` is the next word."""
        fit = [(n, p) for n, p, following in self.phrases if following is None or after in following]
        self.tried[after] = made = tuple(_try(n, phrase) for n, phrase in fit)
        return made


@lru_cache(maxsize=1)
def _beginnings() -> dict[str, _Beginning]:
    """Word to the phrases that begin with it."""
    table: dict[str, _Beginning] = defaultdict(_Beginning)
    for number, rule in enumerate(cue_rules()):
        for phrase in rule.phrases:
            for word in first_words(phrase):
                following = next_words(phrase, word)
                table[word].phrases.append((number, phrase, following))
                table[word].tried.update(dict.fromkeys(following or ()))
    for here in table.values():
        here.rest = tuple(_try(n, phrase) for n, phrase, following in here.phrases if following is None)
    return dict(table)


@lru_cache(maxsize=1)
def cue_rules(folder: Path = GRAMMARS / "cues") -> tuple[CueRule, ...]:
    """All rules of ``grammars/cues``, in the order of file name and place in the file."""
    rules = []
    for path in sorted(folder.glob("*.toml")):
        for row in tomllib.loads(path.read_text(encoding="utf-8"))["cue"]:
            rules.append(CueRule(row["name"], tuple(row["phrases"]), tuple(row["yes"]), tuple(row["no"])))
    return tuple(rules)


def find_cues(notes: Notes, entities: list[Entity] | None = None) -> list[Cue]:
    """Every cue of the utterance, with its place in the tokens and in the heard text.

    ``entities`` are those that count, where they are not all that the line has by now.
    """
    if not notes.words:
        return []
    masked = mask(notes.words, notes.entities if entities is None else entities)
    notes.scratch["masked"] = masked
    rules, starts, source, cues = cue_rules(), masked.starts, notes.source, []
    for number, first, last, words in sorted(_matches(masked.words)):
        start, end = starts[first], starts[last]
        span = source[start][0], source[end - 1][1]
        cues.append(_cue((rules[number].name, (start, end), span, words)))
    return cues


_cue: Callable[[tuple[str, Span, Span, str]], Cue] = partial(tuple.__new__, Cue)
"""What ``Cue`` makes of the same, without a call of Python's: a line has some four."""


def _matches(words: Sequence[str]) -> list[tuple[int, int, int, str]]:
    """Rule number, first and last (half open) word and the words of every match; a rule's never overlap."""
    beginnings = _beginnings()
    present = reduce(or_, map(_elements().of_word.get, words, repeat(0)), 0)
    text, start = f"{' '.join(words)} ", 0
    free: dict[int, int] = {}
    found: list[tuple[int, int, int, str]] = []
    for first, (word, after) in enumerate(zip(words, (*words[1:], ""), strict=True)):
        if (here := beginnings.get(word)) is not None:
            tries = here.tried.get(after, here.rest)
            for number, size, phrase, needs in here.ready(after) if tries is None else tries:
                if needs & present != needs or free.get(number, 0) > first:
                    continue
                end = first + size
                if not size:
                    if not (hit := _pattern(phrase).match(text, start)):
                        continue
                    end += hit.group().count(" ")  # each word has the space behind it
                free[number] = end
                found.append((number, first, end, word if size == 1 else " ".join(words[first:end])))
        start += len(word) + 1
    return found


@stage("cues")
def cues_stage(notes: Notes) -> None:
    """Pipeline stage: fills ``notes.cues``; runs after every stage that finds entities."""
    notes.cues = find_cues(notes)
