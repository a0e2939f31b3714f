"""The trade's words and the shop's own, read from data and indexed by what is said.

``grammars/vocabulary/*.toml`` holds groups of names by kind, one thing a line; ``nouns.toml`` tells how
names are put together. A shop adds words in one small file (docs/vocabulary.md). Names stay as said: a
synonym or a standard term is extra information, never a replacement.
"""

from __future__ import annotations

import time
import tomllib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from sys import intern
from typing import Any, NamedTuple

from narrator.errors import NarratorError
from narrator.language.inflection import singular, verb_forms
from narrator.language.shop_words import ShopWord, read_shop_words, shop_file
from narrator.language.tokens import split_words
from narrator.paths import GRAMMARS

FOLDER = GRAMMARS / "vocabulary"
NOMINAL = ("component", "tool", "material", "position")
PREDICATE = ("fault", "action")
_END = ""

(
    HEAD,
    WEAK,
    MODIFIER,
    LOOSE,
    VERB,
    COMMAND,
    WHOLE,
    FASTENER,
    NUMBERED,
    FASTENER_NOUN,
    SHY,
    SIDED,
    BARE,
    DEFINITE,
) = (1 << n for n in range(14))
_FLAGS = {
    "heads": HEAD, "weak": WEAK, "modifiers": MODIFIER, "loose": LOOSE | MODIFIER, "verbs": VERB,
    "commands": COMMAND, "whole": WHOLE, "fasteners": FASTENER, "numbered": NUMBERED,
    "fastener_nouns": FASTENER_NOUN, "shy_materials": SHY, "sided": SIDED, "bare_verbs": BARE | VERB,
    "definite": DEFINITE,
}  # fmt: skip

Trie = dict[str, Any]


class Units(NamedTuple):
    """The words of an utterance, abbreviations said letter by letter joined: ``pcv`` for ``p c v``."""

    said: Sequence[str]
    starts: Sequence[int]
    """The first token of each."""
    ends: Sequence[int]
    """One past its last token."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One name of one thing: ``lead`` is the usual name of the line it stands in."""

    name: str
    kind: str
    lead: str
    group: str


@dataclass(frozen=True, slots=True)
class Standard:
    """What SAE J1930 (ISO/TR 15031-2) calls a thing; several where the shop's word is ambiguous."""

    term: str
    acronym: str
    source: str


@dataclass(slots=True, eq=False)
class Vocabulary:
    """Everything known by name, ready for look-up."""

    entries: list[Entry] = field(default_factory=list)
    nominal: Trie = field(default_factory=dict)
    blocked: Trie = field(default_factory=dict)
    predicate: Trie = field(default_factory=dict)
    spelt: dict[str, list[tuple[tuple[str, ...], str]]] = field(default_factory=dict)
    spelling: dict[str, set[str]] = field(default_factory=dict)
    """First words of what is spelt to the second words, "" where the first is all."""
    flags: dict[str, int] = field(default_factory=dict)
    shy_after: frozenset[str] = frozenset()
    definite_after: frozenset[str] = frozenset()
    plural_only: frozenset[str] = frozenset()
    standards: dict[str, tuple[Standard, ...]] = field(default_factory=dict)
    shop: tuple[ShopWord, ...] = ()

    def units(self, words: Sequence[str]) -> Units:
        """Words with abbreviations said letter by letter joined."""
        if self.spelt.keys().isdisjoint(words) or not self._spells(words):
            return Units(words, range(len(words)), range(1, len(words) + 1))
        said: list[str] = []
        ends: list[int] = []
        i = 0
        while i < len(words):
            for rest, kept in self.spelt.get(words[i], ()):
                if tuple(words[i + 1 : i + 1 + len(rest)]) == rest:
                    said.append(kept)
                    i += 1 + len(rest)
                    break
            else:
                said.append(words[i])
                i += 1
            ends.append(i)
        return Units(said, [0, *ends[:-1]], ends)

    def _spells(self, words: Sequence[str]) -> bool:
        """Whether anything in a line may be joined."""
        spelling, last = self.spelling, len(words) - 1
        begun = [(spelling[word], i) for i, word in enumerate(words) if word in spelling]
        return any("" in some or (i < last and words[i + 1] in some) for some, i in begun)

    def key(self, text: str) -> tuple[str, ...]:
        """What a phrase is found under: its units, singular."""
        return tuple(map(singular, self.units(split_words(text).words).said))

    def synonyms(self, name: str) -> list[str]:
        """Other names of the same thing, the usual one first; empty when the name is unknown."""
        key = self.key(name)
        leads = {e.lead for e in self.entries if e.kind in NOMINAL and self.key(e.name) == key}
        return [e.name for e in self.entries if e.lead in leads and self.key(e.name) != key]

    def standard(self, name: str) -> tuple[Standard, ...]:
        """The standard terms for a shop's word, the likeliest first."""
        return self.standards.get(" ".join(self.key(name)), ())

    def kinds(self, name: str) -> set[str]:
        """The kinds under which exactly this phrase is listed."""
        node: Trie | None = self.nominal
        for word in self.key(name):
            node = node.get(word) if node is not None else None
        found = set(node.get(_END, ())) if node else set()
        node = self.predicate
        for word in split_words(name).words:
            node = node.get(word) if node is not None else None
        return found | (set(node.get(_END, ())) if node else set())


