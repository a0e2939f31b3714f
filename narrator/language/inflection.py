"""Singular of a noun and forms of a verb, by rule and a short table (irregular.toml of the vocabulary)."""

from __future__ import annotations

import re
import tomllib
from functools import lru_cache
from sys import intern

from narrator.paths import GRAMMARS

_VOWELS = "aeiou"
_ES = re.compile(r"(ss|sh|ch|x|zz|s)es$")
_DOUBLES = re.compile(r"[^aeiou][aeiou][bdgmnprt]$")
_LONG_STEM = re.compile(r"(er|en|or|al|it|ct|om)$")


@lru_cache(maxsize=1)
def _tables() -> tuple[dict[str, list[str]], dict[str, str], frozenset[str]]:
    data = tomllib.loads((GRAMMARS / "vocabulary" / "irregular.toml").read_text(encoding="utf-8"))
    return data["verbs"], data["nouns"], frozenset(data["keep"]["words"].split())


@lru_cache(maxsize=16384)
def singular(word: str) -> str:
    """The singular of an English noun: ``bushes`` → ``bush``, ``brakes`` → ``brake``, ``gas`` → ``gas``."""
    return intern(_singular(word))


def _singular(word: str) -> str:
    _, nouns, keep = _tables()
    if word in nouns:
        return nouns[word]
    if len(word) < 4 or not word.endswith("s") or word in keep or word.endswith(("ss", "us", "is")):
        return word
    if word.endswith("ies"):
        return word[:-3] + "y" if len(word) > 4 else word[:-1]
    if _ES.search(word) and not word.endswith(("uses", "ases", "oses", "nses", "axes", "rses", "ises")):
        return word[:-2]
    if word.endswith(("buses", "gases", "biases", "lenses")):
        return word[:-2]
    return word[:-1]


def plural(word: str) -> str:
    """A plural that ``singular`` undoes."""
    if word.endswith(("s", "sh", "ch", "x", "z")):
        return word + "es"
    if word.endswith("y") and word[-2:-1] not in _VOWELS:
        return word[:-1] + "ies"
    return word + "s"


def verb_forms(base: str) -> tuple[str, ...]:
    """All forms of a verb, the base first: remove, removes, removed, removing."""
    verbs, _, _ = _tables()
    if base in verbs:
        return (base, *dict.fromkeys(verbs[base]))
    for prefix in ("re", "un", "over", "out"):
        if base.startswith(prefix) and (rest := base[len(prefix) :]) in verbs:
            return (base, *dict.fromkeys(prefix + form for form in verbs[rest]))
    if base.endswith("e") and not base.endswith(("ee", "ye")):
        return base, base + "s", base + "d", base[:-1] + "ing"
    if base.endswith("y") and base[-2:-1] not in _VOWELS:
        return base, base[:-1] + "ies", base[:-1] + "ied", base + "ing"
    stem = base + base[-1] if _DOUBLES.search(base) and not _long(base) else base
    return base, plural(base), stem + "ed", stem + "ing"


def _long(base: str) -> bool:
    """Stress away from the end keeps the consonant single: loosen, loosened."""
    return len(re.findall("[aeiou]+", base)) > 1 and bool(_LONG_STEM.search(base))
