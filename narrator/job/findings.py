"""What a result says of the thing tested against what it should be: as it should, not so, or nothing said.

The words are data (``[expected]`` in ``grammars/outcome.toml``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from narrator.job.bare_numbers import bare_numbers
from narrator.job.contrast import against_each_other
from narrator.job.expected_words import expected_words, has_phrase, is_missed, opens
from narrator.job.lamp import shown
from narrator.job.line import Line
from narrator.job.normal import against_normal
from narrator.job.stirred import when_stirred
from narrator.values import Measurement

_NEAR = 0.105
"""A value said to be right is met within so much of it, a little over a tenth."""
_NEAR_VOLTS = 0.06
"""Volts that are regulated stay closer: 31.2 is too much for 28.4 (common practice, no source)."""
_SAME = 0.01
"""So near, a value is the same where it must be met."""
_CLOSE = 0.06
"""What is worn by more than this share is not met, near as it is."""
_LITTLE = 0.4
"""More than was asked for, by this share at most, is neither met nor missed."""
_BEFORE = 8
"""So many words at most stand between *the book* and the value that it has."""
_UPTO = 5
_NEVER = ("time",)
_THOU = 0.001
_NO_READING = ("time", "length")
"""Taken for a reading only where the value expected is of the same kind: how long it took, how far from."""


def against_limit(line: Line, earlier: Sequence[Line] = ()) -> float | None:
    """A reading against what it should be: +1 as it should, -1 not so, None where nothing tells.

    The reading may stand in an ``earlier`` line of the same test.
    """
    if line.kept is None:
        line.kept = _kept(line)
    if line.kept:
        return line.kept
    for tried in (when_stirred, shown):
        if (told_so := tried(line, earlier)) is not None:
            return told_so
    if not line.entities(Measurement) and not (earlier and earlier[-1].entities(Measurement)):
        return -1.0 if _should(line) else None  # nothing was read
    compared = _compared(line, earlier)
    if compared is not None:
        return compared
    if _should(line):
        return -1.0
    told = any(_is_expected(line, m) for m in line.entities(Measurement))
    if told:
        return None
    found = against_each_other(line, earlier)
    return against_normal(line, earlier) if found is None else found


def _kept(line: Line) -> float:
    """+1 or -1 where phrases say that something is as it should be, or not; 0 where they say neither."""
    if has_phrase(line.tokens, "met"):
        return -1.0 if has_phrase(line.tokens, "unmet") else 1.0
    return -1.0 if is_missed(line) else 0.0


def _compared(line: Line, earlier: Sequence[Line]) -> float | None:
    """The reading against the value that ought to be, both as numbers."""
    measures = line.entities(Measurement)
    told = _told(line, measures)
    if not told:
        found = _against_earlier(line, earlier)
        return _against_bare(line, measures) if found is None else found
    first, same = told[0], _ends_of(measures, told)
    readings = [m for m in measures if m not in same and m.role != "setting" and _alike(m, first)]
    if not readings:
        readings = [m for one in earlier[-1:] for m in one.entities(Measurement) if _alike(m, first)]
    if not readings:
        return (
            _keeps(line, bare, sorted(m.value for m in same), same) if (bare := _bare_reading(line)) else None
        )
    ahead = [m for m in readings if m.at[0] < first.at[0] or m not in measures]
    read = ahead[-1:] or readings[:1]
    ends = sorted([*(m.value for m in same), *_up_to(line, same[-1])])
    if _side(*_around(line, same)):
        read = [
            m for m in ahead if m.unit == read[0].unit
        ] or read  # "thin at 3.9, thick at 4.3, minimum is four"
    kept = [_keeps(line, m.value, ends, same, earlier) for m in read]
    if -1.0 not in kept and not expected_words().sets["no_reading"].isdisjoint(line.tokens[same[-1].at[1] :]):
        return -1.0  # "should be one fifty, I get open, then one fifty"
    return -1.0 if -1.0 in kept else kept[-1]


def _ends_of(measures: Sequence[Measurement], told: Sequence[Measurement]) -> list[Measurement]:
    """The values that tell what ought to be: one, or the two ends of a range."""
    first = told[0].at[0]
    return [m for m in measures if first <= m.at[0] <= first + _UPTO and (m in told or m.range)]


def oversteps(line: Line, earlier: Sequence[Line] = ()) -> bool:
    """Whether a reading is beyond the most, or below the least, that the line tells in numbers.

    No word in the line speaks as plainly: *draws eight amps, max is six point five*.
    """
    measures = line.entities(Measurement)
    told = _told(line, measures)
    if not told or _kept(line) > 0:
        return False
    close, after = _around(line, _ends_of(measures, told))
    limit = not expected_words().sets["limit"].isdisjoint((*close, *after[:3])) and _worse([line])
    return bool(limit or _side(close, after)) and _compared(line, earlier) == -1.0


def holds_against(line: Line, earlier: Sequence[Line] = ()) -> bool:
    """Whether a line reads something and tells what it should be; the line before may have read it."""
    measures = line.entities(Measurement)
    told = _told(line, measures)
    if not told or any(m.role == "setting" for m in measures):
        return False
    others = [m for m in measures if m not in told]
    read = others or [m for one in earlier[-1:] for m in one.entities(Measurement)]
    return any(m.role == "reading" and _alike(m, told[0]) and m.quantity == told[0].quantity for m in read)


def _up_to(line: Line, told: Measurement) -> list[float]:
    """The other end of a range, where it has no unit: *the book wants three to five*."""
    start = told.at[1]
    if line.tokens[start : start + 1] != ("to",):
        return []
    return [n.value for n in bare_numbers(line) if n.at[0] == start + 1 and n.value > told.value]


def _told(line: Line, measures: Sequence[Measurement]) -> list[Measurement]:
    """The values that ought to be; of two, one before the words that say so is the reading.

    *Seventeen point one, limit say eighteen point five.*
    """
    told = [m for m in measures if _is_expected(line, m)]
    if len(told) < 2:
        return told
    first, between = told[0], line.tokens[told[0].at[1] : told[1].at[0]]
    early = _says_ought(line.tokens[: first.at[0]]) or not _says_ought(between)
    return told if early else told[1:]


def _says_ought(words: Sequence[str]) -> bool:
    known = expected_words().sets
    return not (known["should"] | known["limit"]).isdisjoint(words) or has_phrase(words, "before")


def _against_earlier(line: Line, earlier: Sequence[Line]) -> float | None:
    """A reading against what the set-up said it should be: *the limit is ten*, then *I read six*."""
    for one in earlier[-1:]:
        told = _told(one, one.entities(Measurement))
        if not told or len(told) < len(one.entities(Measurement)):
            continue
        readings = [m.value for m in line.entities(Measurement) if _alike_bare(m, told[0])]
        value = readings[-1] if readings else _bare_reading(line)
        return value and _keeps(one, value, sorted(m.value for m in told), told)
    return None


def _bare_reading(line: Line) -> float | None:
    """A number without a unit that a line begins with, or that is read: *and I read twenty six*."""
    reads = expected_words().sets["reads"]
    for number in bare_numbers(line):
        start = number.at[0]
        if start == 0 or line.tokens[start - 1] in reads:
            return number.value
    return None


def _against_bare(line: Line, measures: Sequence[Measurement]) -> float | None:
    """A reading against a number without a unit: *96 mm, and the maker tolerates 25*."""
    for number in bare_numbers(line):
        start = number.at[0]
        ahead = [m for m in measures if m.at[1] <= start and m.role == "reading"]
        ahead = [m for m in ahead if m.quantity not in _NEVER] if len(ahead) > 1 else ahead
        if not ahead:
            continue
        before = line.tokens[max(ahead[-1].at[1], start - _UPTO) : start]
        words = expected_words()
        if (
            not words.sets["should"].isdisjoint(before)
            or has_phrase(before, "before")
            or opens(line.tokens, number.at[1], words.opening["after"])
        ):
            value = number.value * (_THOU if ahead[-1].unit == "in" and "thou" in line.tokens else 1.0)
            return _keeps(line, ahead[-1].value, [value], [replace(ahead[-1], value=value, at=number.at)])
    return None


def _alike_bare(reading: Measurement, expected: Measurement) -> bool:
    """As ``_alike``, and a reading whose unit nobody said is one of what was expected."""
    return _alike(reading, expected) or (not reading.unit_said and reading.quantity not in _NO_READING)


def _alike(reading: Measurement, expected: Measurement) -> bool:
    """Whether two values can be compared; a unit that nobody said is the other one's."""
    if expected.unit == reading.unit:
        return True
    return not expected.unit_said and reading.quantity not in _NO_READING


