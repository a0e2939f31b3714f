"""Words out of place that sound like a trade word: single ones, neighbours to be joined, one to be split.

A word is odd when neither the vocabulary nor a list of common English holds it. An unknown word needs a
near sound; a rare English word needs neighbours that make a known phrase with what it may stand for.
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from narrator.language.inflection import plural, singular, verb_forms
from narrator.language.tables import load
from narrator.language.tokens import split_words
from narrator.language.vocabulary import FOLDER, Vocabulary
from narrator.paths import GRAMMARS
from narrator.phonetics import SoundIndex, letters, likeness, sound_key
from narrator.values import Span

KNOWN, RARE, UNKNOWN = 0, 1, 2


@dataclass(frozen=True, slots=True)
class Guess:
    """A reading of the words ``start`` to ``end`` (half open) with a score in 0..1."""

    start: int
    end: int
    meant: tuple[str, ...]
    score: float


@lru_cache(maxsize=1)
def _english() -> tuple[frozenset[str], frozenset[str]]:
    both = []
    for name in ("common", "rare"):
        lines = (FOLDER / "english" / f"{name}.txt").read_text(encoding="utf-8").splitlines()
        both.append(frozenset(line for line in lines if not line.startswith("#")))
    return both[0], both[1]


class Guesser:
    """Guesses by sound over one state of the vocabulary."""

    def __init__(self, known: Vocabulary) -> None:
        limits = tomllib.loads((GRAMMARS / "repair-by-sound.toml").read_text(encoding="utf-8"))
        self._least: dict[str, float] = limits["least"]
        self._tails = frozenset(limits["tails"].split())
        self._openers = frozenset(limits["openers"].split())
        self._small = self._openers | frozenset(limits["small"].split())
        self._small_after = frozenset(limits["small_after"].split())
        self._years = frozenset(limits["years"].split())
        self._trade: set[str] = set()
        self._pairs: set[tuple[str, str]] = set()
        self._forms: set[str] = set(limits["talk"].split())
        for unit in load("units")["unit"]:
            self._forms.update(word for form in unit["forms"] for word in form.split())
        for entry in known.entries:
            self._take(split_words(entry.name).words, entry.kind)
        self._mods = frozenset(self._trade - self._small)
        self._nouns = SoundIndex(word for word in self._trade if len(word) > 3)
        self._long = SoundIndex(word for word in self._trade if len(word) > 4)
        english, self._rare = _english()
        self.common: frozenset[str] = english | self._forms
        """Words of the trade or of common English, as they stand."""
        self._states: dict[str, int] = {}
        self._joined: dict[str, str | None] = {}
        self._single: dict[str, list[tuple[float, str]]] = {}

    def _take(self, words: list[str], kind: str) -> None:
        self._forms.update(words)
        if kind == "action":
            self._forms.update(verb_forms(words[0]))
        if kind in ("component", "tool", "material"):
            self._trade.update(words)
            self._forms.update(plural(word) for word in words)
            self._pairs.update(
                (one, two)
                for one, two in pairwise(words)
                if min(len(one), len(two)) > 2 and not {one, two} & self._small
            )

    def state(self, word: str) -> int:
        """KNOWN, RARE or UNKNOWN."""
        found = self._states.get(word)
        if found is None:
            found = self._states[word] = self._look_up(word)
            if len(self._states) > 50_000:
                self._states.clear()
        return found

    def _look_up(self, word: str) -> int:
        base = singular(word)
        if len(word) < 4 or not word.isascii() or not word.isalpha():
            return KNOWN
        kinds = {word, base} | ({word + "g"} if word.endswith("in") else set())
        if kinds & self.common:
            return KNOWN
        return RARE if kinds & self._rare else UNKNOWN

    def odd(self, word: str) -> bool:
        """Neither of the trade nor common English."""
        return self.state(word) != KNOWN

    def has_tails(self, words: Sequence[str]) -> bool:
        """Whether any word is of the kind that long words are cut into."""
        return not self._tails.isdisjoint(words)

    def joins(self, words: Sequence[str], i: int) -> bool:
        """Whether the next word is of the kind that long words are cut into ("alternate her")."""
        cut = i + 1 < len(words) and words[i + 1] in self._tails
        return cut and len(words[i]) > 2 and words[i] not in self._small

    def may_guess(self, words: Sequence[str], i: int) -> bool:
        """Whether anything may be made of the word: it is odd, or the next one may be a piece of the same."""
        plain = self.common
        if words[i] not in plain and self.odd(words[i]):
            return True
        after = words[i + 1] if i + 1 < len(words) else ""
        return after in self._tails or (after not in plain and self.state(after) == UNKNOWN)

    def is_whole(self, word: str) -> bool:
        """Whether a word stands as it is, and is not of the kind that long words are cut into."""
        return word in self.common and word not in self._tails

    def _is_piece(self, word: str) -> bool:
        """Whether a word may be a further piece of a long word: a small or an odd one."""
        return word in self._tails or self.state(word) == UNKNOWN

    def guess(self, words: Sequence[str], i: int, left: int, right: int) -> Guess | None:
        """The best reading of what begins at ``i``, if one is good enough."""
        if not self.may_guess(words, i) or self._names(words, i):
            return None
        return self._join(words, i, left, right) or self._one(words, i, left, right) or self._split(words, i)

    def _names(self, words: Sequence[str], i: int) -> bool:
        """A make or model may stand here: shortly after a year."""
        return any(
            word in self._years or (len(word) == 4 and word.isdigit()) for word in words[max(0, i - 4) : i]
        )

    def _pair(self, words: Sequence[str], at: Span, meant: str, clause: Span) -> bool:
        """Whether a neighbour of the words ``at`` makes a phrase of the trade with the word meant."""
        base = singular(meant)
        if at[0] > clause[0] and (words[at[0] - 1], base) in self._pairs:
            return True
        return at[1] < clause[1] and (base, singular(words[at[1]])) in self._pairs

    def named(self, words: Sequence[str], i: int, left: int, right: int) -> bool:
        """Whether the word at ``i`` makes a phrase of the trade with a neighbour, as it stands."""
        return self._pair(words, (i, i + 1), words[i], (left, right))

    def _one(self, words: Sequence[str], i: int, left: int, right: int) -> Guess | None:
        word = words[i]
        state = self.state(word)
        if state == KNOWN:
            return None
        near = self._single.get(word)
        if near is None:
            near = self._single[word] = self._near(word)
        opened = i > left and words[i - 1] in self._openers
        for score, meant in near:
            phrase = self._pair(words, (i, i + 1), meant, (left, right))
            if state == RARE and not phrase:
                continue
            least = "rare" if state == RARE else "unknown" if phrase or opened else "alone"
            if score + (0.1 if phrase else 0.0) >= self._least[least]:
                return Guess(i, i + 1, (meant,), score)
        return None

    def _near(self, word: str) -> list[tuple[float, str]]:
        found = self._nouns.near(word)[:6]
        base = singular(word)
        if base != word:
            found += [(score, plural(meant)) for score, meant in self._nouns.near(base)[:6]]
        return sorted(found, reverse=True)

    def _join(self, words: Sequence[str], i: int, left: int, right: int) -> Guess | None:
        if i + 1 >= right or not self._is_piece(words[i + 1]):
            return None
        for count in (3, 2):
            end = i + count
            if end > right or not all(word.isascii() and word.isalpha() for word in words[i:end]):
                continue
            if not self._may_join(words[i:end]) or (end < right and words[end] in self._small_after):
                continue
            odd = any(self.odd(word) for word in words[i:end])
            meant = self._whole(" ".join(words[i:end]))
            if meant is None or (not odd and letters("".join(words[i:end]), meant) < self._least["letters"]):
                continue
            opened = i > left and (words[i - 1] in self._openers or words[i - 1] in self._mods)
            if odd or opened or self._pair(words, (i, end), meant, (left, right)):
                return Guess(i, end, (meant,), likeness(" ".join(words[i:end]), meant))
        return None

    def _may_join(self, parts: Sequence[str]) -> bool:
        """Pieces of a long word: no part's noun first, no small word first, small or odd ones after."""
        first, *rest = parts
        if rest[0] == "are" and first.endswith("s") and self.state(first) == KNOWN:
            return False  # "the pulleys are straight"
        if len(first) < 3 or first in self._small or (first in self._trade and not any(map(self.odd, rest))):
            return False
        return all(map(self._is_piece, rest))

    def _whole(self, phrase: str) -> str | None:
        """The one trade word that sounds like a phrase, if any is near enough."""
        if phrase not in self._joined:
            if len(self._joined) > 50_000:
                self._joined.clear()
            near = self._long.near(phrase, keys_apart=0)
            good = bool(near) and len(sound_key(phrase)) > 2 and near[0][0] >= self._least["joined"]
            self._joined[phrase] = near[0][1] if good else None
        return self._joined[phrase]

    def _split(self, words: Sequence[str], i: int) -> Guess | None:
        """An unknown word that is two of the trade run together: brakepads."""
        word = words[i]
        if self.state(word) != UNKNOWN or len(word) < 6:
            return None
        for cut in range(3, len(word) - 2):
            if (word[:cut], singular(word[cut:])) in self._pairs:
                return Guess(i, i + 1, (word[:cut], word[cut:]), 1.0)
        return None
