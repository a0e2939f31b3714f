"""Counts that stand for fasteners named before: *three back*, *all five*, *nine of 'em*, *the other two*."""

from __future__ import annotations

from narrator.job.chains import covers
from narrator.job.fitting import fitting
from narrator.job.ledger_words import ledger_words, number
from narrator.job.line import Line
from narrator.job.mention import EVERY, Mention, place
from narrator.job.motion import Motion
from narrator.job.repeats import more_of_the_same
from narrator.values import Measurement

_W = ledger_words()
_FOLLOW = _W["count.follow"] | {""}
_MOVED = _W["count.moved"]
_OWNER = 4
"""So many words before a count that fits stands the part that it holds (*starter returns with its two*)."""
_ALL = frozenset(("both", "all"))
_WHOSE = frozenset(("the", "its", "his", "her", "their", "my"))
_ANOTHER = frozenset(("one", "the", "that", "last", "other"))
"""*Three of the four, one's stripped*: where the number of those that are told ends without a pause."""
_IS = frozenset(("'s", "is", "was", "has", "won't", "one", "one's", "last", "other", "of"))
_PARTICLES = frozenset(("back", "out", "off", "in", "on"))
_ABOUT = frozenset(("so", "about", "roughly", "maybe", "around", "say", "be", "probably"))
_SIDED = frozenset(("right", "left", "wrong"))


def counts(line: Line, motion: Motion) -> list[Mention]:
    """*three back*, *all five*, *both out*, *nine of 'em*, *the other two*, *all of them*."""
    if not any(map(number, line.tokens)) and _ALL.isdisjoint(line.tokens):
        return []
    starts = [i for i, word in enumerate(line.tokens) if number(word) or word in _ALL]
    entities = [e for e in line.understood.entities if not (isinstance(e, Measurement) and not e.unit_said)]
    found: list[Mention] = []
    fits = fitting(line, motion, line.understood.entities)
    long = {i for m in fits for i in range(m.start, m.end) if m.end > m.start + 1}  # "eleven long ones"
    for i in starts:
        if i in long or (found and i < found[-1].end) or covers(entities, i):
            continue
        made = _count_at(line, motion, i)
        if made is None or any(covers(entities, k) for k in range(made.start, made.end)):
            continue
        made.place = place(line, motion, made.start, made.end)
        found.append(made)
    for m in fits:
        if not any(k.start < m.end and m.start < k.end for k in found):
            held = [c for c in line.components if m.start - _OWNER <= c.at[1] <= m.start]
            m.place = held[-1].name if held else place(line, motion, m.start, m.end)
            found.append(m)
    return found


