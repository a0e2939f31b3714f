"""Where a line speaks of fasteners: named ones, and counts or pronouns that stand for ones named before."""

from __future__ import annotations

from narrator.job.apiece import apiece
from narrator.job.counts import counts
from narrator.job.fewer import fewer
from narrator.job.ledger_words import ledger_words, number
from narrator.job.line import Line
from narrator.job.mention import EVERY, Mention, place
from narrator.job.motion import Motion
from narrator.values import Fastener

_W = ledger_words()
_SO_THAT = (("so", "that", "'s"), ("so", "there", "'s"), ("so", "that", "is"), ("so", "there", "are"))
_PARTS = frozenset(("halves", "quarters", "eighths", "sixteenths", "sixteens"))
_DEFINITE = frozenset("the those these both all same its other every".split())
_THEY = frozenset(("they're", "them're", "them", "dem"))
_ANEW = frozenset(("no", "sorry", "make"))
_SOME = 0.6
"""From which share on the network's word counts for some of those just counted."""


def mentions(line: Line, motion: Motion) -> list[Mention]:
    """Every mention of the line, in order."""
    found = [_named(line, motion, f) for f in line.entities(Fastener)]
    found += counts(line, motion)
    if not found:
        pronoun = _pronoun(motion)
        return [pronoun] if pronoun else []
    found.sort(key=lambda m: m.start)
    found = _summed(line, motion, fewer(motion, found))
    _mend(motion, found)
    apiece(line, motion, found)
    found = [
        m for m, after in zip(found, [*found[1:], None], strict=False) if not _of_parts(motion, m, after)
    ]
    if not found and (pronoun := _pronoun(motion)):
        found.append(pronoun)
    return found


def _summed(line: Line, motion: Motion, found: list[Mention]) -> list[Mention]:
    """*Five nuts per wheel so twenty nuts in total*: the total stands for the number before it."""
    kept: list[Mention] = []
    for m in _without_shares(motion, found):
        last = kept[-1] if kept else None
        total = not _W["count.total"].isdisjoint(motion.words[m.end : m.end + 2])
        if last and _are_some_of(line, m, last):
            rest_stays = "out" in motion.words[m.start : m.end]  # "five out of the ten"
            last.known, last.count = (
                0 if rest_stays else last.count or 0,
                m.count,
            )  # "four screws, three come"
            continue
        if (m.bare and m.said and _is_sum(m, kept)) or _is_all(motion, m, kept):
            continue  # "a thirty six in the hub, the joint on a twenty two, so both of those"
        if last and _is_so_many(motion, last, m):
            last.count, last.summed = m.count, True
        elif last and m.bare and last.plural and last.count is None and not last.bare:
            if not m.every:  # "wheel nuts off, all five"
                last.count, last.said = m.count, m.said
            last.definite |= m.definite
        elif total and last and last.kind == m.kind and m.said:
            last.count, last.summed = m.count, True
        elif last and _is_sized_later(motion, last, m):
            m.start, m.count, m.said, m.plural = last.start, last.count, last.said, True
            m.definite, m.rest, m.place = last.definite, last.rest, m.place or last.place
            kept[-1] = m  # "take the three off, tens"
        elif last and _gives_size(motion, kept, m):
            pass
        elif last and _is_named_later(motion, last, m):
            last.kind, last.kind_said, last.names, last.end = m.kind, True, m.names, m.end
        else:
            kept.append(m)
    return kept


def _is_sized_later(motion: Motion, last: Mention, m: Mention) -> bool:
    """*Take the three off, tens*, *two big ones, seventeen*: a bare size of those just counted."""
    if not last.bare or m.size is None or m.kind_said or m.said:
        return False
    ones = motion.word(last.end - 1) == "ones" and m.start == last.end
    return (m.count is None and not last.fits) or (ones and m.count in (None, 1))


def _is_named_later(motion: Motion, last: Mention, m: Mention) -> bool:
    """*One fifteen, centre bolt*: the name of what a bare size told."""
    if last.kind_said or last.size is None or last.bare or last.count != 1 or m.start != last.end:
        return False
    plain = m.kind_said and not m.bare and m.size is None and not m.said and m.count in (None, 1)
    return plain and m.start in motion.breaks and not m.new


