"""Fasteners that a line only speaks of: turned where they sit, missing, wanted, in the way of something."""

from __future__ import annotations

from itertools import pairwise

from narrator.job.certain import is_quiet, surely_off, surely_on
from narrator.job.groups import Group, elsewhere
from narrator.job.ledger_words import ledger_words
from narrator.job.lost import lost
from narrator.job.mention import Mention
from narrator.job.motion import Motion
from narrator.job.refits import goes_back
from narrator.job.trouble import is_spoilt
from narrator.values import Price

_W = ledger_words()
CLEAR = 1.2
"""Evidence of motion that needs no support from what the ledger holds."""
_MAY = 0.7
_SIGNED = 0.85
"""Evidence of one sign of a refit right beside (*finger snug*, a torque)."""
CLAUSE = 8
"""So many words before a mention may belong to its clause where nothing was heard to end it."""
_SUPPLIED = (("came", "with"), ("comes", "with"), ("supplied", "with"), ("come", "with"))
_AROUND = frozenset(("round", "around"))


def is_no_event(motion: Motion, m: Mention, held: list[Group]) -> bool:
    """Only turned, missing, broken, or spoken of; ``held`` are the groups off that it may mean."""
    off, on = motion.weigh(m.start, m.end, network=False)
    if _is_untouched(motion, m) or _is_not_found(motion, m):
        return True
    if m.new and motion.words[m.end : m.end + 2] in _SUPPLIED:
        return True  # "new nut came with it"
    if lost(motion, m) or is_spoilt(motion, m, held):
        return True
    if m.kind == "tie":
        return motion.is_denied(m.start, m.end)
    if _surely_goes_on(motion, m) or _surely_comes_off(motion, m, held):
        return False
    if held and (motion.is_laid_aside(m.end) or _is_one_in_trouble(motion, m)):
        return True
    along = not _W["never.along"].isdisjoint(motion.words[max(0, m.start - 3) : m.start])
    if _is_only_told_of(motion, m, max(off, on), held) or (m.kind == "stud" and (along or _spins(motion, m))):
        return True  # "slides off the studs", "carburettor on the two studs", "spinning with the stud"
    if (
        _is_verb(motion, m)
        or _is_reason(motion, m)
        or (_is_part_turn(motion, m) and off < CLEAR and on < _MAY)
    ):
        return True
    if motion.is_denied(m.start, m.end) or (
        not m.said
        and not m.bare
        and not (held and (m.size or on >= _SIGNED))  # "drum on the nut finger snug"
        and _is_place(motion, m)
        and off < CLEAR
    ):
        return True
    listed = set(motion.words[m.end : m.end + CLAUSE]) & _W["never.listed"]
    if listed and ("in", "that") not in pairwise(motion.words[m.end :]) and max(off, on) < CLEAR:
        return True
    if (_lies(motion, m) and max(off, on) < CLEAR) or (max(off, on) <= 0 and is_quiet(motion, m, held)):
        return True
    return _is_only_spoken_of(motion, m, held, off, on)


def _is_only_spoken_of(motion: Motion, m: Mention, held: list[Group], off: float, on: float) -> bool:
    """Wanted, turned where it sits, not found, or what something else is told by."""
    if motion.words[max(0, m.start - 2) : m.start] == ("instead", "of") or on_condition(motion, m):
        return True
    if (
        motion.near(m.start, m.end, _W["turn.loosen"], 7)
        and not (m.said and (_could_be_turned(motion, m) or _comes_loose(motion)))
        and not _by_hand(motion)
        and off < _MAY + 0.2
        and not m.new
    ):
        return True
    if motion.near(m.start, m.end, _W["never.find"]) and motion.near(m.start, m.end, _W["never.negation"]):
        return True
    told_of = motion.word(m.end) in ("which", "that") or (m.said and goes_back(motion.line))
    tight = motion.near(m.start, m.end, _W["turn.tighten"]) and not told_of  # "two bolts which pinch it"
    if tight and not _one_of(held, m) and off < CLEAR and not m.new:
        return True
    before = set(motion.words[max(0, m.start - 4) : m.start])
    if not m.said and before & {"that", "those", "where"} and max(off, on) <= 0:
        return True
    lone = m.count in (None, 1) and not m.new
    if lone and motion.word(m.end) == "'s" and motion.word(m.end + 1) in ("gone", *_W["never.gone"]):
        return True
    return lone and motion.near(m.start, m.end, _W["never.gone"], 2, 2) and max(off, on) < CLEAR


