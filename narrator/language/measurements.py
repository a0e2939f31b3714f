"""Measurements: numbers with a unit, and numbers whose unit the session has to supply.

What has no unit goes to ``notes.scratch["unsaid"]``, for the memory to settle.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from narrator.language.context import (
    APART,
    CONTEXTS,
    FOLLOW,
    LENGTH,
    LIMITS,
    ONE,
    SKIP_AFTER,
    SKIP_BEFORE,
    STIRS,
    TIGHTENED,
    TURNED,
    choose_unit,
    is_rating,
    role_of,
)
from narrator.language.figures import Figure, figures_of, implied_decimal, join
from narrator.language.noreadings import measures_nothing
from narrator.language.numberwords import RULE_OF, STARTERS
from narrator.language.pieces import Piece, find_pieces, mark_ranges, partings
from narrator.language.sizes import HEADS
from narrator.language.stage import stage
from narrator.language.tokens import Notes
from narrator.language.units import Unit, UnitHit, unit_at
from narrator.values import Fastener, Measurement

_FRACTIONS = {("and", "a", "half"): 0.5, ("and", "a", "quarter"): 0.25}
_AMOUNT = frozenset(("of", "low", "short", "down"))
_AFTER_ONE = {"qt": _AMOUNT, "L": _AMOUNT, "gal": _AMOUNT, "in": APART, "ft": APART}
"""What makes *a quart of oil*, *an inch apart* an amount, by unit."""
_RIM = frozenset(("play", "rock", "rocks", "rocking", "wheel", "o'clock", "clock"))
_TIME = re.compile(r"\d:\d\d(?!\d)")
_ROCK = frozenset(("rock", "rocks", "rocking", "rocked", "o'clock", "clock"))
_GRADE = frozenset(("of", "a", "an", "the", "this", "that"))
_TELLS = frozenset(("is", "'s", "reads", "gives", "shows", "says"))
_MOVED = frozenset(("off", "on", "out", "in", "back"))
_REACHED = frozenset(("which", "it", "they", "we", "she", "he", "you", "i", "the"))
_WAYS = frozenset(("open", "shut", "closed", "cold", "off"))
_OF_READING = frozenset(("it", "that", "draw", "drain"))
VOLTS_MOST = 60.0
"""Above this a spoken *twelve sixty five* volts is read as 12.65."""


@dataclass(slots=True)
class Unsaid:
    """A number without a unit: tokens ``start`` to ``end``, read as it stands and with the point left out.

    ``single``: one figure; ``of``: the second of a range; ``fraction``: said as one; ``exact``: with a
    point, or one of a list. ``parts``: other readings, as several numbers.
    """

    start: int
    end: int
    value: float | None
    decimal: float | None
    range: bool = False
    single: bool = True
    of: bool = False
    fraction: bool = False
    exact: bool = False
    parts: tuple[tuple[Unsaid, ...], ...] = ()

    @property
    def inches(self) -> bool:
        """A fraction as on an inch rule."""
        return self.fraction and self.value is not None and self.value * 64 % 1 == 0

    @property
    def small(self) -> bool:
        """A single whole number below 13, as counts mostly are."""
        return (
            self.single
            and not self.exact
            and self.value is not None
            and self.value < 13
            and self.value == int(self.value)
        )


def unsaid(notes: Notes) -> list[Unsaid]:
    """The utterance's numbers without a unit."""
    found: list[Unsaid] = notes.scratch.setdefault("unsaid", [])  # type: ignore[assignment]
    return found


def reading(row: list[Figure], quantity: str) -> float | None:
    """The value of a row of figures for a quantity: volts may leave the point unsaid."""
    plain = join(row)
    if quantity == "voltage" and len(row) > 1:
        implied = implied_decimal(row)
        if implied is not None and (plain is None or (plain > 600 and implied <= VOLTS_MOST)):
            return implied
    pointed = quantity in ("voltage", "current", "pressure", "resistance", "volume")
    return implied_decimal(row) if plain is None and pointed else plain


def _word(notes: Notes, i: int) -> str:
    """The token ``i``, empty outside the utterance or behind punctuation."""
    return notes.words[i] if 0 <= i < len(notes.words) and i not in notes.marks else ""


# ------------------------------------------------------------------ with a unit


