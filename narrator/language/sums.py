"""Where a spelled part number ends and its price begins: *h s k seventeen, fourteen pound sixty*."""

from __future__ import annotations

from collections.abc import Sequence

from narrator.language.spelled import Piece

_DASHES = frozenset("-/.")
_SCALES = frozenset(("thousand", "hundred"))
_PLAIN, _LONG, _SHORT, _TINY, _MANY = 0.0, 0.2, 1.0, 2.0, 0.8
_HUNDREDS, _UNITS, _CENTS = 0.6, 0.8, 0.8
"""How odd it is that a number has so many figures, and that a sum of money is said in such a way."""


def number_ends(run: Sequence[Piece], after: str, money: bool) -> int:
    """How many pieces of a run are the part number; what is left of it begins the price.

    ``after`` is the word behind the run, ``money`` whether that is a currency.
    """
    head = max((n for n, part in enumerate(run) if part.chars.isalpha()), default=-1) + 1
    dash = max((n for n, part in enumerate(run) if part.chars in _DASHES), default=-1)
    dashed = head <= dash and all(part.chars.isdigit() for part in run[head:dash])
    head = dash + 1 if dashed else head
    tail = run[head:]
    if dashed and money and len(tail) > 1 and all(part.chars.isdigit() for part in tail):
        cuts = [n for n in range(1, len(tail)) if _sum(tail[n:]) is not None]
        cut = min(cuts, key=lambda n: _sum(tail[n:]) or 0.0, default=len(tail))
        return head + cut  # "dash one five, nineteen pound"
    figures = bool(head) and all(part.chars.isdigit() for part in tail)
    if not figures or len(tail) < 2:
        told = any(part.chars.isdigit() for part in run[:head])
        return head if figures and tail and told and money else len(run)  # "p s twelve d, eighty nine zloty"
    if after in _SCALES and not tail[-1].pair:
        return len(run) - 1  # "one oh one, four thousand two hundred"
    if after == "and" and len(tail) > 1 and len(tail[-1].chars) == 3 and tail[-1].chars.endswith("00"):
        return len(run) - 1  # "four one, two hundred and sixty"
    if not money:
        pairs = len(tail) == 4 and all(part.pair for part in tail)
        return head + 2 if pairs else len(run)  # "nineteen forty, thirty eight seventy five"
    before = sum(c.isdigit() for part in run[:head] for c in part.chars)
    cuts = [n for n in range(1, len(tail)) if _sum(tail[n:]) is not None]
    best = min(cuts, key=lambda n: _length(before, tail[:n]) + (_sum(tail[n:]) or 0.0), default=len(tail))
    return head + best


def _length(before: int, pieces: Sequence[Piece]) -> float:
    """How odd a number with so many figures is."""
    figures = before + sum(len(part.chars) for part in pieces)
    return {1: _TINY, 2: _SHORT, 3: _PLAIN, 4: _LONG}.get(figures, _MANY)


def _sum(pieces: Sequence[Piece]) -> float | None:
    """How odd these pieces are as a sum of money; None where they are none."""
    kinds = tuple(2 if part.pair else 1 for part in pieces)
    if any(len(part.chars) > 2 for part in pieces):
        return 0.0 if len(pieces) <= 2 and len(pieces[0].chars) > 2 else None  # "two hundred sixty"
    return {(2,): 0.0, (1, 2): _HUNDREDS, (1,): _UNITS, (2, 2): _CENTS}.get(kinds)
