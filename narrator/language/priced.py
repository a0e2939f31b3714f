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
from narrator.language.money import as_money, counts
from narrator.language.numberwords import LABELS
from narrator.language.tables import load, taken_back
from narrator.language.tokens import Notes
from narrator.language.units import unit_at
from narrator.values import Price

RULE = "money.network"
_T = meaning_table()["prices"]
_PART, _UNMEASURED = float(_T["part"]), float(_T["nothing"])
_LEAST, _MOST, _HOURS, _YEARS = 5.0, 1_000_000.0, 12, (1950, 2035)
_BEFORE = frozenset(load("money")["asked"][0]["words"])


def price_by_network(notes: Notes) -> None:
    """Enter the prices that a line of parts says barely; the currency is the session's."""
    if "figures" not in notes.scratch or act_share(notes, "part") < _PART:
        return
    amounts, taken = Amounts(notes), notes.taken()
    for row in _rows(notes, taken):
        at, amount = (row[0].start, row[-1].end), as_money(row)
        if amount is None or not _LEAST <= amount < _MOST or not _said(notes, row):
            continue
        if amounts.shares(*at).get(NOTHING, 0.0) < _UNMEASURED:
            continue
        value = Decimal(str(round(amount, 2))).quantize(Decimal("0.01"))
        notes.entities.append(Price(span=notes.span(*at), at=at, rule=RULE, amount=value, currency=None))


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
    return pair or before in _BEFORE