def _measure(notes: Notes, piece: Piece, hit: UnitHit) -> None:
    """Enter a number that has a unit, unless the unit describes a thing or a size."""
    beside = hit.words == ("s",) and any(
        isinstance(e, Fastener) for e in notes.entities
    )  # "17s" beside bolts
    if beside or is_rating(notes, hit, piece.end) or _describes(notes, piece, hit):
        return
    if measures_nothing(notes, piece, hit):
        return
    unit = choose_unit(notes, hit, piece.start)
    if unit.symbol == "turn" and not _turned_tight(notes, piece):
        return  # a deed ("back it off a quarter turn") or a kind of mower
    value, start = reading(piece.row, unit.quantity), piece.start
    if unit.symbol == "s" and len(piece.row) == 2 and piece.row[1].value == 30:
        value = None  # "two thirty seconds": bursts, not 230
    if value is None:  # figures that make no number: the last one has the unit, the others none
        value, start = piece.row[-1].value, piece.row[-1].start
        before = piece.row[:-1]
        rest = Piece(before, piece.start, start, join(before), implied_decimal(before), None, piece.minus)
        if not _skip(notes, rest):
            _leave(notes, rest, False)
    value += _trailing_fraction(notes, piece)
    minus = piece.minus and start == piece.start
    _enter(notes, (start, max(piece.end, start + 1)), unit, -value if minus else value, piece.range)


def _turned_tight(notes: Notes, piece: Piece) -> bool:
    """*snug then half a turn*, *two and a half turns out*: how far a thing is tightened or stands open."""
    torque = any(isinstance(e, Measurement) and e.quantity == "torque" for e in notes.entities)
    told = not TIGHTENED.isdisjoint(notes.words[max(0, piece.start - 5) : piece.start])
    open_by = TURNED.at(notes.words, piece.end) is not None and piece.end not in notes.marks
    return bool(piece.value) and (torque or told or open_by)


def _enter(notes: Notes, at: tuple[int, int], unit: Unit, value: float, ranged: bool = False) -> None:
    notes.entities.append(
        Measurement(
            span=notes.span(*at),
            at=at,
            rule=unit.id,
            quantity=unit.quantity,
            value=round(value * unit.factor, 9),
            unit=unit.symbol,
            role=role_of(notes, at, unit.quantity, ranged),
            range=ranged,
        )
    )


def _trailing_fraction(notes: Notes, piece: Piece) -> float:
    """*two inches and a half*."""
    tail = tuple(notes.words[piece.end : piece.end + 3])
    if tail in _FRACTIONS and _word(notes, piece.end + 3) != "of":
        piece.end += 3
        return _FRACTIONS[tail]
    return 0.0


def _describes(notes: Notes, piece: Piece, hit: UnitHit) -> bool:
    """*the nipple's an eight mil*: a size that tells which tool something takes."""
    head = piece.value in HEADS and hit.unit.choose == "mil"
    if head and any(t.kind == "component" and t.at[0] == piece.end for t in notes.scratch.get("terms", ())):  # type: ignore[attr-defined]
        return _word(notes, piece.end) not in LENGTH  # "twenty seven mil cap"
    before, after = notes.words[piece.start - 1] if piece.start else "", _word(notes, piece.end)
    return head and before in ("a", "an") and (not after or after in ("and", "on", "up"))


def _articles(notes: Notes) -> None:
    """*a quart of fluid*, *an hour and a half*."""
    words = notes.words
    for i, word in enumerate(words[:-1]):
        hit = unit_at(words, i + 1, clinging=False, part=False) if word in ("a", "an") else None
        if hit is None or notes.taken()[i + 1] or is_rating(notes, hit, hit.end):
            continue
        tail = tuple(words[hit.end : hit.end + 3])
        if tail in _FRACTIONS:
            _enter(notes, (i, hit.end + 3), hit.unit, 1 + _FRACTIONS[tail])
        elif _word(notes, hit.end) in _AFTER_ONE.get(hit.unit.symbol, ()):
            _enter(notes, (i, hit.end), hit.unit, 1.0)


# ------------------------------------------------------------------ without a unit


def _skip(notes: Notes, piece: Piece) -> bool:
    """Whether a number without a unit is a clock time, a count, a date or a part of a saying."""
    words = notes.words
    before = words[piece.start - 1] if piece.start else ""
    earlier = words[piece.start - 2] if piece.start > 1 else ""
    after = _word(notes, piece.end)
    if before in ("of", "by") and (earlier in RULE_OF or earlier.isdigit()):
        return True
    if after in ("o'clock", "oclock") or f"{earlier} {before}" in SKIP_BEFORE:
        return True
    if before in SKIP_BEFORE and not _reached(notes, piece, before, after):
        return True
    return _by_figures(notes, piece, before, after) or _counts(notes, piece, after)