def _count_at(line: Line, motion: Motion, i: int) -> Mention | None:
    value, before = number(motion.word(i)), motion.before(i)
    if value and (end := more_of_the_same(motion.words, i)):
        return Mention(i, end, count=value, said=True, plural=value > 1, alike=True)
    if motion.word(i) in _ALL:
        return _all_at(motion, i)
    if value is None or (before == "all" and motion.before(i - 1) in ("in", "on", "of")):
        return None  # "beeps on all three"
    if motion.words[i + 1 : i + 3] == ("out", "of") and motion.word(i + 3) in _WHOSE and value:
        total = number(motion.word(i + 4)) or 0  # "five out of the ten"
        return (
            Mention(i, i + 5, count=value, said=True, plural=True, definite=True) if total > value else None
        )
    if (
        motion.word(i + 1) == "of" and motion.word(i + 2) in _WHOSE
    ):  # "only eight of the ten", "three of its four"
        total = number(motion.word(i + 3)) or 0
        another = value < total and motion.after(i + 3) in _ANOTHER and motion.word(i + 5) in _IS
        counted = total > 0 and (motion.after(i + 3) in _FOLLOW or another)
        return Mention(i, i + 4, count=value, said=True, plural=True, definite=True) if counted else None
    named = value == 1 and (before in _W["count.names"] or before in _W["count.ordinals"])
    if value == 1 and not named and motion.after(i) != "more" and before not in _W["count.rest"]:
        return None
    if motion.after(i) == "finger" and motion.after(i + 1) != "tight":
        return None  # "with two fingers she stops"
    if named and motion.word(i + 1) and before in _SIDED:
        return None  # "tape on the right one"
    placed = before in _W["portion.places"] and motion.after(i) in _PARTICLES and value > 1
    lead = named or placed or before in _W["count.before"]
    rest = named or before in _W["count.rest"]
    if _of_them(motion, i):
        place_before = before in ("on", "in", "to", "into", "of")
        made = Mention(i, i + 3, count=value, said=True, plural=value > 1, definite=lead, rest=rest)
        return None if place_before else made
    the_last = (
        value == 1
        and before in _W["count.rest"]
        and motion.before(i - 1) == "the"
        and (motion.before(i - 2) == "then" or motion.after(i) in _FOLLOW)
    )  # "and then the last one that hid"; not "the other one flew off"
    if motion.after(i) != "more" and not the_last and not _counts_alone(line, motion, i, lead):
        return None
    if motion.after(i) == "more" and motion.word(i + 2) in _W["count.no_fastener"]:
        return None  # "one more thing"
    if motion.after(i) == "more" and line.does("step"):  # "with the seven and one more out of the jar"
        new = motion.says_on() or not motion.says_off()  # else "old pump comes off, two more behind"
        return Mention(i, i + 2, count=value, said=True, plural=value > 1, new=new)
    another = named and before in _W["count.ordinals"]
    return Mention(
        i, i + 1, count=value, said=True, plural=value > 1, definite=lead, rest=rest, another=another
    )


def _of_them(motion: Motion, i: int) -> bool:
    """*nine of 'em* from token ``i``."""
    of_them = motion.words[i + 1 : i + 3] if i + 1 not in motion.breaks else ()
    return len(of_them) == 2 and of_them[0] == "of" and of_them[1] in _W["count.them"]


def _all_at(motion: Motion, i: int) -> Mention | None:
    """*both out*, *all of them*, *all off*."""
    word, before, after, them = motion.word(i), motion.before(i), motion.after(i), _of_them(motion, i)
    if before in ("in", "into") or (them and before == "on"):
        return None
    end = i + (3 if them else 1)
    if word == "both" and (them or after in _FOLLOW):
        return Mention(i, end, count=2, said=True, plural=True, definite=True)
    if word == "all" and (them or (after in ("out", "back", "in", "off") and before not in ("it", "'s"))):
        return Mention(i, end, count=EVERY, plural=True, definite=True)
    return None


def _counts_alone(line: Line, motion: Motion, i: int, lead: bool) -> bool:
    """Whether the number at ``i`` stands for fasteners by itself: *three back*, *wheel, four, 115*."""
    before, after = motion.before(i), motion.after(i)
    clause = i in motion.breaks or i == 0 or (before == "'s" and motion.before(i - 1) in ("that", "there"))
    now = after == "for" and motion.words[i + 2 : i + 4] in (("now",), ("now", "rest"), ("now", "the"))
    if clause and (now or (after == "for" and motion.after(i + 1) == "now")):
        return True  # "cowl back, four for now"
    if before == "side" and after in _PARTICLES:
        return True  # "right side five back"
    if after not in _FOLLOW or not (lead or clause or before in ("and", "but", "with", "so")):
        return False
    named = [f for f in motion.fasteners if f.at[1] <= i]
    lead_in = motion.before(i - 1) if before == "a" else before
    if lead_in in _ABOUT and not after and named and named[-1].count is None:
        return True  # "hose clips off, two each end so four", "new ties, about ten"
    if after in _MOVED:
        return True
    if before == "with":  # "plate up with five and i'm leaving one off"
        return True
    between_breaks = clause and (i + 1 in motion.breaks or i + 1 == len(motion.words))
    if between_breaks and i:
        return _part_before(line, i)
    with_the = before in ("the", "my") and motion.before(i - 1) in ("with", "and")  # "tray up with the seven"
    return lead and (with_the or before not in ("the", "my")) and not between_breaks


def _part_before(line: Line, i: int) -> bool:
    return any(e.at[1] in (i, i - 1) for e in line.components)
