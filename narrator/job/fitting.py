"""Counts that stand for what is off: *lid down on its three*, *all six crosswise*."""

from __future__ import annotations

from collections.abc import Sequence

from narrator.job.chains import covers
from narrator.job.ledger_words import ledger_words, number
from narrator.job.line import Line
from narrator.job.mention import Mention
from narrator.job.motion import Motion
from narrator.values import Entity

_W = ledger_words()
_ON = frozenset(("on", "with", "by", "onto", "in", "and", "then", "only", "but", "just", "of"))
_FROM = frozenset(("from", "at", "along", "up", "in", "on", "and", "first", "then"))
_SURE = 0.8
_GOES = frozenset(("go", "goes", "went", "going", "home", "back", "in", "on"))


def fitting(line: Line, motion: Motion, entities: Sequence[Entity]) -> list[Mention]:
    """Every such count of the line; it means something only where a group of exactly so many is off."""
    if line.does("aside", "concern", "hypothesis", "plan"):
        return []
    found: list[Mention] = []
    for i, word in enumerate(line.tokens):
        count = number(word)
        if count is None or count < 2 or covers(entities, i):
            continue
        end, more = _with_new(motion, i)
        if more or end == i + 3 or _stands(motion, i):
            found.append(
                Mention(i, end, count=count + more, said=True, plural=True, definite=True, fits=True)
            )
    return found


def _surely_goes_on(motion: Motion, i: int) -> bool:
    """Whether the network has no doubt that what the number at ``i`` stands for goes back."""
    return motion.line.surely_moves(i, i + 1, _SURE, on=True)


def _with_new(motion: Motion, i: int) -> tuple[int, int]:
    """*Five old and one new*: where it ends and how many are new."""
    words = motion.words
    if words[i + 2 : i + 3] in (("ones",), ("one",)) and words[i + 1] in _W["count.names"]:
        return i + 3, 0  # "in again with the four long ones"
    if words[i + 1 : i + 3] in (("old", "and"), ("good", "and"), ("original", "and")):
        new = number(motion.word(i + 3))
        if new is not None and motion.word(i + 4) in _W["new.words"]:
            return i + 5, new
    return i + 1, 0


def _stands(motion: Motion, i: int) -> bool:
    """Whether the words beside the number at ``i`` make it one of things known, with no noun of its own."""
    before, after = motion.before(i), motion.after(i)
    if (
        before in _W["count.owns"]
        and after in ("are", "is", "'re")
        and motion.word(i + 2) in _W["count.done_up"]
    ):
        return True  # "new regulator inside, its three are tight"
    if after not in _W["count.held_after"] and after != "":
        return False
    if after in _GOES and before and i - 1 in motion.nouns:
        return True  # "belly panel six go home"
    lead = motion.before(i - 1)
    sure = _surely_goes_on(motion, i)
    if before == "the" and sure and after in _FROM and lead not in ("on", "with", "by", "of"):
        return True  # "bumper face up, the four from the arches"
    if before == "with" and sure and after in ("as", "", "in"):
        return True  # "and the cowl with five as well"
    if before == "on" and sure and after in ("", "and") and motion.before(i - 1) == "back":
        return True  # "cover back on five"
    if before == "the" and lead not in ("on", "with", "by"):
        return after in _W["count.done_up"]  # "and the three tight by hand"; "then the eight" is a size
    if before == "the" and after in ("to", "at"):
        return False
    if before in _W["count.owns"]:
        return lead in _ON or lead in _W["on.gets"] or i - 1 in motion.breaks or i == 1
    return before in ("on", "with") and (i - 2) in motion.nouns
