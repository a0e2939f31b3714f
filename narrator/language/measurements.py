"""Measurements: numbers with a unit, and numbers whose unit the session has to supply.

What has no unit goes to ``notes.scratch["unsaid"]``, for the memory to settle.
"""

from __future__ import annotations

from collections.abc import Iterator

from narrator.language.context import APART, LENGTH, TIGHTENED, TURNED, choose_unit, is_rating, role_of
from narrator.language.figures import Figure, figures_of, implied_decimal, join
from narrator.language.leftover import VOLTS_MOST, Unsaid, unsaid, word_at
from narrator.language.noreadings import measures_nothing
from narrator.language.pieces import Piece, count_seconds, find_pieces, mark_ranges, share_parts, share_scale
from narrator.language.rows import partings
from narrator.language.sizes import HEADS
from narrator.language.skipped import clock, skip
from narrator.language.stage import stage
from narrator.language.tokens import Notes
from narrator.language.units import ARTICLES, Unit, UnitHit, unit_at
from narrator.phrases import Phrases
from narrator.values import Fastener, Measurement

_FRACTIONS = Phrases((("and a half", 0.5), ("and a quarter", 0.25), ("and half", 0.5)))
_AMOUNT = frozenset(("of", "low", "short", "down"))
_AFTER_ONE = {"qt": _AMOUNT, "L": _AMOUNT, "gal": _AMOUNT, "in": APART, "ft": APART}
"""What makes *a quart of oil*, *an inch apart* an amount, by unit."""
POINTED = frozenset(("voltage", "current", "pressure", "resistance", "volume"))
"""Quantities whose values may leave the point unsaid."""
_GRADE = frozenset(("of", "a", "an", "the", "this", "that"))


def reading(row: list[Figure], quantity: str) -> float | None:
    """The value of a row of figures for a quantity: volts may leave the point unsaid."""
    plain = join(row)
    if _pointless(row) and quantity in POINTED:
        return implied_decimal(row)
    if quantity == "voltage" and len(row) > 1:
        implied = implied_decimal(row)
        if implied is not None and (plain is None or (plain > 600 and implied <= VOLTS_MOST)):
            return implied
    return implied_decimal(row) if plain is None and quantity in POINTED else plain


def _pointless(row: list[Figure]) -> bool:
    """*zero eight two*: 0.82, its point left unsaid."""
    return len(row) > 1 and row[0].value == 0 and row[0].whole and implied_decimal(row) is not None


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
    unit = choose_unit(notes, hit, piece.start, piece.value)
    if unit.symbol == "turn" and not _turned_tight(notes, piece):
        return  # a deed ("back it off a quarter turn") or a kind of mower
    value, start = reading(piece.row, unit.quantity), piece.start
    if unit.symbol == "s" and len(piece.row) == 2 and piece.row[1].value == 30:
        value = None  # "two thirty seconds": bursts, not 230
    later = reading(piece.row[1:], unit.quantity) if len(piece.row) > 2 and value is None else None
    if later is not None and piece.row[0].form == "fraction":
        value, start = later, piece.row[1].start  # "both three quarters one twenty five foot pounds"
    if value is None:  # figures that make no number: the last one has the unit, the others none
        value, start = piece.row[-1].value, piece.row[-1].start
        before = piece.row[:-1]
        rest = Piece(before, piece.start, start, join(before), implied_decimal(before), None, piece.minus)
        if not skip(notes, rest):
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
    hit = _FRACTIONS.at(notes.words, piece.end)
    if hit is None or word_at(notes, hit[0]) in ("of", "a", "an", "turn", "turns"):
        return 0.0
    piece.end = hit[0]
    return hit[1]


def _describes(notes: Notes, piece: Piece, hit: UnitHit) -> bool:
    """*the nipple's an eight mil*: a size that tells which tool something takes."""
    head = piece.value in HEADS and hit.unit.choose == "mil"
    if head and any(t.kind == "component" and t.at[0] == piece.end for t in notes.scratch.get("terms", ())):  # type: ignore[attr-defined]
        return word_at(notes, piece.end) not in LENGTH  # "twenty seven mil cap"
    before, after = notes.words[piece.start - 1] if piece.start else "", word_at(notes, piece.end)
    return head and before in ("a", "an") and (not after or after in ("and", "on", "up"))


def _articles(notes: Notes) -> None:
    """*a quart of fluid*, *an hour and a half*."""
    words = notes.words
    for i in [i for i, word in enumerate(words[:-1]) if word in ARTICLES]:
        hit = unit_at(words, i + 1, clinging=False, part=False)
        if hit is None or notes.taken()[i + 1] or is_rating(notes, hit, hit.end):
            continue
        part = (
            figures_of(notes).starting.get(hit.end + 1) if words[hit.end : hit.end + 1] == ["and"] else None
        )
        if part and part.form == "fraction" and part.value < 1 and hit.unit.symbol == "in":
            _enter(notes, (i, part.end), hit.unit, 1 + part.value)  # "an inch and five eighths"
        elif more := _FRACTIONS.at(words, hit.end):
            _enter(notes, (i, more[0]), hit.unit, 1 + more[1])
        elif word_at(notes, hit.end) in _AFTER_ONE.get(hit.unit.symbol, ()):
            _enter(notes, (i, hit.end), hit.unit, 1.0)


# ------------------------------------------------------------------ without a unit


def _leave(notes: Notes, piece: Piece, second: bool) -> None:
    """Keep a number for the memory."""
    sign = -1 if piece.minus else 1
    unsaid(notes).append(
        Unsaid(
            piece.start,
            piece.end,
            None if piece.value is None or _pointless(piece.row) else sign * piece.value,
            None if piece.decimal is None else sign * piece.decimal,
            piece.range,
            len(piece.row) == 1,
            second,
            piece.row[-1].form == "fraction",
            piece.row[-1].form == "decimal" or piece.listed,
            ()
            if piece.range or piece.minus or word_at(notes, piece.start - 1) in _GRADE
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
        if len(pieces) > 1:
            count_seconds(notes, pieces)
            share_scale(notes, pieces)
            share_parts(notes, pieces)
            mark_ranges(notes, pieces)
        for n, piece in enumerate(pieces):
            if clock(notes, piece):
                continue
            if piece.hit is not None:
                _measure(notes, piece, piece.hit)
            elif not skip(notes, piece):
                _leave(notes, piece, piece.range and n > 0 and pieces[n - 1].range)
    if "a" in notes.words or "an" in notes.words:
        _articles(notes)
