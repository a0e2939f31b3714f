"""Amounts of money that only the sense of a line tells: *the rotor is sixty four and she is fetching it*.

Where the network takes a line for one of parts, and a number in it for nothing that is measured, the number
is a price if it is said like one.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from narrator.language.amounts import NOTHING, Amounts
from narrator.language.figures import Figure, figures_of
from narrator.language.meaning import act_share, meaning_table
from narrator.language.money import counts
from narrator.language.moneysums import sum_of
from narrator.language.numberwords import LABELS
from narrator.language.tables import load, taken_back
from narrator.language.tokens import Notes
from narrator.language.units import unit_at
from narrator.phrases import Phrases
from narrator.values import Price

RULE = "money.network"
_T = meaning_table()["prices"]
_PART, _UNMEASURED = float(_T["part"]), float(_T["nothing"])
_CLEAR, _CLEAR_PART = float(_T["clear"]), float(_T["clear_part"])
_EACH, _EACH_PART = float(_T["each"]), float(_T["each_part"])
_LEAST, _MOST, _HOURS, _YEARS = 5.0, 1_000_000.0, 12, (1950, 2035)
_BEFORE = frozenset(load("money")["asked"][0]["words"])
_GOODS = frozenset(load("money")["asked"][0]["goods"])
_AFTER = Phrases((phrase, True) for phrase in load("money")["asked"][0]["after"])


def price_by_network(notes: Notes) -> None:
    """Enter the prices that a line of parts says barely; the currency is the session's."""
    if "figures" not in notes.scratch or (share := act_share(notes, "part")) < min(_CLEAR_PART, _EACH_PART):
        return
    amounts, taken = Amounts(notes), notes.taken()
    for row in _rows(notes, taken):
        at, amount = (row[0].start, row[-1].end), sum_of(notes, row)
        if amount is None or not _LEAST <= amount < _MOST or not _said(notes, row):
            continue
        if not _is_price(notes, at[1], share, amounts.shares(*at).get(NOTHING, 0.0)):
            continue
        value = Decimal(str(round(amount, 2))).quantize(Decimal("0.01"))
        notes.entities.append(Price(span=notes.span(*at), at=at, rule=RULE, amount=value, currency=None))


def _is_price(notes: Notes, end: int, part: float, nothing: float) -> bool:
    """Whether the network is sure enough of a sum; less sure of goods by the piece (*twenty eight each*)."""
    if _AFTER.at(notes.words, end) and not _GOODS.isdisjoint(notes.words):
        return part >= _EACH_PART and nothing >= _EACH
    return (part >= _PART and nothing >= _UNMEASURED) or (part >= _CLEAR_PART and nothing >= _CLEAR)


def _rows(notes: Notes, taken: list[bool]) -> Iterator[list[Figure]]:
    """The rows of figures that no entity holds."""
    found, done = figures_of(notes), 0
    dropped = taken_back(notes)
    for first in found.all:
        if first.start >= done:
            row = found.run(first.start, notes.marks)
            done = row[-1].end
            if not any(taken[row[0].start : done]) and dropped.isdisjoint(range(row[0].start, done)):
                yield row


def _said(notes: Notes, row: list[Figure]) -> bool:
    """Whether the words around a row of figures are those of a price."""
    words, start, end = notes.words, row[0].start, row[-1].end
    before = words[start - 1] if start else ""
    after = words[end] if end < len(words) and end not in notes.marks else ""
    if before in LABELS or (after and counts(after)) or unit_at(words, end, clinging=False, part=False):
        return False
    value = row[0].value
    if len(row) == 1 and (not row[0].whole or value <= _HOURS or _YEARS[0] <= value <= _YEARS[1]):
        return False  # "I rang at nine"
    pair = len(row) == 2 and all(f.whole and not f.written for f in row) and row[1].value >= 10
    ends = end == len(words) or end in notes.marks
    named = ends and any(e.at[1] == start and e.type in ("component", "material") for e in notes.entities)
    return pair or before in _BEFORE or named or _AFTER.at(words, end) is not None
