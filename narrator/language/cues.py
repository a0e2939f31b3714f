"""Cues: phrases that tell how an utterance is meant, found by rules from ``grammars/cues/``.

A rule is a name and a list of phrases over the *masked* words of an utterance, in which everything
already recognized stands as its type: ``it 's the <component>``. The notation of a phrase: words;
``a|b`` alternatives; ``word?`` optional; ``*`` up to three words.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from spacy.language import Language
from spacy.tokens import Doc

from narrator.language.tokens import Notes
from narrator.paths import GRAMMARS
from narrator.values import Cue, Entity

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
    """One named rule. ``anchors`` are words of which an utterance must hold one for the rule to apply."""

    name: str
    pattern: re.Pattern[str]
    anchors: frozenset[str]
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


def _element(part: str) -> tuple[str, frozenset[str] | None]:
    """A phrase element as a regular expression that eats one trailing space, and the words it requires."""
    if part == "*":
        return r"(?:\S+ ){0,3}?", None
    optional = part.endswith("?")
    choices = frozenset(c.rstrip("?") for c in part.rstrip("?").split("|"))
    body = f"(?:{'|'.join(re.escape(c) for c in sorted(choices))}) "
    return (f"(?:{body})?", None) if optional else (body, choices)


def compile_phrases(phrases: list[str]) -> tuple[re.Pattern[str], frozenset[str]]:
    """One pattern for all phrases of a rule, and the anchor words (one required element of each phrase)."""
    patterns: list[str] = []
    anchors: set[str] = set()
    for phrase in phrases:
        parts = [_element(part) for part in phrase.split()]
        required = [words for _, words in parts if words]
        if not required:
            raise ValueError(f"cue phrase {phrase!r} requires no word")
        anchors |= min(required, key=len)
        patterns.append("".join(body for body, _ in parts))
    return re.compile("(?<= )(?:" + "|".join(patterns) + ")"), frozenset(anchors)


@lru_cache(maxsize=1)
def cue_rules(folder: Path = GRAMMARS / "cues") -> tuple[CueRule, ...]:
    """All rules of ``grammars/cues``, in the order of file name and place in the file."""
    rules = []
    for path in sorted(folder.glob("*.toml")):
        for row in tomllib.loads(path.read_text(encoding="utf-8"))["cue"]:
            pattern, anchors = compile_phrases(row["phrases"])
            rules.append(CueRule(row["name"], pattern, anchors, tuple(row["yes"]), tuple(row["no"])))
    return tuple(rules)


def find_cues(notes: Notes) -> list[Cue]:
    """Every cue of the utterance, with its place in the tokens and in the heard text."""
    if not notes.words:
        return []
    masked = mask(notes.words, notes.entities)
    notes.scratch["masked"] = masked
    text, present = masked.text, set(masked.words)
    offsets, place = {}, 1
    for i, word in enumerate(masked.words):
        offsets[place] = i
        place += len(word) + 1
    offsets[place] = len(masked.words)
    cues = []
    for rule in cue_rules():
        if rule.anchors.isdisjoint(present):
            continue
        for found in rule.pattern.finditer(text):
            first, last = offsets[found.start()], offsets[found.end()] - 1
            if last < first:
                continue
            at = masked.places[first][0], masked.places[last][1]
            cues.append(Cue(rule.name, at, notes.span(*at), found.group().strip()))
    return cues


@Language.component("cues")
def cues_component(doc: Doc) -> Doc:
    """Pipeline stage: fills ``notes.cues``; runs after every stage that finds entities."""
    notes: Notes = doc._.notes
    notes.cues = find_cues(notes)
    return doc