def begins(trie: Trie, words: Sequence[str]) -> list[int]:
    """Where a phrase of ``trie`` may begin: at a word that is one, or the first two of one."""
    if trie.keys().isdisjoint(words):
        return []
    begun = [i for i, word in enumerate(words) if word in trie]
    ends, last = _END, len(words) - 1
    return [i for i in begun if ends in (node := trie[words[i]]) or (i < last and words[i + 1] in node)]


def walk(trie: Trie, words: Sequence[str], start: int) -> tuple[int, dict[str, tuple[str, str]]] | None:
    """The longest phrase of ``trie`` that begins at ``start``: its end and kind → (name, group)."""
    node, best, i = trie.get(words[start]), None, start + 1
    while node is not None:
        if _END in node:
            best = (i, node[_END])
        node = node.get(words[i]) if i < len(words) else None
        i += 1
    return best


def _insert(trie: Trie, key: Iterable[str], kind: str, name: str, group: str) -> None:
    node = trie
    for word in key:
        node = node.setdefault(word, {})
    if node is not trie:
        node.setdefault(_END, {}).setdefault(kind, (name, group))


def _lines(words: str) -> Iterator[list[str]]:
    for line in words.splitlines():
        if names := [name.strip() for name in line.split(",") if name.strip()]:
            yield names


def _add_entry(vocabulary: Vocabulary, entry: Entry) -> None:
    vocabulary.entries.append(entry)
    if entry.kind in PREDICATE:
        first, *rest = split_words(entry.name).words
        for form in verb_forms(first) if entry.kind == "action" else (first,):
            _insert(vocabulary.predicate, (form, *rest), entry.kind, entry.name, entry.group)
    else:
        _insert(vocabulary.nominal, vocabulary.key(entry.name), entry.kind, entry.name, entry.group)


def _add_nouns(vocabulary: Vocabulary, data: dict[str, Any]) -> None:
    for letters in data["letters"]["words"].split():
        vocabulary.spelt.setdefault(letters[0], []).append((tuple(letters[1:]), letters))
    for said, kept in data["spelt"].items():
        first, *rest = said.split()
        vocabulary.spelt.setdefault(first, []).append((tuple(rest), kept))
    for word, choices in vocabulary.spelt.items():
        choices.sort(key=lambda choice: -len(choice[0]))
        vocabulary.spelling[word] = {rest[0] if rest else "" for rest, _ in choices}
    for name, flag in _FLAGS.items():
        for word in map(intern, data[name].split()):
            vocabulary.flags[word] = vocabulary.flags.get(word, 0) | flag
    vocabulary.definite_after = frozenset(data["definite_after"].split())
    vocabulary.shy_after = frozenset(data["shy_after"].split())
    vocabulary.plural_only = frozenset(word.strip() for word in data["plural_only"].split(","))
    for names in _lines(data["blocked"]):
        for name in names:
            _insert(vocabulary.blocked, vocabulary.key(name), "blocked", name, "nouns.blocked")


def _read(path: Path) -> dict[str, Any]:
    return tomllib.loads(path.read_text(encoding="utf-8"))


def groups() -> Iterator[tuple[str, dict[str, Any]]]:
    """Every group of the shipped vocabulary with its kind."""
    for path in sorted(FOLDER.glob("*.toml")):
        data = _read(path)
        for group in data.get("group", ()):
            yield data["kind"], group


def build(shop: tuple[ShopWord, ...] = ()) -> Vocabulary:
    """Read the shipped data and lay the shop's own words over it."""
    vocabulary = Vocabulary(shop=shop)
    _add_nouns(vocabulary, _read(FOLDER / "nouns.toml"))
    for kind, group in groups():
        for names in _lines(group["words"]):
            for name in names:
                _add_entry(vocabulary, Entry(name, kind, names[0], group["id"]))
    for word in shop:
        _add_entry(vocabulary, Entry(word.name, word.kind, word.name, "shop"))
    for row in _read(FOLDER / "standard-terms.toml")["standard"]:
        term = Standard(row["term"], row.get("acronym", ""), row["source"])
        for said in row["said"]:
            key = " ".join(vocabulary.key(said))
            vocabulary.standards[key] = (*vocabulary.standards.get(key, ()), term)
    return vocabulary


@lru_cache(maxsize=4)
def _built(path: Path, stamp: int) -> Vocabulary:
    return build(read_shop_words(path))


_LOOK_EVERY = 2.0
_last: list[tuple[float, Vocabulary]] = []


def vocabulary(fresh: bool = False) -> Vocabulary:
    """The vocabulary in force; the shop's file is looked at again every two seconds, or now if ``fresh``."""
    now = time.monotonic()
    if _last and not fresh and now - _last[0][0] < _LOOK_EVERY:
        return _last[0][1]
    try:
        path = shop_file()
        built = _built(path, path.stat().st_mtime_ns if path.is_file() else 0)
    except NarratorError:
        if fresh or not _last:
            raise
        built = _last[0][1]  # a slip while editing the file must not stop a session that is running
    _last[:] = [(now, built)]
    return built


def recognizer_phrases() -> list[str]:
    """Names of parts, tools and materials, shop's words first, for a recognizer's grammar or biasing."""
    known = vocabulary()
    shop = [word.name for word in known.shop]
    listed = (e.name for e in known.entries if e.kind in ("component", "tool", "material"))
    return list(dict.fromkeys([*shop, *listed]))
