"""Cues looked up by a word and the next one are those that trying every phrase at every word finds."""

from __future__ import annotations

import random
from collections.abc import Sequence

import pytest

from narrator.language import cues
from narrator.language.cues import cue_rules, mask, next_words
from narrator.values import Component, Entity, Fastener, Tool

PHRASES = [phrase for rule in cue_rules() for phrase in rule.phrases]
FILLING = ("um", "bracket", "<component>")


def _said(phrase: str, pick: random.Random) -> list[str]:
    """Words that fit a phrase, or nearly."""
    words: list[str] = []
    for part in phrase.split():
        if part == "*":
            words += pick.choices(FILLING, k=pick.randint(0, 4))
        elif not part.endswith("?") or pick.random() < 0.5:
            words.append(pick.choice(part.rstrip("?").split("|")).rstrip("?"))
    return words[: pick.choice((len(words), len(words), max(1, len(words) - 1)))]


def _everywhere(text: str, words: Sequence[str]) -> list[tuple[int, int, str]]:
    """Every rule's matches, each phrase tried at each word in order."""
    found = []
    for number, rule in enumerate(cue_rules()):
        free, start = 0, 1
        for first, word in enumerate(words):
            tries = (cues._pattern(phrase).match(text, start) for phrase in rule.phrases)
            if start >= free and (match := next(filter(None, tries), None)):
                free = match.end()
                found.append((number, first, match.group().rstrip()))
            start += len(word) + 1
    return found


@pytest.mark.parametrize("seed", range(60))
def test_nothing_is_lost_by_looking_up(seed: int) -> None:
    pick = random.Random(seed)
    words = [word for phrase in pick.choices(PHRASES, k=4) for word in _said(phrase, pick)]
    text = f" {' '.join(words)} "
    assert [(n, first, said) for n, first, _, said in sorted(cues._matches(words))] == _everywhere(
        text, words
    )


@pytest.mark.parametrize(
    ("phrase", "first", "following"),
    [
        ("it|that 's|is the <component>", "it", {"'s", "is"}),
        ("so? it is", "so", {"it"}),
        ("so? it is", "it", {"is"}),
        ("back on? the", "back", {"on", "the"}),
        ("not * the", "not", None),
        ("broken", "broken", None),
        ("come back?", "come", None),
    ],
)
def test_the_words_that_may_follow(phrase: str, first: str, following: set[str] | None) -> None:
    assert next_words(phrase, first) == following


def test_of_entities_that_overlap_the_longer_one_stands_for_its_words() -> None:
    words = "the long brake hose clip is off with pliers".split()
    hose = Component(span=(0, 0), at=(2, 4), rule="", name="brake hose")
    clip = Fastener(span=(0, 0), at=(2, 5), rule="", kind="clip")
    none = Tool(span=(0, 0), at=(6, 6), rule="", name="")
    pliers = Tool(span=(0, 0), at=(8, 9), rule="", name="pliers")
    given: list[Entity]
    for given in ([pliers, hose, clip], [clip, none, hose, pliers], [clip, pliers]):
        masked = mask(words, given)
        assert masked.words == "the long <fastener> is off with <tool>".split()
        assert [*masked.starts] == [0, 1, 2, 5, 6, 7, 8, 9]
    assert mask(words, []).words == words