def _gives_size(motion: Motion, kept: list[Mention], m: Mention) -> bool:
    """Whether a mention only tells the size of those named before it, which then have it."""
    last = kept[-1]
    if _is_same_size(motion, last, m):
        last.count, last.size, last.drive = m.count, m.size, last.drive or m.drive
        return True
    if m.size is None:
        return False
    if not m.kind_said and _is_told_after(motion, last, m):
        if m.said:
            last.count, last.said = m.count, True  # "grub screws on the collars, two four mil allens"
    elif last.size is None and not m.kind_said and motion.before(m.start) == "all":
        for k in [k for k in kept[:-1] if not k.bare and k.size is None]:
            k.size, k.drive = m.size, k.drive or m.drive  # "two long bolts and two short, all ten mil"
    elif last.kind == m.kind and last.size is None and _is_told(motion, m):
        last.count = m.count if m.said and not (last.said and m.count == 1) else last.count
    else:
        return False
    last.size, last.drive, last.end = m.size, last.drive or m.drive, m.end
    return True


def _are_some_of(line: Line, m: Mention, last: Mention) -> bool:
    """Whether a count tells how many come off of those just counted: *hangs on four, three of them come*."""
    if last.bare or not m.bare or not m.said or m.rest or m.new or m.another or m.every:
        return False
    if not (last.said and m.count and last.count and m.count < last.count):
        return False
    seen = line.moves(m.start, m.end)
    return seen is not None and seen[0] >= _SOME and seen[1] < seen[0]


def _is_so_many(motion: Motion, last: Mention, m: Mention) -> bool:
    """*One eight mil bolt each so four out*, *two bolts in each, so four bolts off*: how many in all."""
    alike = m.bare or (m.said and m.kind == last.kind and m.size in (None, last.size))
    so = motion.before(m.start) == "so" or motion.words[max(0, m.start - 3) : m.start] in _SO_THAT
    return alike and last.said and not last.bare and so


def _is_all(motion: Motion, m: Mention, kept: list[Mention]) -> bool:
    """*Seven tens and one clip, so eight in the pan*: what was read as a size is how many were named."""
    if m.kind_said or m.size is None or len(kept) < 2 or motion.before(m.start) != "so":
        return False
    return m.size.value == sum(k.count or 1 for k in kept)


def _is_sum(m: Mention, kept: list[Mention]) -> bool:
    """Whether a count only says again how many were just named one by one."""
    named = [k.count or 1 for k in kept if not k.bare]
    return len(named) > 1 and sum(named) == m.count


def _is_told(motion: Motion, m: Mention) -> bool:
    """*Banjo off, that's one twelve mil bolt*: what the fastener named before is."""
    if motion.word(m.start - 1) in _THEY and m.size and not m.kind_said:
        return True  # "two bolts, they're half inch"
    return motion.words[max(0, m.start - 2) : m.start] in (
        ("that", "'s"),
        ("it", "'s"),
        ("that", "is"),
        ("it", "is"),
    )


def _is_same_size(motion: Motion, last: Mention, m: Mention) -> bool:
    """*Two clamps hold it, both 7 mm*; *four tens, but one hole is empty, so three tens*."""
    if last.bare or m.kind_said or not (m.said and m.size and last.said):
        return False
    if last.size in (None, m.size) and m.count == last.count and m.start in motion.breaks:
        return motion.word(m.start) in ("both", "all")
    return last.size == m.size and motion.before(m.start) == "so" and (m.count or 0) < (last.count or 0)


def _is_told_after(motion: Motion, last: Mention, m: Mention) -> bool:
    """Whether drives or sizes counted after a fastener in the plural tell how many of which size it is.

    After a single one a drive with its size does: *grub screw backed out, three mil allen*.
    """
    if last.bare or last.size or not last.kind_said:
        return False
    if not last.said and not last.plural and last.count in (None, 1) and m.count in (None, 1):
        return m.start in motion.breaks and bool(m.drive) and motion.after(m.end - 1) == ""
    if last.said or not last.plural or not m.said:
        return False
    return m.start in motion.breaks and not any(last.end <= e.start < m.start for e in motion.evidence)


