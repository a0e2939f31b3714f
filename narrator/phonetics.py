"""What a word sounds like, and which trade words sound like it.

Keys are Metaphone (jellyfish) with the sounds evened out that recognizers confuse; nearness is a mix of
the keys' and the letters' likeness (rapidfuzz), 0 to 1.
"""

from __future__ import annotations

import unicodedata
from collections import defaultdict
from collections.abc import Iterable
from functools import lru_cache
from itertools import pairwise

import jellyfish
from rapidfuzz.distance import JaroWinkler, Levenshtein
from rapidfuzz.process import extract

_EVEN = str.maketrans({"0": "T", "D": "T", "B": "P", "G": "K", "Z": "S", "V": "F", "X": "S", "J": "S"})

_PLAIN = str.maketrans(
    {"ü": "ue", "ß": "ss", "æ": "e", "œ": "e", "ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "ı": "i"}
)
"""Letters that are said by others than what is left of them without their mark."""


def plain_letters(text: str) -> str:
    """Lower-case text in the plain letters that it is said by: ``kübel`` as *kuebel*, ``entrée`` *entree*."""
    if text.isascii():
        return text
    apart = unicodedata.normalize("NFD", unicodedata.normalize("NFC", text).translate(_PLAIN))
    return "".join(ch for ch in apart if not unicodedata.combining(ch))


@lru_cache(maxsize=32768)
def sound_key(text: str) -> str:
    """The consonants of a word or phrase, voiced and unvoiced alike: ``caliper`` and ``kelp or`` → KLPR."""
    joined = "".join(ch for ch in plain_letters(text) if "a" <= ch <= "z")
    key = jellyfish.metaphone(joined).replace(" ", "") if joined else ""
    even = key.translate(_EVEN)
    return even[:1] + "".join(b for a, b in pairwise(even) if a != b)


def likeness(heard: str, meant: str) -> float:
    """How alike two words are in sound and letters, 0 to 1."""
    one, other = sound_key(heard), sound_key(meant)
    if not one or not other:
        return 0.0
    bare, other_bare = one.lstrip("AEIOU"), other.lstrip("AEIOU")
    sound = max(
        Levenshtein.normalized_similarity(one, other),
        Levenshtein.normalized_similarity(bare, other_bare) - 0.05,
    )
    return 0.65 * sound + 0.35 * letters(heard.replace(" ", ""), meant)


def letters(heard: str, meant: str) -> float:
    """How alike two words are in letters, 0 to 1 (Jaro-Winkler)."""
    return float(JaroWinkler.similarity(heard, meant))


class SoundIndex:
    """Words by sound, for finding those that a heard word may stand for."""

    def __init__(self, words: Iterable[str]) -> None:
        self._by_key: dict[str, list[str]] = defaultdict(list)
        for word in sorted(set(words)):
            self._by_key[sound_key(word).lstrip("AEIOU")].append(word)
        self._keys = [*self._by_key]

    def near(self, heard: str, keys_apart: int = 1) -> list[tuple[float, str]]:
        """(likeness, word), the most alike first; keys at most ``keys_apart`` sounds apart."""
        key = sound_key(heard).lstrip("AEIOU")
        if len(key) < 2:
            return []
        found = list(self._by_key.get(key, ()))
        if keys_apart:
            close = extract(key, self._keys, scorer=Levenshtein.distance, score_cutoff=keys_apart, limit=None)
            for other, _, _ in close:
                found += self._by_key[other] if other != key else ()
        return sorted(((likeness(heard, word), word) for word in found), reverse=True)
