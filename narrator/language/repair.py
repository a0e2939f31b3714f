"""Recognition slips read as what was meant, every one visible and reversible.

Two ways, most certain first: known slips in a context that bears them out (grammars/repair.toml, the
shop's ``sounds_like``), and words out of place that sound like a trade word (narrator.language.slips).
The heard words and their place are kept in a ``Repair``; common words are never guessed at.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Container
from functools import lru_cache

from narrator.language.repair_rules import Variant, compile_rules
from narrator.language.slips import Guess, Guesser
from narrator.language.stage import stage
from narrator.language.tokens import Notes
from narrator.language.vocabulary import Vocabulary, vocabulary
from narrator.values import Repair


class Repairer:
    """Rules and sounds of one state of the vocabulary."""

    def __init__(self, known: Vocabulary) -> None:
        self.rules = compile_rules(known)
        self.guesser = Guesser(known)
        self._calm = self.guesser.common - self.rules.keys()
        """Words that nothing is made of by themselves: most of what is said."""
        self._begun = {
            word: beginning.longer
            for word, beginning in self.rules.items()
            if not beginning.alone and word in self.guesser.common
        }
        """What has to follow a word of which nothing is made by itself, where a slip may begin with it."""

    def plan(self, words: list[str], marks: dict[int, str]) -> list[tuple[Guess, str]]:
        """The repairs of an utterance in order, none overlapping, each with its rule's id."""
        planned: list[tuple[Guess, str]] = []
        read, breaks = list(words), sorted(marks)
        cut = self.guesser.has_tails(words)
        calm, begun, i = self._calm, self._begun, 0
        while i < len(words):
            word = read[i]
            if (word in calm and not (cut and self.guesser.joins(read, i))) or (
                word in begun and self._goes_on(begun[word], read, i + 1)
            ):
                i += 1
                continue
            found = self._at(read, i, breaks)
            if found is None:
                i += 1
                continue
            planned.append(found)
            guess = found[0]
            if len(guess.meant) == guess.end - guess.start:
                read[guess.start : guess.end] = guess.meant
            i = guess.end
        return planned

    def _goes_on(self, longer: Container[str], words: list[str], i: int) -> bool:
        """Whether the word at ``i``, if there is one, ends no slip that may have begun before it."""
        return i == len(words) or (words[i] not in longer and self.guesser.is_whole(words[i]))

    def _at(self, words: list[str], i: int, breaks: list[int]) -> tuple[Guess, str] | None:
        known, guessed = self.rules.get(words[i]), True
        if known is None:
            variants: list[Variant] = []
            if not self.guesser.odd(words[i]) and not self.guesser.joins(words, i):
                return None
        else:
            variants = known.longer.get(words[i + 1], known.alone) if i + 1 < len(words) else known.alone
            guessed = self.guesser.may_guess(words, i)
            if not variants and not guessed:
                return None
        left, right = 0, len(words)
        if breaks:
            place = bisect_right(breaks, i)
            left = breaks[place - 1] if place else 0
            right = breaks[place] if place < len(breaks) else right
        for variant in variants:
            if variant.fits(words, i, left, right) and not self._named(variant, words, i, left, right):
                return _guess(variant, i), variant.rule
        guess = self.guesser.guess(words, i, left, right) if guessed else None
        return None if guess is None else (guess, "repair.sound")

    def _named(self, variant: Variant, words: list[str], i: int, left: int, right: int) -> bool:
        """Whether a word makes a name of the trade as it was heard: *filler neck* is no slip."""
        one = len(variant.heard) == 1 and variant.rule != "repair.shop"
        return one and self.guesser.named(words, i, left, right)


def _guess(variant: Variant, i: int) -> Guess:
    return Guess(i, i + len(variant.heard), variant.meant, 1.0)


@lru_cache(maxsize=2)
def _repairer(known: Vocabulary) -> Repairer:
    return Repairer(known)


def repairer() -> Repairer:
    """The repairer for the vocabulary in force."""
    return _repairer(vocabulary())


@stage("repair")
def repair(notes: Notes) -> None:
    """Replace slips in the workspace's words."""
    planned = repairer().plan(notes.words, notes.marks)
    if not planned:
        return
    for guess, rule in reversed(planned):
        _apply(notes, guess, rule)
    notes.repairs.sort(key=lambda one: one.span)


def _apply(notes: Notes, guess: Guess, rule: str) -> None:
    start, end = guess.start, guess.end
    span = notes.span(start, end)
    notes.repairs.append(
        Repair(span, notes.heard[slice(*span)], " ".join(guess.meant), rule, round(guess.score, 3))
    )
    same = len(guess.meant) == end - start
    notes.source[start:end] = notes.source[start:end] if same else [span] * len(guess.meant)
    notes.words[start:end] = guess.meant
    shift = len(guess.meant) - (end - start)
    if shift and notes.marks:
        notes.marks = {(at + shift if at >= end else at): mark for at, mark in notes.marks.items()}
