"""Looking up phrases of several words, for every room that has lists of them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from sys import intern
from typing import Generic, TypeVar

T = TypeVar("T")


class _Ways(Generic[T]):
    """How phrases go on that start with the same word: by their second word, and what it means alone."""

    __slots__ = ("alone", "longer")

    def __init__(self, choices: Iterable[tuple[tuple[str, ...], T]]) -> None:
        self.alone: list[T] = []
        self.longer: dict[str, list[tuple[tuple[str, ...], T]]] = {}
        for phrase, meaning in choices:
            if len(phrase) == 1:
                self.alone.append(meaning)
            else:
                self.longer.setdefault(phrase[1], []).append((phrase, meaning))


class Phrases(Generic[T]):
    """Phrases of one or more words and what each stands for; the longest that fits is found."""

    def __init__(self, pairs: Iterable[tuple[str, T]]) -> None:
        self.starts: dict[str, list[tuple[tuple[str, ...], T]]] = {}
        for phrase, meaning in pairs:
            words = tuple(map(intern, phrase.split()))
            self.starts.setdefault(words[0], []).append((words, meaning))
        for choices in self.starts.values():
            choices.sort(key=lambda choice: -len(choice[0]))
        self._ways = {word: _Ways(choices) for word, choices in self.starts.items()}

    def at(self, words: Sequence[str], i: int) -> tuple[int, T] | None:
        """The end of the longest phrase that starts at ``i``, and its meaning."""
        if i >= len(words) or (ways := self._ways.get(words[i])) is None:
            return None
        if ways.longer and i + 1 < len(words):
            for phrase, meaning in ways.longer.get(words[i + 1], ()):
                size = len(phrase)
                if size == 2 or tuple(words[i : i + size]) == phrase:
                    return i + size, meaning
        return (i + 1, ways.alone[0]) if ways.alone else None

    def first(self, words: Sequence[str], low: int = 0, high: int | None = None) -> tuple[int, int, T] | None:
        """The first phrase that starts in ``low`` to ``high``: its start, end and meaning."""
        if self.starts.keys().isdisjoint(words):
            return None
        for i in range(low, len(words) if high is None else min(high, len(words))):
            if words[i] in self.starts and (hit := self.at(words, i)):
                return i, hit[0], hit[1]
        return None

    def all(self, words: Sequence[str]) -> list[tuple[int, int, T]]:
        """Every phrase, left to right; phrases do not overlap."""
        found: list[tuple[int, int, T]] = []
        starts, free = self.starts, 0
        if starts.keys().isdisjoint(words):
            return found
        for i, word in enumerate(words):
            if i >= free and word in starts and (hit := self.at(words, i)):
                found.append((i, hit[0], hit[1]))
                free = hit[0]
        return found
