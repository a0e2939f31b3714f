"""Rows of figures as the numbers they make, each with the unit said after it, lists and ranges told apart."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace

from narrator.language.context import FOLLOW, LIMITING
from narrator.language.figures import Figure, Figures, implied_decimal, join
from narrator.language.numberwords import LABELS, STRICT
from narrator.language.rows import split_list
from narrator.language.tables import load, used
from narrator.language.tokens import Notes
from narrator.language.units import UNITS, UnitHit, unit_at

_RANGE = frozenset(("to", "or", "through", "thru", "till", "-", "and"))
_MINUS = frozenset(("minus", "negative", "-"))
_POLE = frozenset(("the", "a", "from", "on", "to", "off", "battery", "alternator"))
"""Before these words *negative* is a pole."""
_WHICH, _ORDER = (frozenset(row["words"]) for row in load("numbers")["which"])
_POINTED_AT = frozenset(("same", "those", "these", "them", "its", "their"))
_SIDES = (["side"], ["way"], ["end"], ["hand"])
_LOOSE = frozenset(("like", "about", "maybe", "around"))
_MOST_LABEL = 24
_TO = (["to"], ["or"])
_SCALES, _MOST_SHARED = {"hundred": 100, "thousand": 1000}, 100
_PARTS = {"tenth": 10, "tenths": 10, "hundredth": 100, "hundredths": 100}
_SECONDS = (5, 59)
"""What may be said after minutes and be seconds."""
LEAST_AFTER = 13
"""What may follow the number of a thing at once (*eighteen amps on one nineteen on the next*)."""


@dataclass(slots=True)
class Piece:
    """A number (row of figures) and its unit, if said; ``decimal`` reads it with the point left out."""

    row: list[Figure]
    start: int
    end: int
    value: float | None
    decimal: float | None
    hit: UnitHit | None
    minus: bool
    range: bool = False
    listed: bool = False


def find_pieces(notes: Notes, found: Figures) -> list[Piece]:
    """Every number that no entity has claimed, left to right."""
    taken = notes.taken()
    for i in used(notes):
        taken[i] = True
    pieces: list[Piece] = []
    done, label = 0, -1
    for figure in found.all:
        if figure.start < done or taken[figure.start]:
            continue
        row = [f for f in found.run(figure.start, notes.marks) if not taken[f.start]]
        done = row[-1].end
        if _labelled_too(notes, row, label):
            label = row[0].end
            row = row[1:]
        elif figure.start and notes.words[figure.start - 1] in STRICT:
            several = notes.words[figure.start - 1][-1] == "s" and all(
                0 < f.value <= LEAST_AFTER for f in row
            )
            label = row[-1].end if several else figure.end  # "cylinders one two and four"
            row = [] if several and len(row) > 1 else row
        if len(row) > 1 and _is_tried(notes.words, done):
            row = row[:-1]  # "twelve two, ten times out of ten"
        if not row or not (row := _unlabel(notes, row)):
            continue
        hit = _unit(notes, row[-1], taken)
        groups = [row] if _pairs(notes, row, pieces) else split_list(row)
        for group in groups:
            end = hit.end if hit and group is groups[-1] else group[-1].end
            minus = group is groups[0] and _minus(notes, group[0].start)
            start = group[0].start - minus
            listed = len(groups) > 1
            value, pointed = join(group), implied_decimal(group)
            pieces.append(Piece(group, start, end, value, pointed, hit, minus, listed=listed))
        if len(groups) == 2 and len(row) == 2 and len(groups[0]) == 1 and row[1].value == row[0].value + 1:
            pieces[-2].range = pieces[-1].range = True
    return pieces


def _is_tried(words: list[str], i: int) -> bool:
    """Whether what is said at ``i`` makes the number before it one of how often something was tried."""
    return words[i : i + 1] in (["times"], ["outta"]) or words[i : i + 2] == ["out", "of"]


def _labelled_too(notes: Notes, row: list[Figure], label: int) -> bool:
    """Whether a row begins with one more number of a thing (*cylinders one, two and four*, *pin six to ten*).

    ``label``: where the number before it ended, if that was one.
    """
    first, between = row[0], notes.words[label : row[0].start]
    if label < 0 or not first.whole or first.value > _MOST_LABEL or len(between) > 1:
        return False
    if between and between[0] not in ("and", "to", "or", ","):
        return False
    if not between and first.start not in notes.marks:
        return False
    alone = len(row) == 1 and unit_at(notes.words, first.end, clinging=first.written, part=False) is None
    return alone or (len(row) > 1 and between != ["to"] and row[1].value >= LEAST_AFTER)


def _pairs(notes: Notes, row: list[Figure], pieces: list[Piece]) -> bool:
    """Whether a row of two digits ends a range that began with one: *three five to four five*."""
    if not pieces or len(row) != 2 or len(pieces[-1].row) != 2 or pieces[-1].hit is not None:
        return False
    digits = all(f.whole and 0 < f.value < 10 for f in (*row, *pieces[-1].row))
    return digits and pieces[-1].end == row[0].start - 1 and notes.words[pieces[-1].end] in _RANGE


def _unit(notes: Notes, last: Figure, taken: list[bool]) -> UnitHit | None:
    if notes.marks.get(last.end, "-") != "-":
        return None
    part = last.value < 1 or last.form == "fraction"
    hit = unit_at(notes.words, last.end, clinging=last.written, part=part)
    if hit and (any(taken[hit.start : hit.end]) or _ordinal(notes, hit)):
        return None
    return hit


def _ordinal(notes: Notes, hit: UnitHit) -> bool:
    """Whether *second* tells an order, no time: *first one eleven nine, second one ten two*."""
    if hit.words != ("second",):
        return False
    return notes.words[hit.end : hit.end + 1] == ["one"] or "first" in notes.words[: hit.start]


def _minus(notes: Notes, start: int) -> bool:
    return start > 0 and notes.words[start - 1] in _MINUS and _is_sign(notes, start - 1)


def _is_sign(notes: Notes, i: int) -> bool:
    """Whether the token at ``i`` is a minus sign, not a dash between two numbers."""
    if notes.words[i] == "minus":
        return True
    if notes.words[i] == "negative":
        return i == 0 or notes.words[i - 1] not in _POLE
    place = notes.source[i][0]
    return place == 0 or not notes.heard[place - 1].isalnum()


def _unlabel(notes: Notes, row: list[Figure]) -> list[Figure]:
    """Cut the number of a thing off (*fuse eight*, *cylinder three one oh five*)."""
    first = row[0]
    if len(row) > 1 and row[-1].value == 1 and _one_of_two(notes, row[-1]):
        row = row[:-1]
    if len(row) > 1 and first.start and notes.words[first.start - 1] == "all":
        return row[1:]  # "all three nine newton metres"
    if len(row) > 1 and _same(notes, row):
        return row[1:]
    before = notes.words[first.start - 1] if first.start and first.start not in notes.marks else ""
    again = row[2:3] and row[2].value == 1  # "top to bottom one twelve one ten"
    which = (before in _WHICH and first.start > 1 and not again) or (
        before in _ORDER and row[1:2] and row[1].value > 0
    )
    if len(row) > 1 and first.value == 1 and which:
        return row[1:]  # "the correct one twenty two newtons"
    if before in ("on", "in") and len(row) > 1 and first.value <= 12 and (join(row[1:]) or 0) >= LEAST_AFTER:
        return row[1:]  # "one sixty five on one, one sixty on two"
    if before not in LABELS or (len(row) > 1 and before not in STRICT):
        return row
    if len(row) == 1 and unit_at(notes.words, first.end, clinging=first.written, part=False):
        return row  # "magnet to sensor 9 mm"
    return row[1:]


def _same(notes: Notes, row: list[Figure]) -> bool:
    """*the same three ten newton metres*: a count of fasteners pointed at, then their torque."""
    first, end = row[0], row[-1].end
    pointed = first.start > 0 and notes.words[first.start - 1] in _POINTED_AT
    if not pointed or not first.whole or first.written or not 1 < first.value <= 12 or row[1].value < 5:
        return False
    hit = unit_at(notes.words, end, clinging=False, part=False)
    return hit is not None and hit.unit.quantity == "torque"


def _one_of_two(notes: Notes, one: Figure) -> bool:
    """*thirty two one side and thirty three the other*: a *one* that is none of the number before it."""
    return notes.words[one.start : one.end] == ["one"] and notes.words[one.end : one.end + 1] in _SIDES


def share_scale(notes: Notes, pieces: list[Piece]) -> None:
    """*eight to nine hundred* is 800 to 900."""
    for one, two in itertools.pairwise(pieces):
        said = notes.words[two.row[0].start : two.row[0].end]
        scale = next((float(_SCALES[word]) for word in said[-1:] if word in _SCALES), 0.0)
        first = one.row[0]
        alone = len(one.row) == len(two.row) == 1 and one.hit is None and first.whole and not first.written
        if not scale or not alone or notes.words[one.end : two.start] not in _TO or two.start in notes.marks:
            continue
        if 1 < first.value < min(_MOST_SHARED, two.row[0].value / scale):
            one.row = [first._replace(value=first.value * scale)]
            one.value, one.decimal = first.value * scale, None


def share_parts(notes: Notes, pieces: list[Piece]) -> None:
    """*eight tenths and it's supposed to be eight*, *two hundredths, limit is five*: parts left unsaid."""
    part, end = 0, 0
    for piece in pieces:
        last = piece.row[-1]
        told = notes.words[last.end - 1]
        if last.form in ("fraction", "decimal") and told in _PARTS:
            part, end = _PARTS[told], piece.end
            continue
        alone = part and piece.hit is None and len(piece.row) == 1 and last.whole and not last.written
        if (
            alone
            and 1 < last.value < _MOST_SHARED
            and not LIMITING.isdisjoint(notes.words[end : piece.start])
        ):
            piece.row, piece.listed = [last._replace(value=last.value / part, form="decimal")], True
            piece.value = last.value / part


