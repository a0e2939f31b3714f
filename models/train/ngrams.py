"""Trigram models of the trade's language from sentences in words, and a mixture of two, as weighted arcs and
in the ARPA format.

What people say in narrations and what the templates make are counted apart, each in the way that suits it,
and mixed: counted together, the many made sentences drown how people go on after a word.
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections import Counter, defaultdict
from collections.abc import Iterable

START, END = "<s>", "</s>"
History = tuple[str, ...]
Counts = dict[History, Counter[str]]


def counted(sentences: Iterable[str]) -> Counts:
    """How often each word came after each history of none, one and two words."""
    counts: Counts = defaultdict(Counter)
    for sentence in sentences:
        words = [START, *sentence.split(), END]
        for at in range(1, len(words)):
            for size in range(min(3, at + 1)):
                counts[tuple(words[at - size : at])][words[at]] += 1
    return counts


class Model(ABC):
    """Words after at most two others; shorter histories stand in for those without words of their own."""

    _counts: Counts

    @abstractmethod
    def probability(self, history: History, word: str) -> float:
        """Of a word after the last two at most."""

    def states(self) -> list[History]:
        """Histories with words of their own, the empty one first."""
        return sorted(self._counts, key=lambda history: (len(history), history))

    def words_after(self, history: History) -> list[str]:
        """Words seen after a history."""
        return list(self._counts[history])

    def backoff(self, history: History) -> float:
        """Log weight of leaving a history for the shorter one."""
        seen = sum(self.probability(history, word) for word in self._counts[history])
        shorter = sum(self.probability(history[1:], word) for word in self._counts[history])
        return math.log(max(1e-9, 1 - seen) / max(1e-9, 1 - shorter))

    def shortened(self, history: History) -> History:
        """The longest ending of a history that is a state."""
        history = history[-2:]
        while history not in self._counts:
            history = history[1:]
        return history

    def arpa(self) -> str:
        """The model in the ARPA format (base ten logs)."""
        orders: list[list[str]] = [[], [], []]
        for history in self.states():
            for word in self.words_after(history):
                line = f"{math.log10(self.probability(history, word)):.4f}\t{' '.join((*history, word))}"
                longer = (*history, word)
                if len(longer) < 3 and longer in self._counts:
                    line += f"\t{self.backoff(longer) / math.log(10):.4f}"
                orders[len(history)].append(line)
        orders[0].append(f"-99\t{START}\t{self.backoff((START,)) / math.log(10):.4f}")
        head = "".join(f"ngram {n}={len(rows)}\n" for n, rows in enumerate(orders, start=1))
        body = "".join(f"\n\\{n}-grams:\n" + "\n".join(rows) + "\n" for n, rows in enumerate(orders, start=1))
        return f"\\data\\\n{head}{body}\n\\end\\\n"


class Trigrams(Model):
    """Interpolated after Witten and Bell; word pairs are followed by what came ``least`` times."""

    def __init__(
        self, sentences: Iterable[str], vocabulary: Iterable[str], *, floor: float = 0.1, least: int = 2
    ) -> None:
        self._counts = counted(sentences)
        known = [*vocabulary, END]
        ones = self._counts[()]
        self._counts[()] = Counter({word: ones[word] + floor for word in known})  # type: ignore[misc]
        for history in [h for h in self._counts if len(h) == 2]:
            kept = Counter({w: n for w, n in self._counts[history].items() if n >= least})
            if kept:
                self._counts[history] = kept
            else:
                del self._counts[history]
        self._totals = {history: (sum(c.values()), len(c)) for history, c in self._counts.items()}

    def probability(self, history: History, word: str) -> float:
        """Of a word after the last two at most."""
        if not history:
            return self._counts[()][word] / self._totals[()][0]
        if history not in self._counts:
            return self.probability(history[1:], word)
        total, kinds = self._totals[history]
        seen = self._counts[history][word] / (total + kinds)
        return seen + kinds / (total + kinds) * self.probability(history[1:], word)


DISCOUNTS = (0.0, 0.8, 0.85)
"""What is taken off each count after none, one and two words (Kneser and Ney's, interpolated)."""


class KneserNey(Model):
    """Interpolated after Kneser and Ney: how many words a word follows counts, not how often it comes. For
    text of which every sentence was said once."""

    def __init__(self, sentences: Iterable[str], vocabulary: Iterable[str], *, floor: float = 0.1) -> None:
        counts = counted(sentences)
        followed: Counts = defaultdict(Counter)
        for history, words in counts.items():
            if history:
                followed[history[1:]].update(dict.fromkeys(words, 1))
        self._counts = {h: c if len(h) == 2 or h == (START,) else followed[h] for h, c in counts.items()}
        known = [*vocabulary, END]
        self._counts[()] = Counter({w: followed[()][w] + floor for w in known})  # type: ignore[misc]
        self._totals = {history: (sum(c.values()), len(c)) for history, c in self._counts.items()}

    def probability(self, history: History, word: str) -> float:
        """Of a word after the last two at most."""
        if history not in self._counts:
            return self.probability(history[1:], word)
        total, kinds = self._totals[history]
        if not history:
            return self._counts[()][word] / total
        less = DISCOUNTS[len(history)]
        own = max(0.0, self._counts[history][word] - less) / total
        return own + less * kinds / total * self.probability(history[1:], word)


class Mixture(Model):
    """Two models of the same words: ``share`` of the first, the rest of the second."""

    def __init__(self, first: Model, second: Model, share: float) -> None:
        self._parts, self._share = (first, second), share
        self._counts = defaultdict(Counter)
        for part in self._parts:
            for history in part.states():
                self._counts[history].update(dict.fromkeys(part.words_after(history), 1))
        self._counts = dict(self._counts)

    def probability(self, history: History, word: str) -> float:
        """Of a word after the last two at most."""
        first, second = self._parts
        return self._share * first.probability(history, word) + (1 - self._share) * second.probability(
            history, word
        )