def _reached(notes: Notes, piece: Piece, before: str, after: str) -> bool:
    """*wide open by eighty which ...*, *does not move until one sixty five*: a value, not a time of day."""
    if before in ("until", "till"):
        return piece.value is not None and piece.value % 100 >= 60 and piece.value > 100
    earlier = notes.words[piece.start - 2] if piece.start > 1 else ""
    if before == "by" and earlier in _WAYS and not after:
        return _measured(notes) or (piece.value or 0) > 12  # "wide open by eighty", no hour of the day
    return before == "by" and after in _REACHED and _measured(notes)


def _by_figures(notes: Notes, piece: Piece, before: str, after: str) -> bool:
    """Whether the figures themselves, with the words beside them, tell that they are no reading."""
    words = notes.words
    if before == "all" and len(piece.row) == 1 and piece.row[0].whole:
        return True  # "every hole of that plug, all 18"
    if piece.value in (12, 6, 9, 3) and not (_RIM if piece.range else _ROCK).isdisjoint(words):
        return True  # play at "12 to 6", rocked at "twelve and six"
    if piece.value == 0 and after in ("it", "them", "the"):
        return True  # "zero it"
    if len(piece.row) > 2 and all(f.whole and 0 < f.value < 10 for f in piece.row):
        return True  # "one two three four"
    if _counted(notes, piece, before, after):
        return True
    last = piece.row[-1]
    if last.form == "group" or (last.form == "fraction" and not last.written and piece.value == 0.5):
        return True
    if len(piece.row) == 1 and last.whole and piece.value == 1 and not last.written and before not in ONE:
        return True
    small = len(piece.row) == 1 and last.whole and piece.value is not None and piece.value < 13
    limits = not LIMITS.isdisjoint(words[piece.end + 1 : piece.end + 4])
    if small and ((after == "'s" and not limits) or (before == "across" and after in _TELLS)):
        return True  # "two's point nine": a cylinder, a cell; "across three is open"; but "ten's your limit"
    following = _word(notes, piece.end + 1)
    return after == "by" and (following in STARTERS or following[:1].isdigit())


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
    earlier = any(one.start and notes.words[one.start - 1] == "at" for one in unsaid(notes))
    return earlier or any(isinstance(e, Measurement) and e.quantity != "time" for e in notes.entities)


def _clock(notes: Notes, piece: Piece) -> bool:
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
    if after == "square" or (after == "out" and _word(notes, piece.end + 1) == "of"):
        return True
    if after == "of":
        again = notes.words[piece.end + 1 : piece.end + 2] == notes.words[piece.start : piece.start + 1]
        counted = piece.row[-1].form != "fraction" and _word(notes, piece.end + 1) not in _OF_READING
        return again or counted
    if not after or after in FOLLOW or after in STARTERS:
        return False
    plural = len(after) > 3 and after.endswith("s") and not after.endswith(("ss", "us", "is"))
    if plural or after in SKIP_AFTER:
        return not decimal
    near = CONTEXTS.first(notes.words, max(0, piece.start - 3), piece.start)
    told = near is not None and not near[2][1]
    return not decimal and len(piece.row) == 1 and not told


def _leave(notes: Notes, piece: Piece, second: bool) -> None:
    """Keep a number for the memory."""
    sign = -1 if piece.minus else 1
    unsaid(notes).append(
        Unsaid(
            piece.start,
            piece.end,
            None if piece.value is None else sign * piece.value,
            None if piece.decimal is None else sign * piece.decimal,
            piece.range,
            len(piece.row) == 1,
            second,
            piece.row[-1].form == "fraction",
            piece.row[-1].form == "decimal" or piece.listed,
            ()
            if piece.range or piece.minus or _word(notes, piece.start - 1) in _GRADE
            else tuple(_parts(piece)),
        )
    )


def _parts(piece: Piece) -> Iterator[tuple[Unsaid, ...]]:
    """A row of figures read as several numbers."""
    for groups in partings(piece.row):
        yield tuple(
            Unsaid(row[0].start, row[-1].end, join(row), None, single=len(row) == 1, exact=True)
            for row in groups
        )


@stage("measurements")
def measurements_stage(notes: Notes) -> None:
    """Pipeline stage: measurements with a unit; the rest is left for the memory."""
    found = figures_of(notes)
    if found.all:
        pieces = find_pieces(notes, found)
        mark_ranges(notes, pieces)
        for n, piece in enumerate(pieces):
            if _clock(notes, piece):
                continue
            if piece.hit is not None:
                _measure(notes, piece, piece.hit)
            elif not _skip(notes, piece):
                _leave(notes, piece, piece.range and n > 0 and pieces[n - 1].range)
    if "a" in notes.words or "an" in notes.words:
        _articles(notes)
