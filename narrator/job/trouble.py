"""Fasteners told to be spoilt, missing or left over: *three of the clips broke*, *one's stripped*."""

from __future__ import annotations

from itertools import pairwise

from narrator.job.groups import Group
from narrator.job.ledger_words import ledger_words, number
from narrator.job.mention import Mention
from narrator.job.motion import Motion

_W = ledger_words()
_ORDINALS = frozenset(ledger_words().ordinals) | {"second", "last", "other"}
_OVER = (("left", "over"), ("to", "spare"), ("too", "many"), ("over", "at"))
_SHUT = frozenset("over in into down on onto shut home back closed together".split())
"""*Three clips snapped over* are whole."""
_STUCK = frozenset("seized stuck solid rusted tight frozen rotten".split())
_LEFT = frozenset(("left", word) for word in ("the", "that", "this", "those", "these", "a"))
_MOST = 4
"""More than so many are not told to be in trouble by the way."""


def is_spoilt(motion: Motion, m: Mention, held: list[Group]) -> bool:
    """Whether some that are off already are only told to be spoilt or gone, or some are left over."""
    if m.new:
        return False
    if _is_left_out(motion, m) or (m.count in (None, 1) and held and _was_stuck(motion, m.end)):
        return True
    after = motion.words[m.end : m.end + 2]
    if after in _OVER or after[:1] == ("leftover",):
        return True  # "one screw left over, no idea where it lives"
    several = m.plural and (m.said or m.definite)
    alone = not m.plural and not motion.says_on() and not motion.says_off()  # "circlip flew, gone forever"
    left = any(motion.words[i : i + 2] == ("left", "it") for i in range(m.end, len(motion.words)))
    return (several or alone or left) and bool(held) and is_in_trouble(motion, m.end)


def _is_left_out(motion: Motion, m: Mention) -> bool:
    """*Left the screw out, the wheel holds it*, *leaving that bolt off*: it came off before, or never was."""
    low = motion.line.since_break(m.start, 3)
    before = motion.words[low : m.start]
    leaves = not {"leave", "leaving"}.isdisjoint(before) or any(
        pair in _LEFT for pair in pairwise(before)
    )  # not "left drop link, two nuts off"
    return leaves and motion.word(m.end) in ("out", "off")


def _was_stuck(motion: Motion, i: int) -> bool:
    """*Screw was seized, drilled it out*: how one that is off already came."""
    return motion.word(i) in ("was", "were") and not _STUCK.isdisjoint(motion.words[i + 1 : i + 3])


def is_short(motion: Motion, m: Mention) -> bool:
    """*Cowl on, one screw short*: named only as what is not there."""
    return motion.word(m.end) in ("short", "shy") or is_in_trouble(motion, m.end)


def in_trouble(motion: Motion) -> int:
    """How many a line that puts a part back tells not to hold it: *one's stripped*, *two missing*."""
    words, found = motion.words, 0
    for i, word in enumerate(words):
        count = 1 if word == "one" else number(word) or 0
        named = next((f for f in motion.fasteners if f.at[0] <= i < f.at[1] and f.kind_said), None)
        if not 0 < count <= _MOST or motion.before(i) == "of" or (not named and i + 1 in motion.nouns):
            continue
        end = i + 1 + 2 * (words[i + 1 : i + 3] in (("of", "them"), ("of", "those"), ("of", "'em")))
        end = named.at[1] if named else end
        if motion.word(end) in ("short", "shy") or is_in_trouble(motion, end):
            found += count
    if not found and any(w in _ORDINALS and is_in_trouble(motion, i + 1) for i, w in enumerate(words)):
        return 1  # "the fourth's stripped"
    return found


def is_in_trouble(motion: Motion, i: int) -> bool:
    """Whether *is stripped*, *'s long gone*, *left out* stand at token ``i``, of one that is not used."""
    while motion.word(i) in _W["trouble.before"] and motion.word(i) not in _W["trouble.words"]:
        i += 1
    left_out = motion.word(i) in ("left", "leaving") and motion.word(i + 1) in ("out", "off")
    crossed = motion.words[i : i + 2] == ("cross", "threaded")
    if not left_out and not crossed and motion.word(i) not in _W["trouble.words"]:
        return False
    closed = motion.word(i) in ("snapped", "snap") and motion.word(i + 1) in _SHUT
    return not closed and _W["trouble.used"].isdisjoint(motion.words[i + 1 : i + 5])
