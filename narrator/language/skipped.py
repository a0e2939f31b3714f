"""Numbers without a unit that are no values: clock times, dates, counts of things, parts of sayings."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise

from narrator.language.context import (
    CONTEXTS,
    FOLLOW,
    LENGTH,
    LIMITS,
    NAMED,
    ONE,
    SKIP_AFTER,
    SKIP_BEFORE,
    STIRS,
    STUCK,
)
from narrator.language.leftover import unsaid, word_at
from narrator.language.numberwords import RULE_OF, STARTERS
from narrator.language.pieces import Piece
from narrator.language.tokens import Notes
from narrator.values import Fastener, Measurement

_RIM = frozenset(("play", "rock", "rocks", "rocking", "wheel", "o'clock", "clock"))
_TIME = re.compile(r"\d:\d\d(?!\d)")
_ROCK = frozenset(("rock", "rocks", "rocking", "rocked", "o'clock", "clock"))
_TELLS = frozenset(("is", "'s", "reads", "gives", "shows", "says"))
_FAILS = frozenset(("don't", "doesn't", "didn't", "won't", "isn't"))
_MOVED = frozenset(("off", "on", "out", "in", "back"))
_REACHED = frozenset(("which", "it", "they", "we", "she", "he", "you", "i", "the"))
_WAYS = frozenset(("open", "wide", "shut", "closed", "cold", "off"))
_HOURS = frozenset(("hour", "hours"))
_MARKED = frozenset(("stamp", "stamped"))
_MORE = frozenset((*STARTERS, "oh", "o", "and", "point"))
_ACID = frozenset(("hydrometer", "gravity", "gravities"))
_DENSEST = 1.4
_HELD = frozenset(("at", "till", "until"))
_OCLOCK, _TWO, _DIGITS, _HUNDRED = 12, 2, 3, 100
_MOST = 24
"""Things that are counted off are hardly more."""
_OF_READING = frozenset(("it", "that", "draw", "drain", *LENGTH))


def skip(notes: Notes, piece: Piece) -> bool:
    """Whether a number without a unit is a clock time, a count, a date or a part of a saying."""
    words = notes.words
    before = words[piece.start - 1] if piece.start else ""
    earlier = words[piece.start - 2] if piece.start > 1 else ""
    after = word_at(notes, piece.end)
    if before == "w":
        return True  # "four litres of ten w thirty"
    if before in ("of", "by") and (earlier in RULE_OF or earlier.isdigit()):
        return True
    if piece.value is not None and 1 <= piece.value < _DENSEST and not _ACID.isdisjoint(words):
        return True  # "hydrometer in six mouths, five at one point two six"
    if before in ("from", "to") and _from_to_same(words, piece):
        return True
    share = f"{earlier} {before}"
    if after in ("o'clock", "oclock") or (share in SKIP_BEFORE and not (share == "out of" and _many(piece))):
        return True
    pointed = before == "by" and piece.row[-1].form in ("decimal", "fraction")  # "at the stop by point six"
    if before in SKIP_BEFORE and not pointed and not _reached(notes, piece, before, after):
        return True
    if _to_one(notes, piece) or (before == "and" and earlier in _HOURS):
        return True  # "an hour and twenty"
    return _by_figures(notes, piece, before, after) or _counts(notes, piece, after)


def _many(piece: Piece) -> bool:
    """Whether so many are not told as *three out of four*: *five ninety out of six hundred*."""
    return piece.value is not None and piece.value >= _HUNDRED


def _from_to_same(words: Sequence[str], piece: Piece) -> bool:
    """*left it from six to six*: hours of the day."""
    said, size = words[piece.start : piece.end], piece.end - piece.start
    first = piece.start if words[piece.start - 1] == "from" else piece.start - 1 - size
    return first > 0 and words[first - 1 : first + 1 + 2 * size] == ["from", *said, "to", *said]


def _to_one(notes: Notes, piece: Piece) -> bool:
    """*mixed at fifty to one*, *the cells from one to six*: a proportion, things counted off."""
    words = notes.words
    if words[piece.end : piece.end + 2] == ["to", "one"]:
        return piece.end + 2 in notes.marks or word_at(notes, piece.end + 2) not in _MORE
    counted = (
        piece.value is not None and _TWO < piece.value <= _MOST and len(piece.row) == 1 and piece.row[0].whole
    )
    if not counted or piece.hit is not None or words[max(0, piece.start - 2) : piece.start] != ["one", "to"]:
        return False
    return piece.start < 3 or words[piece.start - 3] not in _MORE


def _reached(notes: Notes, piece: Piece, before: str, after: str) -> bool:
    """*wide open by eighty which ...*, *does not move until one sixty five*: a value, not a time of day."""
    late = before in ("until", "till") and piece.value is not None and piece.value > _OCLOCK
    if late and not STUCK.isdisjoint(notes.words[: piece.start]):
        return True  # "does not budge till three ten"
    if before in ("until", "till"):
        return piece.value is not None and piece.value % 100 >= 60 and piece.value > 100
    earlier = notes.words[piece.start - 2] if piece.start > 1 else ""
    if before in _MARKED:
        return _measured(notes)  # "moves at one forty two and it's stamped one forty"
    if before == "by" and earlier in _WAYS and (not after or after in FOLLOW):
        return _measured(notes) or (piece.value or 0) > 12  # "wide open by eighty", no hour of the day
    return before == "by" and after in _REACHED and _measured(notes)


def _by_figures(notes: Notes, piece: Piece, before: str, after: str) -> bool:
    """Whether the figures themselves, with the words beside them, tell that they are no reading."""
    words = notes.words
    if before == "all" and len(piece.row) == 1 and piece.row[0].whole:
        return True  # "every hole of that plug, all 18"
    if piece.value in (12, 6, 9, 3) and not (_RIM if piece.range else _ROCK).isdisjoint(words):
        return True  # play at "12 to 6", rocked at "twelve and six"
    if piece.value == 0 and words[piece.start] == "zero" and after in ("it", "them", "the"):
        return True  # "zero it"
    if piece.value == 0 and words[piece.start] == "zero" and after and after not in FOLLOW:
        return True  # "zero codes"
    if len(piece.row) > 2 and all(f.whole and 0 < f.value < 10 for f in piece.row) and not _spelled(piece):
        return True  # "one two three four"
    if _counted(notes, piece, before, after):
        return True
    last = piece.row[-1]
    if last.form == "group" or (last.form == "fraction" and not last.written and piece.value == 0.5):
        return True
    ranged = piece.range and after == "to"  # "one to two is wanted"
    if (
        len(piece.row) == 1
        and last.whole
        and piece.value == 1
        and not last.written
        and before not in ONE
        and not ranged
    ):
        return True
    small = len(piece.row) == 1 and last.whole and piece.value is not None and piece.value < 13
    limits = not LIMITS.isdisjoint(words[piece.end + 1 : piece.end + 4])
    named = after in _TELLS and word_at(notes, piece.end + 1) in NAMED and not limits
    if small and (after in _FAILS or named):
        return True  # "two is open", "three and four don't read": cylinders, windings, pins
    if small and ((after == "'s" and not limits) or (before == "across" and after in _TELLS)):
        return True  # "two's point nine": a cylinder, a cell; "across three is open"; but "ten's your limit"
    following = word_at(notes, piece.end + 1)
    return after == "by" and (following in STARTERS or following[:1].isdigit())


def _spelled(piece: Piece) -> bool:
    """*three one eight*: a number told figure by figure, not counted off."""
    values = [f.value for f in piece.row]
    return len(values) == _DIGITS and any(b - a != 1 for a, b in pairwise(values))


def _counted(notes: Notes, piece: Piece, before: str, after: str) -> bool:
    """*one two three torx screws*, *that's four off and four on*: what is counted beside fasteners."""
    named = [e for e in notes.entities if isinstance(e, Fastener)]
    if not named or piece.row[-1].form != "whole":
        return False
    if [f.value for f in piece.row] == [1, 2]:
        return True
    small = piece.value is not None and piece.value <= 20 and len(piece.row) == 1
    return small and after in _MOVED and before not in ("to", "at", "by")


