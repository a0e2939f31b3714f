"""Cues: phrases that tell how an utterance is meant, found by rules from ``grammars/cues/``.

A rule is a name and a list of phrases over the *masked* words of an utterance, in which everything
already recognized stands as its type: ``it 's the <component>``. The notation of a phrase: words;
``a|b`` alternatives; ``word?`` optional; ``*`` up to three words.
"""

from __future__ import annotations

import re
import tomllib
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import accumulate, count
from pathlib import Path

from spacy.language import Language
from spacy.tokens import Doc

from narrator.language.tokens import Notes
from narrator.paths import GRAMMARS
from narrator.values import Cue, Entity

Match = Callable[[str, int], re.Match[str] | None]

MASKS = {
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


@dataclass(frozen=True, slots=True)
class CueRule:
    """One named rule: its phrases, and sentences that must hold it (``yes``) or must not (``no``)."""

    name: str
    phrases: tuple[str, ...]
    yes: tuple[str, ...]
    no: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Masked:
    """Words with entities collapsed to their type; ``places[i]`` is where mask word i lies in the tokens."""

    words: tuple[str, ...]
    places: tuple[tuple[int, int], ...]

    @property
    def text(self) -> str:
        """The words with one space around each."""
        return f" {' '.join(self.words)} "


def mask(words: list[str], entities: list[Entity]) -> Masked:
    """Collapse every entity to one mask word; where entities overlap the longer one wins."""
    owner: dict[int, Entity] = {}
    for entity in sorted(entities, key=lambda e: e.at[0] - e.at[1]):
        if all(i not in owner for i in range(*entity.at)):
            owner.update(dict.fromkeys(range(*entity.at), entity))
    out: list[str] = []
    places: list[tuple[int, int]] = []
    i = 0
    while i < len(words):
        found = owner.get(i)
        end = found.at[1] if found else i + 1
        out.append(MASKS[found.type] if found else words[i])
        places.append((i, end))
        i = max(end, i + 1)
    return Masked(tuple(out), tuple(places))


def _element(part: str) -> str:
    """A phrase element as a regular expression that eats one trailing space."""
    if part == "*":
        return r"(?:\S+ ){0,3}?"
    choices = sorted({choice.rstrip("?") for choice in part.rstrip("?").split("|")})
    body = f"(?:{'|'.join(re.escape(choice) for choice in choices)}) "
    return f"(?:{body})?" if part.endswith("?") else body


def first_words(phrase: str) -> frozenset[str]:
    """The words that a phrase may begin with.

    Raises:
        ValueError: when it may begin with any word, or be no word at all.
    """
    found: frozenset[str] = frozenset()
    for part in phrase.split():
        if part == "*":
            break
        found |= {choice.rstrip("?") for choice in part.rstrip("?").split("|")}
        if not part.endswith("?"):
            return found
    raise ValueError(f"cue phrase {phrase!r} has to begin with a word")


@cache
def _pattern(phrase: str) -> re.Pattern[str]:
    """A phrase as a pattern that matches at the start of a word; made when the phrase is first tried."""
    return re.compile("".join(_element(part) for part in phrase.split()))


@lru_cache(maxsize=1)
def _beginnings() -> dict[str, list[tuple[int, tuple[str, ...]]]]:
    """Word to the rules, by number, that have phrases beginning with it, and those phrases in order."""
    table: dict[str, dict[int, list[str]]] = defaultdict(lambda: defaultdict(list))
    for number, rule in enumerate(cue_rules()):
        for phrase in rule.phrases:
            for word in first_words(phrase):
                table[word][number].append(phrase)
    return {word: [(n, tuple(p)) for n, p in rules.items()] for word, rules in table.items()}


@cache
def _tried(word: str) -> tuple[tuple[int, tuple[Match, ...]], ...]:
    """What to try at a word: the ``match`` of each phrase's pattern, rule by rule."""
    rules = _beginnings().get(word, ())
    return tuple((number, tuple(_pattern(phrase).match for phrase in phrases)) for number, phrases in rules)


@lru_cache(maxsize=1)
def cue_rules(folder: Path = GRAMMARS / "cues") -> tuple[CueRule, ...]:
    """All rules of ``grammars/cues``, in the order of file name and place in the file."""
    rules = []
    for path in sorted(folder.glob("*.toml")):
        for row in tomllib.loads(path.read_text(encoding="utf-8"))["cue"]:
            rules.append(CueRule(row["name"], tuple(row["phrases"]), tuple(row["yes"]), tuple(row["no"])))
    return tuple(rules)


def find_cues(notes: Notes) -> list[Cue]:
    """Every cue of the utterance, with its place in the tokens and in the heard text."""
    if not notes.words:
        return []
    masked = mask(notes.words, notes.entities)
    notes.scratch["masked"] = masked
    offsets = dict(zip(accumulate((len(word) + 1 for word in masked.words), initial=1), count()))
    found = sorted(_matches(masked.text, masked.words, offsets))
    rules, places, cues = cue_rules(), masked.places, []
    for number, first, last, words in found:
        at = places[first][0], places[last - 1][1]
        cues.append(Cue(rules[number].name, at, notes.span(*at), words))
    return cues


def _matches(text: str, words: Sequence[str], offsets: dict[int, int]) -> Iterator[tuple[int, int, int, str]]:
    """Rule number, first and last (half open) word and the words of every match; a rule's never overlap."""
    beginnings = _beginnings()
    free: dict[int, int] = {}
    for start, first in offsets.items():
        if first == len(words) or words[first] not in beginnings:
            continue
        for number, tries in _tried(words[first]):
            if free.get(number, 0) > start:
                continue
            for match in tries:
                if found := match(text, start):
                    free[number] = found.end()
                    yield number, first, offsets[found.end()], found.group().rstrip()
                    break


@Language.component("cues")
def cues_component(doc: Doc) -> Doc:
    """Pipeline stage: fills ``notes.cues``; runs after every stage that finds entities."""
    notes: Notes = doc._.notes
    notes.cues = find_cues(notes)
    return doc
