"""The spoken commands' grammar, read from a JSGF file: which phrases mean which command."""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product
from pathlib import Path
from typing import Any, get_args

from narrator.errors import NarratorError
from narrator.hearing.control import Name
from narrator.paths import GRAMMARS
from narrator.settings import Settings

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # the library calls its parser by older names
    import jsgf
    from pyparsing import ParseBaseException

_TEXT = "text"
_NEEDS_TEXT = ("correct",)
"""Commands that are nothing without the free words behind them."""
_MOST = 2_000
"""Phrases that a rule may stand for; more means that it was not meant."""


@dataclass(frozen=True, slots=True)
class Phrase:
    """One way of saying a command; with ``open_end`` free words follow."""

    name: Name
    words: str
    open_end: bool


@dataclass(frozen=True, slots=True)
class Commands:
    """What the grammar holds: the ways of getting attention, and those of giving each command."""

    attention: tuple[str, ...]
    phrases: tuple[Phrase, ...]

    def help(self) -> str:
        """The first way of each command."""
        first = {phrase.name: phrase.words for phrase in reversed(self.phrases)}
        said = [words for name, words in first.items() if name not in ("yes", "no")]
        return f"Say {self.attention[0]}, then: {'; '.join(reversed(said))}."

    def calls(self) -> list[list[str]]:
        """The ways of each command behind the attention phrase, as ``CallEar`` wants them."""
        ways: dict[str, list[str]] = {}
        for p in self.phrases:
            call = f"{self.attention[0]} {p.words}"
            if not p.open_end or p.name not in _NEEDS_TEXT:
                ways.setdefault(p.name, []).append(call)
            if p.open_end:
                ways.setdefault(p.name, []).append(f"{call} [unk]")
        return list(ways.values())


def grammar_path(settings: Settings) -> Path:
    """The shop's own grammar where it has one, else the one that comes along."""
    own = settings.home / "commands.jsgf"
    return own if own.is_file() else GRAMMARS / "commands.jsgf"


def read_commands(path: Path) -> Commands:
    """Read a grammar.

    Raises:
        NarratorError: E609 when it cannot be understood or names a command that does not exist.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            text = _without_comments(path.read_text(encoding="utf-8"))
            grammar = jsgf.parse_grammar_string(re.sub(r"=([^;]*);", _grouped, text))
    except (OSError, UnicodeDecodeError, jsgf.GrammarError, ParseBaseException) as error:
        raise NarratorError("E609", path=path, why=str(error).splitlines()[0]) from error
    rules = {rule.name: rule for rule in grammar.rules}
    if "attention" not in rules:
        raise NarratorError("E609", path=path, why="it has no rule <attention>")
    phrases = []
    for name, rule in rules.items():
        if not rule.visible:
            continue
        if name not in get_args(Name):
            raise NarratorError("E609", path=path, why=f"there is no command {name}")
        open_end = _has_text(rule.expansion)
        phrases += [Phrase(name, words, open_end) for words in _said(path, rule.expansion, rules)]
    return Commands(tuple(_said(path, rules["attention"].expansion, rules)), tuple(phrases))


def _without_comments(text: str) -> str:
    """The library's reader does not take comments before the grammar's name."""
    header, _, rest = text.partition(";")
    return f"{header};" + re.sub(r"/\*.*?\*/|//[^\n]*", "", rest, flags=re.DOTALL)


def _grouped(rule: re.Match[str]) -> str:
    """A rule with every alternative in parentheses: the library binds "a b | c" as "a (b | c)", while in JSGF
    a sequence binds closer. Rules with weights are left alone, which must stand before an alternative.
    """
    body = rule.group(1)
    if "|" not in body or "/" in body:
        return rule.group()
    edges = {"(": "((", "[": "[(", "|": ")|(", ")": "))", "]": ")]"}
    return "=(" + re.sub(r"[(\[|)\]]", lambda found: edges[found.group()], body) + ");"


def _said(path: Path, expansion: Any, rules: dict[str, Any]) -> list[str]:
    phrases: dict[str, None] = {}
    for words in _phrases(expansion, rules, 0):
        phrases[" ".join(" ".join(words).lower().replace(",", "").split())] = None
        if len(phrases) > _MOST:
            raise NarratorError("E609", path=path, why="a rule stands for more than 2000 phrases")
    return list(phrases)


def _phrases(expansion: Any, rules: dict[str, Any], depth: int) -> Iterator[tuple[str, ...]]:
    """Every way of saying an expansion; what is optional comes both ways, with it last."""
    kind = type(expansion).__name__
    children = expansion.children
    if depth > 30 or "Repeat" in kind or "Kleene" in kind:
        raise NarratorError(
            "E609", path="the grammar", why="repetitions and recursion have no use in a command"
        )
    if kind == "Literal":
        yield (expansion.text,)
    elif kind == "NamedRuleRef":
        yield from _phrases(rules[expansion.name].expansion, rules, depth + 1)
    elif "Alternative" in kind:
        for child in children:
            yield from _phrases(child, rules, depth + 1)
    elif kind == "OptionalGrouping":
        yield ()
        yield from _phrases(children[0], rules, depth + 1)
    else:
        ways = [list(_phrases(child, rules, depth + 1)) for child in children]
        for parts in product(*ways):
            yield tuple(word for part in parts for word in part)


def _has_text(expansion: Any) -> bool:
    return expansion.tag == _TEXT or any(_has_text(child) for child in expansion.children)
