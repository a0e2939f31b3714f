"""Fewer than all: *all but one bolt*, *all the bolts bar one*, *should be ten in it, only eight there*."""

from __future__ import annotations

from narrator.job.ledger_words import ledger_words, number
from narrator.job.mention import Mention
from narrator.job.motion import Motion

_W = ledger_words()
_PARTICLES = frozenset(("back", "in", "on", "up"))
_MOVED = _PARTICLES | {"out", "off", "", "all"}
_FEW, _BEFORE, _AFTER = 4, 4, 9
"""More than so many are not excepted; where *should* stands before, and how many there are after."""
_ONLY = frozenset(("only", "just", "got", "has", "but", "had", "'s"))
_THERE = frozenset(("", "there", "in", "left", "here", "fitted", "of", "present", "on"))


def fewer(motion: Motion, found: list[Mention]) -> list[Mention]:
    """The mentions of a line, each with how many it is less than all."""
    found = [_there_are(motion, _excepted(motion, _so_many(motion, m))) for m in found]
    for m in found:
        _less_missing(motion, m)
    found = [m for n, m in enumerate(found) if not (n and _is_head(motion, m))]
    return [m for m in found if not (m.bare and any(k.but and k.start < m.start < k.end for k in found))]


def _so_many(motion: Motion, m: Mention) -> Mention:
    """*Four per pad, two pads, so eight out*, *all twenty four in*: how many, no size."""
    if m.size is None or m.size.unit != "mm" or m.kind_said or m.drive or m.said or m.plural:
        return m
    told = motion.before(m.start) in ("so", "all") or motion.word(m.start) == "all"
    bare = number(motion.word(m.end - 1)) is not None and motion.word(m.end) in _MOVED  # not "all ten mil"
    if told and bare and m.count in (None, 1):
        m.kind, m.count, m.said, m.plural, m.size = None, int(m.size.value), True, True, None
    return m


def _excepted(motion: Motion, m: Mention) -> Mention:
    """*Back with all but one bolt*, *all the bolts bar one*: all of them are meant, less the one."""
    if m.count is None and m.plural and not m.bare and (told := _told_after(motion, m)):
        m.but, m.end = told
        return m
    before = motion.words[max(0, m.start - 2) : m.start]
    if len(before) < 2 or before[0] not in ("all", "everyone") or before[1] not in _W["refit.except"]:
        return m
    if m.bare or m.size is not None or not m.count:
        return m
    m.start, m.but, m.count, m.said, m.plural, m.definite = m.start - 2, m.count, None, False, True, True
    return m


def _told_after(motion: Motion, m: Mention) -> tuple[int, int] | None:
    """*Bar one*, *back on except the two at the back* after a name: how many less, where the name ends."""
    end = m.end
    while motion.word(end) in _PARTICLES:
        end += 1
    at = end + 1 + (motion.word(end + 1) in ("the", "for"))
    less = number(motion.word(at)) or 0 if motion.word(end) in _W["refit.except"] else 0
    if not 0 < less <= _FEW or at + 1 in motion.nouns:
        return None
    return less, at + 1 if end == m.end else m.end


def _less_missing(motion: Motion, m: Mention) -> None:
    """*Eight screws, two missing when i got here*: six can come off."""
    if m.bare or not m.said or not m.count or motion.says_on():
        return
    for i in range(m.end, min(m.end + 2, len(motion.words))):
        gone = number(motion.words[i])
        if gone and gone < m.count and motion.words[i + 1 : i + 2] in (("missing",), ("gone",)):
            m.count -= gone
            return


def _is_head(motion: Motion, m: Mention) -> bool:
    """*Four m twelves, nineteen head*: the tool of those named before."""
    sized = m.size is not None and not m.kind_said and not m.said and m.count in (None, 1)
    return sized and motion.word(m.end) in ("head", "heads")


def _there_are(motion: Motion, m: Mention) -> Mention:
    """*Should be ten bolts in it, only eight there*: what is there is what can come off."""
    ought = not _W["never.ought"].isdisjoint(motion.words[max(0, m.start - _BEFORE) : m.start])
    if not ought or m.bare or not m.count:
        return m
    for i in range(m.end, min(m.end + _AFTER, len(motion.words))):
        count = number(motion.words[i])
        if count and count < m.count and motion.before(i) in _ONLY and motion.after(i) in _THERE:
            m.count, m.end = count, i + 1
            return m
    return m
