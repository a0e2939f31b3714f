"""Known slips and the contexts in which they may be believed (grammars/repair.toml).

A pattern is a row of items around the slip; grammars/repair.toml tells their meaning.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from narrator.language import vocabulary as voc
from narrator.language.inflection import singular
from narrator.language.tokens import split_words
from narrator.language.vocabulary import Vocabulary
from narrator.paths import GRAMMARS

Test = Callable[[str], bool]
"""Whether a word ("" outside the clause) may stand in a place."""

_ITEM = re.compile(r"\[[^\]]*\]|\S+")


@dataclass(frozen=True, slots=True)
class Variant:
    """One phrase heard, what it stands for, and one context: tests of the words around it, nearest first."""

    heard: tuple[str, ...]
    meant: tuple[str, ...]
    before: tuple[Test, ...]
    after: tuple[Test, ...]
    rule: str

    def fits(self, words: Sequence[str], i: int, left: int, right: int) -> bool:
        """Whether the slip stands at ``i`` of a clause that reaches from ``left`` to ``right``."""
        end = i + len(self.heard)
        if end > right or (end - i > 1 and tuple(words[i:end]) != self.heard):
            return False
        for test in self.before:
            i -= 1
            if not test(words[i] if i >= left else ""):
                return False
        for test in self.after:
            if not test(words[end] if end < right else ""):
                return False
            end += 1
        return True


@lru_cache(maxsize=1)
def rules_data() -> list[dict[str, Any]]:
    """The rules as they stand in the file."""
    data = tomllib.loads((GRAMMARS / "repair.toml").read_text(encoding="utf-8"))
    rules: list[dict[str, Any]] = data["rule"]
    return rules


@dataclass(frozen=True, slots=True)
class Beginning:
    """The variants that begin with one word, the longest first.

    ``longer`` has those that may stand before each word with which one of several words goes on, ``alone``
    those that may stand before any other.
    """

    longer: dict[str, list[Variant]]
    alone: list[Variant]


def compile_rules(known: Vocabulary) -> dict[str, Beginning]:
    """First word heard → variants, longest phrase first, then in the order of the file."""
    found: dict[str, list[Variant]] = {}
    tests = _Tests(known)
    for rule in rules_data():
        for variant in _variants(rule, tests):
            found.setdefault(variant.heard[0], []).append(variant)
    for word in known.shop:
        for said in word.sounds_like:
            variant = Variant(_words(said), _words(word.name), (), (), "repair.shop")
            found.setdefault(variant.heard[0], []).insert(0, variant)
    return {word: _beginning(row) for word, row in found.items()}


def _beginning(row: list[Variant]) -> Beginning:
    made = Beginning({}, [])
    for variant in sorted(row, key=lambda v: -len(v.heard)):
        if len(variant.heard) > 1:
            made.longer.setdefault(variant.heard[1], []).append(variant)
        else:
            made.alone.append(variant)
    for variants in made.longer.values():
        variants.extend(made.alone)
    return made


def _variants(rule: dict[str, Any], tests: _Tests) -> Iterator[Variant]:
    meanings = dict.fromkeys(rule["heard"], rule["meant"]) | rule.get("phrases", {})
    for pattern in rule.get("where", ["_"]):
        items = _ITEM.findall(pattern)
        slot = next(i for i, item in enumerate(items) if item == "_" or item[0] == "[")
        chosen = meanings if items[slot] == "_" else items[slot][1:-1].split("|")
        before = tuple(tests[item] for item in reversed(items[:slot]))
        after = tuple(tests[item] for item in items[slot + 1 :])
        for heard in chosen:
            yield Variant(_words(heard), _words(meanings[heard]), before, after, rule["id"])


def _words(text: str) -> tuple[str, ...]:
    return tuple(split_words(text).words)


class _Tests(dict[str, Test]):
    """The tests of items as they are asked for, each made once: rules have many in common."""

    def __init__(self, known: Vocabulary) -> None:
        super().__init__()
        self._classes = _classes(known)

    def __missing__(self, item: str) -> Test:
        self[item] = made = _test(item, self._classes)
        return made


def _test(item: str, classes: dict[str, Test]) -> Test:
    wanted = not item.startswith("!")
    tests, literal = [], set()
    for choice in item.lstrip("!").split("|"):
        if choice in classes:
            tests.append(classes[choice])
        else:
            literal.add("" if choice in ("^", "$") else choice)
    words = frozenset(literal)
    if not tests:
        return words.__contains__ if wanted else lambda word: word not in words
    return lambda word: (word in words or any(test(word) for test in tests)) is wanted


def _classes(known: Vocabulary) -> dict[str, Test]:
    data = tomllib.loads((voc.FOLDER / "noun-place.toml").read_text(encoding="utf-8"))
    sets = {name: frozenset(words.split()) for name, words in data.items()}
    flags = known.flags
    return {
        "<n>": lambda word: word in sets["numbers"] or word.isdigit() or word in sets["counts"],
        "<dec>": lambda word: "." in word and word.replace(".", "").isdigit(),
        "<mil>": sets["millimetres"].__contains__,
        "<fast>": lambda word: bool(flags.get(singular(word), 0) & voc.FASTENER),
        "<part>": lambda word: bool(flags.get(singular(word), 0) & voc.HEAD),
        "<be>": sets["being"].__contains__,
        "<det>": sets["articles"].__contains__,
        "<pron>": sets["subjects"].__contains__,
        "<mod>": sets["modals"].__contains__,
        "<size>": lambda word: word in sets["numbers"] or word.isdigit(),
        "<any>": bool,
    }
