"""Where a line speaks of fasteners: named ones, and counts or pronouns that stand for ones named before."""

from __future__ import annotations

from dataclasses import dataclass

from narrator.job.ledger_words import ledger_words, number
from narrator.job.line import Line
from narrator.job.motion import Motion, covers
from narrator.values import Component, Fastener, Measurement, Size

_W = ledger_words()
_EVERY = -1
"""A count that stands for all of a group (*all of them*, *the lot*)."""


@dataclass(slots=True)
class Mention:
    """Fasteners as one line speaks of them; ``bare`` when only a count or pronoun does (``kind`` is None)."""

    start: int
    end: int
    kind: str | None = None
    size: Size | None = None
    drive: str | None = None
    count: int | None = None
    said: bool = False
    plural: bool = False
    new: bool = False
    definite: bool = False
    kind_said: bool = True
    place: str | None = None
    rest: bool = False
    pronoun: bool = False
    again: bool = False
    names: frozenset[str] = frozenset()
    """Words said with the noun that tell one from another (*centre nut*, *top two bolts*)."""

    @property
    def bare(self) -> bool:
        """Whether no fastener is named."""
        return self.kind is None

    @property
    def every(self) -> bool:
        """Whether all of a group are meant."""
        return self.count == _EVERY


def mentions(line: Line, motion: Motion) -> list[Mention]:
    """Every mention of the line, in order."""
    found = [_named(line, motion, f) for f in line.entities(Fastener)]
    found += _counts(line, motion)
    found.sort(key=lambda m: m.start)
    found = _summed(motion, found)
    _mend(motion, found)
    if not found and (pronoun := _pronoun(motion)):
        found.append(pronoun)
    return found


def _summed(motion: Motion, found: list[Mention]) -> list[Mention]:
    """*Five nuts per wheel so twenty nuts in total*: the total stands for the number before it."""
    kept: list[Mention] = []
    for m in found:
        last = kept[-1] if kept else None
        total = not _W["count.total"].isdisjoint(motion.words[m.end : m.end + 2])
        if total and last and last.kind == m.kind and m.said:
            last.count = m.count
        else:
            kept.append(m)
    return kept


def _mend(motion: Motion, found: list[Mention]) -> None:
    """*Four tens hold the frame no five*: a number said anew replaces the one before it."""
    spans = [(m.start, m.end) for m in found]
    for i in range(1, len(motion.words) - 1):
        value = number(motion.words[i + 1])
        if motion.words[i] not in ("no", "sorry") or value is None or i + 1 in motion.nouns:
            continue
        last = next((m for m in reversed(found) if m.end <= i and not m.bare and m.said), None)
        if last and motion.after(i + 1) in _W["again.mended"] and not any(a <= i + 1 < b for a, b in spans):
            last.count = value


def _named(line: Line, motion: Motion, f: Fastener) -> Mention:
    words = line.tokens
    before = words[max(0, f.at[0] - 3) : f.at[0]]
    last = words[f.at[1] - 1]
    count = f.count
    said = f.count is not None and f.count_said
    if count and said:
        count *= _sides(words, f.at[1])
    bare_count = f.rule == "size.all"
    return Mention(
        f.at[0],
        f.at[1],
        None if bare_count else f.kind,
        f.size,
        f.drive,
        count,
        said,
        last.endswith("s") or (count or 0) > 1,
        f.new or _new(line, motion, f),
        bool(
            {"the", "those", "these", "both", "all", "same", "its", "other"}
            & set(before[-2:] + words[f.at[0] : f.at[0] + 1])
        ),
        f.kind_said and not f.rule.startswith("size."),
        place(line, motion, f.at[0], f.at[1]),
        bool(_W["count.rest"] & set(before[-2:] + words[f.at[0] : f.at[1]])),
        again=bool({"again", "same"} & set(before[-2:] + words[f.at[0] : f.at[1] + 2])),
        names=frozenset(w for w in words[max(0, f.at[0] - 1) : f.at[1] - 1] if w in _W["count.names"]),
    )


def _new(line: Line, motion: Motion, f: Fastener) -> bool:
    """Whether *new* belongs to the fastener, not to a part named before it (*new gasket eight bolts*)."""
    words = line.tokens[f.at[1] : f.at[1] + 2]
    if _W["new.words"] & set(line.tokens[f.at[0] : f.at[1]]) or words in (("'s", "new"), ("is", "new")):
        return True
    for i in range(f.at[0] - 1, max(-1, f.at[0] - 4), -1):
        if i + 1 in motion.breaks or i in motion.nouns:
            return False
        if line.tokens[i] in _W["new.words"]:
            return True
        if number(line.tokens[i]) is None and line.tokens[i] not in ("mil", "mm", "inch"):
            return False
    return False