def _without_shares(motion: Motion, found: list[Mention]) -> list[Mention]:
    """*four screws, two in front and two behind*: the total without what it is made of."""
    if any(motion.before(m.start) == "so" for m in found[1:]):
        return found  # "four tens, but in one hole is only daylight, so three tens"
    for n, m in enumerate(found):
        later = [value for w in motion.words[m.end :] if (value := number(w)) is not None]
        if m.said and m.count and len(later) > 1 and m.count == sum(later):
            return [
                k for k in found if k in found[: n + 1] or k.kind not in (None, m.kind) or k.size != m.size
            ]
    return found


def _mend(motion: Motion, found: list[Mention]) -> None:
    """*Four tens hold the frame no five*: a number said anew replaces the one before it."""
    if _ANEW.isdisjoint(motion.words):
        return
    spans = [(m.start, m.end) for m in found]
    for i in range(1, len(motion.words) - 1):
        anew = motion.words[i : i + 2] in (("make", "that"), ("make", "it"), ("no", "all"))
        if motion.words[i] not in ("no", "sorry") and not anew:
            continue
        at = i + 2 if anew else i + 1
        value = number(motion.word(at))
        if value is None or at in motion.nouns:
            continue
        last = next((m for m in reversed(found) if m.end <= i and not m.bare and m.said), None)
        plain = anew or motion.after(at) in ("there", "of", "")
        if last and plain and not any(a <= at < b for a, b in spans):
            last.count = value


def _named(line: Line, motion: Motion, f: Fastener) -> Mention:
    words = line.tokens
    before = words[max(0, f.at[0] - 3) : f.at[0]]
    count = f.count
    said = f.count is not None and f.count_said
    if count and said:
        count *= _sides(words, f.at[1])
    elif not said and count is None and (a_side := number(" ".join(words[f.at[1] : f.at[1] + 1]))):
        sides = _sides(words, f.at[1] + 1)  # "t thirties, three a side"
        count, said = (a_side * sides, True) if sides > 1 else (count, said)
    before_each = words[f.at[1] : f.at[1] + 2]
    if (
        count == 1
        and not said
        and before_each[:1] in (("each",), ("either",))
        and before_each[1:] != ("other",)
    ):
        count = _sides(words, f.at[1])  # "thirteen mil bolt each side of the bracket"
        said = count > 1
    bare_count = f.rule == "size.all"
    every = before[-1:] == ("every",)  # "forty eight on every thirteen"
    if every:
        count, said = None, False
    return Mention(
        f.at[0],
        f.at[1],
        None if bare_count else f.kind,
        f.size,
        f.drive,
        count,
        said,
        _names_several(words, f) or (count or 0) > 1 or every,
        f.new or _new(line, motion, f) or motion.never_was(f.at[1]) or _from_stock(motion, f),
        not _DEFINITE.isdisjoint(before[-2:] + words[f.at[0] : f.at[0] + 1]),
        (f.kind_said and not f.rule.startswith("size.")) or words[f.at[1] : f.at[1] + 1] == ("heads",),
        place(line, motion, f.at[0], f.at[1]),
        not _W["count.rest"].isdisjoint(before[-2:] + words[f.at[0] : f.at[1]]),
        again=_anew(words, f.at[0], f.at[1]),
        another=not _W["count.ordinals"].isdisjoint(before[-1:] + words[f.at[0] : f.at[1]]),
        each=words[f.at[1] : f.at[1] + 1] in (("each",), ("apiece",)) and count == 1,
        same_size=("same", "size")
        in (words[f.at[1] : f.at[1] + 2], words[f.at[1] + 1 : f.at[1] + 3], tuple(before[-2:])),
        names=frozenset(w for w in words[max(0, f.at[0] - 1) : f.at[1] - 1] if w in _W["count.names"]),
        of=_of(line, f),
    )


