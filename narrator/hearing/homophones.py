"""Numbers and letters that the dictation wrote as words of the same sound ("ten point for").

No ear can tell these apart, so the trade's language alone decides: the number is taken where it makes the
whole line clearly likelier. The words are data (``grammars/hearing/homophones.toml``).
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Collection, Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import pairwise
from typing import Protocol

from narrator.hearing.spoken import in_words, numeric
from narrator.paths import GRAMMARS
from narrator.values import Word


class Language(Protocol):
    """The part of a language model that is needed."""

    def score(self, words: Sequence[str]) -> float:
        """Log probability of a sentence."""
        ...


@lru_cache(maxsize=1)
def _tables() -> tuple[dict[str, str], float, float]:
    """What each word may stand for; by how much that must be likelier alone, and where another has it."""
    table = tomllib.loads((GRAMMARS / "hearing" / "homophones.toml").read_text(encoding="utf-8"))
    meant = {**table["numbers"], **table["letters"]}
    sounds = {other: number for number, others in meant.items() for other in others}
    return sounds, float(table["limits"]["alone"]), float(table["limits"]["seconded"])


def numbers_restored(
    words: Sequence[Word], language: Language, heard: Collection[tuple[str, str]] = ()
) -> list[Word]:
    """The words, with numbers and letters in place of words of the same sound where the language is for it.

    ``heard`` has the pairs of words, one after the other, that any other text of the same sound has. A word
    that is replaced is told as the other reading and as sure as the language is.
    """
    sounds, alone, seconded = _tables()
    found = list(words)
    said = [in_words(word.word).split() for word in found]
    for at, row in enumerate(said):
        if len(row) != 1 or row[0] not in sounds:
            continue
        meant, beside = sounds[row[0]], (_flat(said[:at])[-1:], _flat(said[at + 1 :])[:1])
        if len(meant) == 1 and not any(numeric(word) for side in beside for word in side):
            continue  # a letter stands beside a number or another letter
        other = [*said[:at], [meant], *said[at + 1 :]]
        gain = language.score(_flat(other)) - language.score(_flat(said))
        if gain < (seconded if _among(heard, beside, meant) else alone):
            continue
        said[at] = [meant]
        word = found[at]
        written = word.word.lower().replace(row[0], meant)
        conf = (word.conf or 1.0) / (1 + math.exp(-gain))
        found[at] = replace(word, word=written, conf=round(conf, 3), other=word.word)
    return found


def _flat(said: Sequence[Sequence[str]]) -> list[str]:
    return [word for row in said for word in row]


def _among(
    heard: Collection[tuple[str, str]], beside: tuple[Sequence[str], Sequence[str]], meant: str
) -> bool:
    """Whether another text has the number beside the word before it or the one after it."""
    before, after = beside
    return any((word, meant) in heard for word in before) or any((meant, word) in heard for word in after)


def pairs(texts: Sequence[Sequence[str]]) -> set[tuple[str, str]]:
    """Words that stand one after the other in any of the texts."""
    return {pair for text in texts for pair in pairwise(text)}