def _around(line: Line, told: Sequence[Measurement]) -> tuple[Sequence[str], Sequence[str]]:
    """The words right before and after the values that ought to be."""
    low, high = told[0].at[0], told[-1].at[1]
    return line.tokens[max(0, low - _UPTO) : low], line.tokens[high : high + 5]


def _keeps(
    line: Line, value: float, ends: list[float], told: list[Measurement], earlier: Sequence[Line] = ()
) -> float | None:
    """Whether a reading keeps the limits: one of *under*, one of *at least*, a range, or a value to meet.

    A bare *limit* is the most for play and the least for a lining: it tells nothing by itself.
    """
    words, (close, after) = expected_words().sets, _around(line, told)
    before = frozenset(close)
    if not words["scrap"].isdisjoint(after):
        if before & words["under"]:
            return 1.0 if value >= ends[-1] else -1.0  # "under seventeen you throw it"
        if before & words["over"]:
            return 1.0 if value <= ends[0] else -1.0  # "everything over ten is a scene"
    if not words["scrap_at"].isdisjoint(close):  # "you'd throw it away at twenty"
        worse = _worse([line, *earlier[-1:]])
        return None if not worse else -1.0 if (value - ends[0]) * worse >= 0 else 1.0
    bound = _bound(close)
    drawn = told[0].unit == "A" and bool(before & words["plate"])
    side = bound or _side(close, after) or int(drawn)
    if before & words["denied"] and not bound:
        if not before & words["liked"]:
            return None  # "she don't go under ten three"
        side = -side  # "I don't like more than a third of a volt"
    if side > 0:
        return 1.0 if value <= ends[-1] else -1.0
    if side < 0:
        return 1.0 if value >= ends[0] else -1.0
    if len(ends) > 1:
        return 1.0 if ends[0] <= value <= ends[-1] else -1.0
    worse = _worse([line, *earlier[-1:]])
    if has_phrase(close, "strict") and abs(value - ends[0]) > _SAME * abs(ends[0]):
        return -1.0
    near = _NEAR_VOLTS if told[0].unit == "V" else _NEAR
    if abs(value - ends[0]) <= near * abs(ends[0]):
        return -1.0 if (value - ends[0]) * worse > _CLOSE * abs(ends[0]) else 1.0
    if (before | frozenset(after[:3])) & words["limit"]:
        return None if not worse else 1.0 if (ends[0] - value) * worse > 0 else -1.0
    return None if 0 < value - ends[0] <= _LITTLE * abs(ends[0]) else -1.0