def _surely_goes_on(motion: Motion, m: Mention) -> bool:
    """Whether the network has no doubt that it goes on; things sit on studs, and it may be mistaken there."""
    return (
        surely_on(motion, m) and m.kind != "stud" and motion.line.does("step") and not _is_reason(motion, m)
    )


def _surely_comes_off(motion: Motion, m: Mention, held: list[Group]) -> bool:
    """Whether the network has no doubt that some told by number or size come off: *has one ten in it*."""
    told = (m.said or m.size is not None) and not m.bare and m.kind != "stud"
    if not told or not motion.line.does("step") or not surely_off(motion, m):
        return False
    loose = motion.near(m.start, m.end, _W["turn.loose"], 7, 7)
    spoken = loose or _is_reason(motion, m) or motion.is_denied(m.start, m.end)
    return not spoken and not _is_only_told_of(motion, m, 0.0, held)


def _is_reason(motion: Motion, m: Mention) -> bool:
    """*Two nuts, because the third one went down the drain*: told to say why they are fewer."""
    low = motion.line.since_break(m.start, CLAUSE // 2)
    few = m.count in (None, 1) and not m.plural and not m.new
    return few and not _W["never.reasons"].isdisjoint(motion.words[low : m.start])


def _is_one_in_trouble(motion: Motion, m: Mention) -> bool:
    """*One of the screws just spins so i cut its head off*: of those that were entered as off."""
    after = motion.words[m.end : m.end + 2 * CLAUSE]
    trouble = _W["portion.stuck"] | _W["portion.broken"]
    return m.count == 1 and "of" in motion.words[m.start : m.end] and not trouble.isdisjoint(after)


def _is_untouched(motion: Motion, m: Mention) -> bool:
    """*The cover's got ten thirteens, didn't touch them*."""
    after = motion.words[m.end :]
    touch = [
        i for i, word in enumerate(after) if word in ("touch", "touched", "touching", "disturb", "disturbed")
    ]
    return any(not _W["never.negation"].isdisjoint(after[max(0, i - 2) : i]) for i in touch)


def _is_not_found(motion: Motion, m: Mention) -> bool:
    """*There was a washer behind it and i can't find it*."""
    there = motion.words[max(0, m.start - 2) : m.start] in (("there", "was"), ("there", "were"))
    after = motion.words[m.end :]
    missed = any(a in _W["never.negation"] and b == "find" for a, b in pairwise(after))
    return (there or motion.word(m.start - 2) == "there") and missed


def _spins(motion: Motion, m: Mention) -> bool:
    """*The nut's spinning with the stud*: both stay where they are."""
    turning = motion.words[max(0, m.start - 3) : m.start - 1]
    return "with" in turning and not _W["turn.spins"].isdisjoint(turning)


def _is_verb(motion: Motion, m: Mention) -> bool:
    """*New rack end screw in till it stops*: what is done with it."""
    alone = motion.words[m.start : m.end] == ("screw",) and not m.definite
    begins = m.start in motion.breaks and m.end + 1 in motion.breaks  # "new disc, screw in, carrier on"
    follows = motion.word(m.end) in ("in", "into", "onto", "on", "down")
    return alone and follows and not m.new and not begins


def _is_only_told_of(motion: Motion, m: Mention, moved: float, held: list[Group]) -> bool:
    """*It should have three nuts and has two*, *three nuts at 3.20*, *wrench round the six bolts*."""
    before = motion.words[max(0, m.start - 3) : m.start]
    if not _W["never.ought"].isdisjoint(before) and any(f.at[0] > m.end for f in motion.fasteners):
        return True
    priced = is_priced(motion) and moved < CLEAR
    return priced or (not _AROUND.isdisjoint(before[-2:]) and not held)


def is_priced(motion: Motion) -> bool:
    """Whether a line tells a price, one taken for fasteners aside (*one ten each*)."""
    sized = [f.at for f in motion.fasteners]
    return any(not any(a < p.at[1] and p.at[0] < b for a, b in sized) for p in motion.line.entities(Price))


def _is_part_turn(motion: Motion, m: Mention) -> bool:
    """*Backed it off a quarter turn*, *the nut on the latch a flat tighter*: turned where it sits."""
    after = motion.words[m.end : m.end + 2 * CLAUSE]
    part = any(a in _W["turn.part"] and b in _W["turn.whole"] for a, b in pairwise(after))
    part = part and ("at", "a") not in pairwise(after)  # "a turn at a time"
    return part and not m.new


def _could_be_turned(motion: Motion, m: Mention) -> bool:
    """*Two plastic nuts you'd turn with your fingers*: told of what they are like."""
    after = motion.words[m.end : m.end + 4]
    return any(a in ("'d", "can", "could") and b in _W["turn.loosen"] for a, b in pairwise(after))


def _comes_loose(motion: Motion) -> bool:
    """*The lines come loose at two flare nuts*: so they come off."""
    return any(a in _W["off.come"] and b == "loose" for a, b in pairwise(motion.words))


def _lies(motion: Motion, m: Mention) -> bool:
    """*The cup has a seven mil screw in it yet*, *one washer lies on the bench and looks at me*."""
    kept = motion.words[m.end : m.end + 2] in (("in", "it"), ("in", "there"), ("in", "them"), ("in", "here"))
    had = not {"has", "'s", "is", "got", "had"}.isdisjoint(motion.words[max(0, m.start - 3) : m.start])
    return (kept and had) or (m.count in (None, 1) and motion.word(m.end) in _W["never.lies"])


def _one_of(held: list[Group], m: Mention) -> bool:
    """Whether a fastener that is tightened may be off: *the lower bracket bolt* is none of the lid's."""
    lone = not m.plural and not m.bare and m.count in (None, 1) and m.size is None
    return any(not lone or g.off == 1 or not elsewhere(g, m.place) for g in held)


def _by_hand(motion: Motion) -> bool:
    """*Two wing bolts, turn them by hand*: so they come out."""
    return ("by", "hand") in pairwise(motion.words)


def on_condition(motion: Motion, m: Mention) -> bool:
    """*If the screw falls out of there*, *it needs a new thread and one bolt*, *it never had a clip*."""
    if ("never", "had") in pairwise(motion.words[max(0, m.start - 3) : m.start]):
        return True
    if motion.word(m.end) in ("wanted", "needed", "wants") or _was(motion, m):
        return True
    low = motion.line.since_break(m.start, CLAUSE)
    if not _W["never.wanted"].isdisjoint(motion.words[low : m.start]):
        return max(motion.weigh(m.start, m.end)) < CLEAR
    return "if" in motion.words[low : m.start] and motion.words[low : m.start][-2:-1] != ("as",)


def _was(motion: Motion, m: Mention) -> bool:
    """*Where its clip used to be*, *no screws left in it*: not there."""
    none = motion.before(m.start) == "no" and not m.said and m.size is None
    return none or motion.words[m.end : m.end + 2] == ("used", "to")


def _is_place(motion: Motion, m: Mention) -> bool:
    """*down in the clamps*, *under the clip*."""
    return (
        motion.word(m.start - 1) in ("the", "its", "that", "this")
        and motion.word(m.start - 2) in _W["never.places"]
    )