def _measured(notes: Notes) -> bool:
    """Whether a reading with its unit stands before: *it begins at eighty one degrees and by ninety ...*."""
    earlier = any(one.start and notes.words[one.start - 1] in _HELD for one in unsaid(notes))
    return earlier or any(isinstance(e, Measurement) and e.quantity != "time" for e in notes.entities)


def clock(notes: Notes, piece: Piece) -> bool:
    """Whether a number written beside a colon, with nothing between, is part of a time of day."""
    if ":" not in (notes.marks.get(piece.start), notes.marks.get(piece.row[-1].end)):
        return False
    start, end = notes.source[piece.start][0], notes.source[piece.row[-1].end - 1][1]
    return bool(_TIME.search(notes.heard[max(0, start - 3) : end + 3]))


def _counts(notes: Notes, piece: Piece, after: str) -> bool:
    """Whether a number counts what follows it (*two problems*)."""
    if (
        piece.row[-1].form == "fraction"
        and notes.words[piece.start - 1 : piece.start]
        and notes.words[piece.start - 1] in STIRS
    ):
        return False  # "it wobbles an eighth"
    decimal = piece.row[-1].form == "decimal" or (
        piece.value is None and piece.decimal is not None and piece.row[0].value >= 10
    )
    if after == "square" or (after == "out" and word_at(notes, piece.end + 1) == "of" and not _many(piece)):
        return True
    if after == "of":
        again = notes.words[piece.end + 1 : piece.end + 2] == notes.words[piece.start : piece.start + 1]
        counted = piece.row[-1].form != "fraction" and word_at(notes, piece.end + 1) not in _OF_READING
        return again or counted
    if not after or after in FOLLOW or after in STARTERS:
        return False
    plural = len(after) > 3 and after.endswith("s") and not after.endswith(("ss", "us", "is"))
    if plural or after in SKIP_AFTER:
        return not decimal
    decimal = decimal or piece.row[-1].form == "mixed"  # "six and a half deep"
    plain = notes.words[piece.start - 1 : piece.start] == ["to"]  # the end of a range, whatever follows
    if piece.value is not None and piece.value > _OCLOCK and not decimal and len(piece.row) == 1:
        return False  # "it is going down to eighty company limit is": many of a thing have its plural
    near = CONTEXTS.first(notes.words, max(0, piece.start - 3), piece.start)
    told = near is not None and not near[2][1]
    return not decimal and len(piece.row) == 1 and not told and not (piece.range and plain)