def _worse(lines: Sequence[Line]) -> int:
    """1 where more is worse (play, a loss), -1 where less is (a lining), 0 where nothing tells."""
    words, said = expected_words().sets, {word for line in lines for word in line.tokens}
    if "right" in said:
        said.discard("left")  # a side, and not what is left of a lining
    more, less = (not words[name].isdisjoint(said) for name in ("more_is_worse", "less_is_worse"))
    return int(more) - int(less)


def _bound(before: Sequence[str]) -> int:
    """1 after *no more than*, -1 after *not less than*, 0 after neither."""
    words = expected_words().sets
    for denied, word in pairwise(before):
        if denied in words["no"] and word in words["bound_most"] | words["bound_least"]:
            return 1 if word in words["bound_most"] else -1
    return 0


def _side(before: Sequence[str], after: Sequence[str]) -> int:
    """1 where the value told is the most, -1 where it is the least, 0 where it is the one to meet."""
    words = expected_words().sets
    worry = -1 if not words["worry"].isdisjoint(before) else 1
    for word in reversed(after[:4]):
        if word in words["after_most"] | words["after_least"]:
            return 1 if word in words["after_most"] else -1
    for n in reversed(range(len(before))):
        following = f"{before[n]} {before[n + 1]}" if n + 1 < len(before) else ""
        about = following in words["about"]  # "more like twenty" is twenty or so
        if before[n] in words["most"] | words["least"] and not about:
            return worry if before[n] in words["most"] else -worry
    return 0


def _is_expected(line: Line, m: Measurement) -> bool:
    """Whether a value is what ought to be: a limit, or one that the book, the plate or a *should* gives."""
    if m.role == "limit":
        return True
    words = expected_words()
    earlier = max((o.at[1] for o in line.entities(Measurement) if o.at[1] <= m.at[0]), default=0)
    before = line.tokens[max(earlier, m.at[0] - _BEFORE) : m.at[0]]
    if not words.sets["should"].isdisjoint(before) or has_phrase(before, "before"):
        return True
    return not _of_next(line, m) and opens(line.tokens, m.at[1], words.opening["after"])


def _of_next(line: Line, m: Measurement) -> bool:
    """Whether what follows a value is told of the next one: *eight amps, maximum is six point five*."""
    end = m.at[1]
    following = [o.at[0] for o in line.entities(Measurement)]
    return end in line.breaks and not {end + 1, end + 2}.isdisjoint(following) and end + 1 not in line.breaks


def _should(line: Line) -> bool:
    """*It should fall right away*, *they ought to be equal*: told after something else was found."""
    words = expected_words().sets
    for n, word in enumerate(line.tokens if not words["should"].isdisjoint(line.tokens) else ()):
        if word in words["should"] and words["as"].isdisjoint(line.tokens[max(0, n - 4) : n]):
            return True
    return False
