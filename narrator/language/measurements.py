"""Measurements: numbers with a unit, and numbers whose unit the session has to supply.

What has no unit goes to ``notes.scratch["unsaid"]`` with the words before it that tell what it may be.
"""

from __future__ import annotations

from dataclasses import dataclass

from spacy.language import Language
from spacy.tokens import Doc

from narrator.language.context import FOLLOW, SKIP_AFTER, SKIP_BEFORE, choose_unit, is_rating, role_of
from narrator.language.numbers import STARTERS, Figure, figures_of, implied_decimal, join
from narrator.language.pieces import Piece, find_pieces, mark_ranges
from narrator.language.tokens import Notes
from narrator.language.units import Unit, UnitHit, unit_at
from narrator.values import Measurement

_FRACTIONS = {("and", "a", "half"): 0.5, ("and", "a", "quarter"): 0.25}
_ARTICLE_UNITS = frozenset(("qt", "L", "gal", "pt"))
VOLTS_MOST = 60.0
"""Above this a spoken *twelve sixty five* volts is read as 12.65."""


@dataclass(slots=True)
class Unsaid:
    """A number without a unit: tokens ``start`` to ``end``, its readings, and whether a range or signed."""

    start: int
    end: int
    value: float | None
    decimal: float | None
    range: bool = False
    single: bool = True
    of: int | None = None
    fraction: bool = False


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
    return plain if plain is not None else implied_decimal(row)


def _trailing_fraction(notes: Notes, piece: Piece) -> float:
    """*two inches and a half*."""
    tail = tuple(notes.words[piece.end : piece.end + 3])
    if tail in _FRACTIONS:
        piece.end += 3
        return _FRACTIONS[tail]
    return 0.0


def _measure(notes: Notes, piece: Piece) -> None:
    """Enter a number that has a unit."""
    assert piece.hit is not None
    unit: Unit = choose_unit(notes, piece.hit, piece.start)
    if is_rating(notes, piece.hit, piece.end):
        return
    value = reading(piece.row, unit.quantity)
    split = 0
    if value is None and len(piece.row) > 1:  # figures that make no number: the last one has the unit
        split = len(piece.row) - 1
        value = piece.row[-1].value
    if value is None:
        return
    start = piece.row[split].start if split else piece.start
    value += _trailing_fraction(notes, piece)
    value = round(value * unit.factor, 9)
    at = (start, piece.end)
    if at[1] <= at[0]:
        at = (start, piece.row[-1].end)
    notes.entities.append(
        Measurement(
            span=notes.span(*at),
            at=at,
            rule=unit.id,
            quantity=unit.quantity,
            value=-value if piece.minus and not split else value,
            unit=unit.symbol,
            role=role_of(notes, at, unit.quantity, piece.range),
            range=piece.range,
        )
    )


def _skip(notes: Notes, piece: Piece) -> bool:
    """Whether a number without a unit is a clock time, a count, a date or a part of a saying."""
    words = notes.words
    before = words[piece.start - 1] if piece.start else ""
    two = f"{words[piece.start - 2]} {before}" if piece.start > 1 else ""
    after = words[piece.end] if piece.end < len(words) and piece.end not in notes.marks else ""
    if (
        before in SKIP_BEFORE
        or two in SKIP_BEFORE
        or after == "o'clock"
        or (after == "o" and "clock" in words)
    ):
        return True
    form = piece.row[-1].form
    if form == "group" or (form == "fraction" and not piece.row[-1].written and piece.value == 0.5):
        return True
    precise = form == "decimal" or len(piece.row) > 1
    if after and after not in FOLLOW and after not in STARTERS:
        counted = (
            after.endswith("s") and not after.endswith(("ss", "us", "is")) and len(after) > 3
        ) or after in SKIP_AFTER
        if counted and not (precise and form == "decimal"):
            return True
        if not precise and not _strong(notes, piece):
            return True
    elif after == "of" and words[piece.end + 1 : piece.end + 2] not in (
        ["it"],
        ["that"],
        ["draw"],
        ["drain"],
    ):
        return True
    single = len(piece.row) == 1 and piece.row[0].whole
    return bool(
        single
        and piece.value == 1
        and before
        in (
            "the",
            "this",
            "that",
            "new",
            "old",
            "other",
            "no",
            "another",
            "",
            "which",
            "good",
            "bad",
            "any",
            "and",
            "wrong",
            "right",
            "last",
            "first",
            "same",
            "real",
            "in",
            "for",
            "with",
            "then",
            "every",
            "not",
            "only",
            "just",
            "left",
            "from",
            "to",
            "of",
            "or",
            "it",
            "is",
            "'s",
        )
    )


def _strong(notes: Notes, piece: Piece) -> bool:
    """A word that names what is measured stands straight before the number."""
    from narrator.language.context import CONTEXTS

    low = max(0, piece.start - 3)
    return CONTEXTS.first(notes.words, low, piece.start) is not None


def _articles(notes: Notes) -> None:
    """*a quart of fluid*, *half an hour*-like amounts with an article: *an hour and a half*."""
    words = notes.words
    for i, word in enumerate(words[:-1]):
        if word not in ("a", "an"):
            continue
        hit = unit_at(words, i + 1, clinging=False, part=False)
        if hit is None or notes.taken()[i + 1] or is_rating(notes, hit, hit.end):
            continue
        tail = tuple(words[hit.end : hit.end + 3])
        volume = hit.unit.symbol in _ARTICLE_UNITS and words[hit.end : hit.end + 1] in (
            ["of"],
            ["low"],
            ["short"],
            ["down"],
        )
        if tail in _FRACTIONS or volume:
            end = hit.end + (3 if tail in _FRACTIONS else 0)
            at = (i, end)
            notes.entities.append(
                Measurement(
                    span=notes.span(*at), at=at, rule=hit.unit.id, quantity=hit.unit.quantity,
                    value=1 + _FRACTIONS.get(tail, 0.0), unit=hit.unit.symbol,
                    role=role_of(notes, at, hit.unit.quantity),
                )
            )  # fmt: skip


@Language.component("measurements")
def measurements_component(doc: Doc) -> Doc:
    """Pipeline stage: measurements with a unit; the rest is left for the memory."""
    notes: Notes = doc._.notes
    found = figures_of(notes)
    if found.all:
        pieces = find_pieces(notes, found)
        mark_ranges(notes, pieces)
        for n, piece in enumerate(pieces):
            if piece.hit is not None:
                _measure(notes, piece)
            elif not _skip(notes, piece):
                pair = n - 1 if piece.range and n and pieces[n - 1].range else None
                unsaid(notes).append(
                    Unsaid(
                        piece.start, piece.end,
                        None if piece.value is None else (-piece.value if piece.minus else piece.value),
                        None if piece.decimal is None else (-piece.decimal if piece.minus else piece.decimal),
                        piece.range, len(piece.row) == 1, pair, piece.row[-1].form == "fraction",
                    )
                )  # fmt: skip
    if "a" in notes.words or "an" in notes.words:
        _articles(notes)
    return doc
