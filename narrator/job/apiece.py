"""How many some are where words tell one of several: *a nut each*, *one at the back and one at the front*."""

from __future__ import annotations

from itertools import pairwise

from narrator.job.ledger_words import ledger_words, number
from narrator.job.line import Line
from narrator.job.mention import Mention
from narrator.job.motion import Motion
from narrator.values import Component

_W = ledger_words()
_EACH = frozenset(("each", "apiece", "either"))
_HIDDEN = frozenset(("hidden", "hiding", "tucked", "buried"))
_EACH_OF = frozenset(("one", "of", "and", "so", "then", "with", "which", "too"))
_EVERY_ONE = (("every", "one"), ("all", "of"), ("every", "nut"), ("every", "bolt"))
_AT = frozenset("at on in by under behind up down along to for through inside beside near over".split())
_ENDS = _AT | {"", "ones", "one", "all", "out", "off"}
_HAS = frozenset("with has have having had gets takes got is are 's held by on holds carries wears".split())
_PASSED = frozenset("one of them 'em the those".split())
_CLAUSE, _PLACE, _FAR = 6, 7, 14
"""So many words *each* may stand before some, their place may take, and what each is of may stand before."""
_MOST = 12


def apiece(line: Line, motion: Motion, found: list[Mention]) -> None:
    """Multiply and add up the numbers of one line's mentions."""
    for n, m in enumerate(found):
        if m.bare or m.every or m.summed:
            continue
        before = found[n - 1] if n else None
        if m.each or _is_each(motion, m):
            named = [k for k in found[:n] if not k.bare]
            times = _times(line, motion, m, named[-1] if named else None)
            if times > 1:
                m.count, m.said, m.plural, m.each = (m.count or 1) * times, True, True, False
                m.shared = times
        elif m.said and (times := _of_each_side(motion, m)) > 1:
            m.count, m.plural = (m.count or 1) * times, True
        elif before and before.shared and _goes_with(motion, before, m):
            m.count, m.said, m.plural = before.shared, True, True
        elif m.said and (more := _beside(motion, m, found[n + 1 :])):
            m.count, m.plural, m.upto = (m.count or 1) + more[0], True, more[1]
    for before, m in pairwise(found):
        if before.shared and before.size is None and m.size is not None and _is_told(before, m):
            before.size, before.drive = m.size, before.drive or m.drive
            m.start = -1
    found[:] = [m for m in found if m.start >= 0]


def _is_told(before: Mention, m: Mention) -> bool:
    """*With a nut on each and i spin both off, seventeens*: the size of those named before."""
    return before.kind_said and not m.kind_said and m.count in (None, before.count) and not m.new


def _is_each(motion: Motion, m: Mention) -> bool:
    """*A nut on each*, *a washer under each one*, *each held by one bolt*, *each one's a nut*."""
    words, end = motion.words, m.end
    if (m.said and m.count and m.count > _MOST) or _both_sides(words):
        return False
    if motion.word(end) in _AT and words[end + 1 : end + 3] in _EVERY_ONE:
        return True  # "washers under every one"
    if motion.word(end) in _AT and motion.word(end + 1) in _EACH:
        return not _is_side(motion.word(end + 2))
    if motion.word(end) in _EACH:
        return motion.word(end + 1) != "other" and not _is_side(motion.word(end + 1))
    low = motion.line.since_break(m.start, _CLAUSE)
    for i in range(low, m.start):
        between = words[i + 1 : m.start]
        if words[i] == "each" and not _is_side(motion.word(i + 1)) and not _HAS.isdisjoint(between):
            return all(w in _HAS or w in _PASSED or number(w) == 1 or w == "a" for w in between)
    return False


def _of_each_side(motion: Motion, m: Mention) -> int:
    """*Each wheel arch side is two eights*: how many sides there are; 0 where it is not told so."""
    low = motion.line.since_break(m.start, _CLAUSE)
    words = motion.words[low : m.start]
    if "each" not in words:
        return 0
    after = words[words.index("each") + 1 :]
    side = next((k for k, word in enumerate(after) if _W.each.get(word, 0) > 1), None)
    if side is None or after[-1] not in _HAS or any(map(number, after[side + 1 :])):
        return 0
    return _W.each[after[side]]


