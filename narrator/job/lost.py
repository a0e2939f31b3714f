"""Fasteners spoken of because they are gone: *one screw went over the side*, *the washer rolled off*."""

from __future__ import annotations

from narrator.job.ledger_words import ledger_words
from narrator.job.mention import Mention
from narrator.job.motion import Motion

_W = ledger_words()
_OWES = frozenset(("owes", "owe", "owed", "need", "needs", "wants", "get", "buy", "fetch", "order"))
_FILLED = frozenset(
    ("bit", "piece", "length", "loop", "nail", "wire", "string", "twine", "tie", "ties", "tape")
)
_GOES_ON = 0.5


def lost(motion: Motion, m: Mention) -> bool:
    """Whether a single one, where others go back, is only told to be gone, missed or stood in for."""
    if (m.count or 1) > 1 or m.plural or m.new or m.bare:
        return False
    if m.kind == "tie" and "where" in motion.words[m.end : m.end + 4]:
        return True  # "and a cable tie where that clip was": it only stands in for another
    if _is_stood_in_for(motion, m) or _is_wished_for(motion, m):
        return True
    return _goes_on(motion, m) and _is_gone(motion, m)


def _goes_on(motion: Motion, m: Mention) -> bool:
    """Whether the line puts fasteners back, by the network's word or by its own words."""
    seen = motion.line.moves(m.start, m.end)
    if seen is not None and max(seen) >= _GOES_ON:
        return seen[1] > seen[0]
    return motion.says_on() and not motion.says_off()


def _is_gone(motion: Motion, m: Mention) -> bool:
    """*Went over the side*, *has gone to the river*, *'s in the bin* right after it."""
    i = m.end
    while motion.word(i) in _W["gone.before"]:
        i += 1
    if i in motion.breaks or motion.word(i) in _W["gone.not_after"]:
        return False
    if motion.word(i) in _W["gone.verbs"]:
        return (
            motion.word(i + 1) not in ("back", "home", "in", "on")
            or motion.word(i + 2) in _W["gone.places_of"]
        )
    held = motion.word(i - 1) in ("is", "'s", "was") and motion.word(i) in (
        "in",
        "under",
        "down",
        "somewhere",
    )
    return held and not _W["gone.places"].isdisjoint(motion.words[i : i + 4])


def _is_stood_in_for(motion: Motion, m: Mention) -> bool:
    """*A bit of wire for the clip*, *a nail where the pin was*, *without the washer*."""
    before = motion.words[max(0, m.start - 3) : m.start]
    if before[-2:] == ("without", "the") or before[-1:] == ("without",):
        return True
    if before[-2:] == ("for", "the") and m.size is None:
        return not _FILLED.isdisjoint(motion.words[max(0, m.start - 8) : m.start - 2])
    return before[-2:] == ("where", "the") and motion.word(m.end) in ("was", "used", "should", "goes", "went")


def _is_wished_for(motion: Motion, m: Mention) -> bool:
    """*Owes me one clip*, *get a clip from the shop*: at the beginning of a line with no motion."""
    first = motion.word(0)
    if first not in _OWES or motion.evidence or m.start > 6:
        return False
    return first not in ("get",) or motion.word(m.end) in ("from", "for", "")