def _sides(words: tuple[str, ...], end: int) -> int:
    """*two bolts each side*: how often the count is meant."""
    for i in range(end, min(end + 4, len(words) - 1)):
        if words[i] in _W["count.each_before"] and words[i + 1] in ledger_words().each:
            return ledger_words().each[words[i + 1]]
    return 1


def _counts(line: Line, motion: Motion) -> list[Mention]:
    """*three back*, *all five*, *both out*, *nine of 'em*, *the other two*, *all of them*."""
    entities = [e for e in line.understood.entities if not (isinstance(e, Measurement) and not e.unit_said)]
    words, found = line.tokens, []
    i = 0
    while i < len(words):
        if covers(entities, i) or (made := _count_at(line, motion, i)) is None:
            i += 1
            continue
        if any(covers(entities, k) for k in range(made.start, made.end)):
            i += 1
            continue
        made.place = place(line, motion, made.start, made.end)
        found.append(made)
        i = made.end
    return found


def _count_at(line: Line, motion: Motion, i: int) -> Mention | None:
    word, before, after = motion.word(i), motion.before(i), motion.after(i)
    of_them = motion.words[i + 1 : i + 3] if i + 1 not in motion.breaks else ()
    them = len(of_them) == 2 and of_them[0] == "of" and of_them[1] in _W["count.them"]
    if (word in ("both", "all") and before in ("in", "into")) or (
        word in ("both", "all") and them and before == "on"
    ):
        return None
    if word == "both" and (them or not after or after in _W["count.follow"]):
        return Mention(i, i + (3 if them else 1), count=2, said=True, plural=True, definite=True)
    if word == "all" and (them or (after in ("out", "back", "in", "off") and before not in ("it", "'s"))):
        return Mention(i, i + (3 if them else 1), count=_EVERY, plural=True, definite=True)
    if word == "lot" and before in ("the", "whole"):
        return None
    value = number(word)
    if value is None:
        return None
    if them and before in ("on", "in", "to", "into", "of"):
        return None
    if value == 1 and before not in ("last", "other", "final", "remaining"):
        return None
    lead = before in _W["count.before"]
    clause = i in motion.breaks or i == 0
    if them:
        return Mention(
            i, i + 3, count=value, said=True, plural=value > 1, definite=lead, rest=before in _W["count.rest"]
        )
    if not (not after or after in _W["count.follow"]) or not (lead or clause or before in ("and", "but", "")):
        return None
    moved = after in (
        "back",
        "out",
        "off",
        "in",
        "on",
        "went",
        "goes",
        "go",
        "come",
        "came",
        "are",
        "is",
        "'s",
        "up",
    )
    torque = clause and (i + 1 in motion.breaks) and motion.words[i - 1 : i] != ()
    if not (moved or (lead and before not in ("the", "my")) or torque):
        return None
    if clause and torque and not moved and not (i and _part_before(line, i)):
        return None
    rest = before in _W["count.rest"]
    return Mention(i, i + 1, count=value, said=True, plural=value > 1, definite=lead, rest=rest)


def _part_before(line: Line, i: int) -> bool:
    return any(e.at[1] in (i, i - 1) for e in line.components)


def _pronoun(motion: Motion) -> Mention | None:
    """*spin them out by hand*, *out they come*: no count, but what was spoken of last moves."""
    for i, word in enumerate(motion.words):
        if word not in _W["count.pronouns"] or i in motion.nouns:
            continue
        off, on = motion.weigh(i, i + 1)
        if max(off, on) >= 1.4:
            return Mention(i, i + 1, count=_EVERY, plural=True, definite=True, pronoun=True)
    return None


def place(line: Line, motion: Motion, start: int, end: int) -> str | None:
    """The component that a mention belongs to: the nearest, one after it rather than one before it."""

    def cost(c: Component) -> float:
        """Distance in words; a comma or another fastener between them counts as several."""
        ahead = c.at[0] >= end
        gap = c.at[0] - end if ahead else 1.5 + start - c.at[1]
        low, high = min(start, c.at[0]), max(end, c.at[1])
        between = range(end, c.at[0] + 1) if ahead else range(c.at[1], start + 1)
        breaks = sum(1 for b in motion.breaks if b in between)
        others = sum(1 for f in motion.fasteners if f.at[0] != start and low <= f.at[0] < high)
        return gap + (3.5 if ahead else 1.5) * breaks + 3.0 * others

    nearest = min(line.components, key=cost, default=None)
    return nearest.name if nearest else None