def count_seconds(notes: Notes, pieces: list[Piece]) -> None:
    """*four minutes forty* is 280 seconds."""
    for n, (one, two) in enumerate(itertools.pairwise(pieces)):
        whole = one.hit is not None and one.hit.unit.symbol == "min" and one.value == int(one.value or 0.5)
        if not whole or two.hit is not None or two.start != one.end or two.start in notes.marks:
            continue
        seconds = two.row[0]
        after = "" if two.end in notes.marks else "".join(notes.words[two.end : two.end + 1])
        ends = not after or after in FOLLOW
        if (
            len(two.row) > 1
            or not seconds.whole
            or not _SECONDS[0] <= seconds.value <= _SECONDS[1]
            or not ends
        ):
            continue
        hit = UnitHit(two.start, two.end, UNITS["unit.second"], ("seconds",))
        said = Figure(one.start, two.end, 60 * (one.value or 0.0) + seconds.value, "whole")
        pieces[n : n + 2] = [Piece([said], one.start, two.end, said.value, None, hit, False)]
        return


def mark_ranges(notes: Notes, pieces: list[Piece]) -> None:
    """Mark pairs (*six or seven mil*) and give the first the unit of the second."""
    for one, two in itertools.pairwise(pieces):
        between = notes.words[one.end : two.start]
        if len(between) == 2 and between[1] in _LOOSE:
            between = between[:1]
        if between == ["plus"] and one.hit is None and two.hit and two.hit.unit.id == "unit.thou":
            one.hit = replace(two.hit, unit=UNITS["unit.inch"])  # "bore is two and a half plus four thou"
            continue
        dash = notes.marks.get(two.start) == "-" and not between
        if not dash and not (len(between) == 1 and between[0] in _RANGE):
            continue
        if not dash and any(i in notes.marks for i in range(one.end, two.start + 1)):
            continue
        if between == ["and"]:
            before = notes.words[max(0, one.start - 2) : one.start]
            if "between" not in before:
                continue
        if between == ["to"] and one.hit and one.hit.unit.quantity == "time" and two.hit is None:
            continue  # "four minutes forty to eight"
        if one.hit is None and two.hit is None:
            one.range = two.range = True
            continue
        if one.hit is None or two.hit is None or one.hit.unit == two.hit.unit:
            one.range = two.range = True
            said = two.hit or one.hit
            if between == ["to"] and one.hit is None and two.hit and one.start and _stands(notes, one, two):
                one.range = two.range = False
                continue
            one.hit = one.hit or said
            two.hit = two.hit or said


def _stands(notes: Notes, one: Piece, two: Piece) -> bool:
    """*the fourteen to thirty foot pounds*: the first number names a fastener."""
    return (
        notes.words[one.start - 1] in ("the", "that")
        and two.hit is not None
        and two.hit.unit.quantity == "torque"
    )
