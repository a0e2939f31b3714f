"""What figures come to as money: *fifty four ninety five*; *two sixty five* of a washer, and of a starter."""

from __future__ import annotations

from collections.abc import Sequence

from narrator.language.figures import Figure, join
from narrator.language.tables import load
from narrator.language.tokens import Notes

_WORTH = load("money")["worth"][0]
_DEAR, _CHEAP, _CORE = (frozenset(_WORTH[name]) for name in ("dear", "cheap", "core"))
PRICE_ENDS = frozenset((99.0, 95.0, 98.0, 49.0))
"""Cents that prices end in: *seventy four ninety nine* without another word."""


def as_money(row: Sequence[Figure]) -> float | None:
    """*fifty four ninety five* as 54.95, *one hundred thirty nine ninety five* as 139.95; whole if alone."""
    if len(row) == 1:
        return row[0].value if row[0].form in ("whole", "decimal", "mixed") else None
    last = row[-1]
    if last.whole and 10 <= last.value < 100 and not last.written:
        head = join(row[:-1])
        if len(row) == 2 and row[0].whole:
            return row[0].value + last.value / 100
        if head is not None and head == int(head):
            return head + last.value / 100
    return join(row)


def sum_of(notes: Notes, row: Sequence[Figure]) -> float | None:
    """What a row of figures without a currency comes to as money; None where it is no sum."""
    amount = as_money(row)
    if amount is None or len(row) != 2 or not (row[0].whole and row[1].whole):
        return amount
    small = 1 <= row[0].value < 10 <= row[1].value < 100 and not (row[0].written or row[1].written)
    return row[0].value * 100 + row[1].value if small and _hundreds(notes.words, row) else amount


def _hundreds(words: Sequence[str], row: Sequence[Figure]) -> bool:
    """Whether the first number tells hundreds: by the thing named last before it, else by the numbers."""
    for word in reversed(words[: row[0].start]):
        if word in _CHEAP or word in _DEAR:
            return word in _DEAR
    if not _CORE.isdisjoint(words[row[1].end :]):
        return True  # "one eighty five plus a forty five core"
    return row[0].value == 1 and row[1].value not in PRICE_ENDS