def _both_sides(words: tuple[str, ...]) -> bool:
    """*New links on both sides, two nuts each*: counted where the mention itself is read."""
    return any(a == "both" and _is_side(b.removesuffix("s")) for a, b in pairwise(words))


def _is_side(word: str) -> bool:
    """Whether *each* of these is counted where the mention itself is read (*each side*)."""
    return word in _W.each


def _times(line: Line, motion: Motion, m: Mention, before: Mention | None) -> int:
    """Of how many things some are said each: fasteners named before, or parts."""
    near = before and not before.every and before.end <= m.start and m.start - before.end <= _FAR
    if before and near and not _is_of_part(motion, m):
        if (before.count or 0) > 1:
            return before.count or 1
        if before.count is None and before.plural:
            m.each |= before.definite  # "all the nuts, a washer under each": the ledger knows how many
            return 1 if m.each else 2
    parts = [c for c in line.components if c.at[1] <= m.start]
    for c in reversed(parts):
        if (told := _how_many(motion, c)) > 1:
            return told
    return 1


def _is_of_part(motion: Motion, m: Mention) -> bool:
    """*Eleven clips and a t fifteen in each handle*: of the handles, not of the clips."""
    at = m.end + 2
    if motion.word(m.end) not in _AT or motion.word(m.end + 1) not in _EACH or at in motion.breaks:
        return False
    of_fastener = any(f.at[0] <= at < f.at[1] for f in motion.fasteners)
    return bool(motion.word(at)) and motion.word(at) not in _EACH_OF and not of_fastener


def _how_many(motion: Motion, c: Component) -> int:
    """*The two hydraulic lines*, *both arms*, *the blades*: how many parts a name tells; a plural two."""
    words = motion.words
    last = words[c.at[1] - 1]
    several = last.endswith("s") and not last.endswith("ss") and last not in _W["count.no_plural"]
    for i in range(c.at[0] - 1, max(-1, c.at[0] - 4), -1):
        if i + 1 in motion.breaks:
            break
        value = 2 if words[i] == "both" else number(words[i])
        if value is not None:
            return value if value <= _MOST else 1
    return 2 if several else 1


def _goes_with(motion: Motion, before: Mention, m: Mention) -> bool:
    """*A flat washer each and a lock nut*: as many as those just told to be one each."""
    joined = motion.words[before.end : m.start]
    return m.count == 1 and len(joined) <= 2 and "and" in joined


def _is_odd_one(motion: Motion, i: int) -> bool:
    """*A short one*, *one long one* from token ``i`` on."""
    if motion.word(i) not in ("a", "one") or motion.word(i + 2) != "one":
        return False
    return motion.word(i + 1) in _W["count.lengths"] and not any(i <= k < i + 3 for k in motion.nouns)


def _beside(motion: Motion, m: Mention, later: list[Mention]) -> tuple[int, int] | None:
    """*Two twelves at the back and one at the front*: how many more, and where that ends."""
    high = min([k.start for k in later if not k.bare] + [m.end + _PLACE, len(motion.words) - 1])
    for i in range(m.end, min(m.end + _PLACE, len(motion.words) - 3)):
        if motion.words[i] == "and" and _is_odd_one(motion, i + 1):
            return 1, i + 4  # "two long sixteens and a short one up top"
    value = number(motion.word(m.end + 1))
    lengths = motion.word(m.end) == "and" and motion.word(m.end + 2) in _W["count.lengths"]
    if value and lengths and (m.end + 3 in motion.breaks or motion.word(m.end + 3) in _ENDS):
        return value, m.end + 3  # "two long bolts and two short"
    if motion.word(m.end) not in _AT or m.end in motion.breaks:
        return None
    for i in range(m.end + 1, high):
        if motion.words[i] != "and":
            if number(motion.words[i]) is not None or any(e.start == i for e in motion.evidence):
                return None
            continue
        value = number(motion.word(i + 1))
        there = value is not None and motion.word(i + 2) in _AT | _HIDDEN and i + 1 not in motion.nouns
        there = there and number(motion.word(i + 3)) is None  # not "and one by one"
        return (value, i + 2) if there and value else None
    return None