def _of(line: Line, f: Fastener) -> frozenset[str]:
    """What the noun says that it belongs to: *spindle nut*, *lug nuts*, *axle nut*."""
    own = {w for w in line.tokens[f.at[0] : f.at[1] - 1] if w in _W["count.owners"]}
    own |= {w.removesuffix("s") for w in line.tokens[f.at[0] : f.at[1]] if w in _W["count.own_names"]}
    before = next((c.name for c in line.components if c.at[1] == f.at[0]), "")
    return frozenset(own or ({before} if before and f.count in (None, 1) and f.size is None else ()))


def _anew(words: tuple[str, ...], start: int, end: int) -> bool:
    """*The same two bolts*, *bolts out again*, *nine bolts out once more*."""
    after = words[end : end + 4]
    once_more = any(after[i : i + 2] == ("once", "more") for i in range(3))
    return once_more or not {"again", "same"}.isdisjoint(words[max(0, start - 2) : end + 2])


def _names_several(words: tuple[str, ...], f: Fastener) -> bool:
    """Whether a name is in the plural; the *sixteenths* of *a fifteen sixteenths nut* are no nuts."""
    inches = f.kind_said and f.size is not None and f.size.unit == "in"
    return any(_plural(w) for w in words[f.at[0] : f.at[1]] if not (inches and w in _PARTS))


def _plural(word: str) -> bool:
    """Whether a word of a fastener's name stands for several (*nuts*, *thirteens*)."""
    return word.endswith("s") and not word.endswith("ss") and word not in _W["count.no_plural"]


def _new(line: Line, motion: Motion, f: Fastener) -> bool:
    """Whether *new* belongs to the fastener, not to a part named before it (*new gasket eight bolts*)."""
    own, words = line.tokens[slice(*f.at)], line.tokens[f.at[1] : f.at[1] + 2]
    if not _W["new.words"].isdisjoint(own) or words in (("'s", "new"), ("is", "new")):
        return True
    for i in range(f.at[0] - 1, max(-1, f.at[0] - 4), -1):
        if i + 1 in motion.breaks or i in motion.nouns:
            return False
        if line.tokens[i] in _W["new.words"]:
            return True
        if number(line.tokens[i]) is None and line.tokens[i] not in ("mil", "mm", "inch"):
            return False
    return False


def _from_stock(motion: Motion, f: Fastener) -> bool:
    """*Found a cotter in the van*: none of those that came off."""
    lead = f.at[0] - (motion.word(f.at[0] - 1) in ("a", "another"))
    found = motion.word(lead - 1) in _W["new.found"]
    return found and motion.is_source(f.at[1])


def _sides(words: tuple[str, ...], end: int) -> int:
    """*two bolts each side*: how often the count is meant."""
    for i in range(end, min(end + 4, len(words) - 1)):
        shared = number(words[i - 1]) is not None or number(words[i - 2]) is not None
        if i > end and shared and words[i] == "each":
            return 1  # "two bolts, one each side", "one at each end"
        if words[i] in _W["count.each_before"] and words[i + 1] in ledger_words().each:
            return ledger_words().each[words[i + 1]]
    sides = any(words[i] == "both" and words[i + 1] in ("sides", "ends") for i in range(len(words) - 1))
    return 2 if sides and words[end : end + 1] in (("each",), ("apiece",)) else 1


def _pronoun(motion: Motion) -> Mention | None:
    """*spin them out by hand*, *out they come*: no count, but what was spoken of last moves."""
    for i, word in enumerate(motion.words):
        if word not in _W["count.pronouns"] or i in motion.nouns:
            continue
        off, on = motion.weigh(i, i + 1)
        if max(off, on) >= 1.4:
            return Mention(i, i + 1, count=EVERY, plural=True, definite=True, pronoun=True)
    return None


def _of_parts(motion: Motion, m: Mention, after: Mention | None) -> bool:
    """*The two of them on with four clips*: a count of parts, which the fasteners hold."""
    if not m.bare or after is None or after.bare:
        return False
    between = motion.words[m.end : after.start]
    return len(between) <= 3 and between[-1:] == ("with",)
