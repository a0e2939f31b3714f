"""Rows of figures said without a pause, read as several numbers."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from math import inf

from narrator.language.figures import Figure, join

_EVEN = 1.5
"""How far the values of a list lie apart at most for which a spoken row is cut anew."""
_ALIKE, _HALF = 4, 0.5
"""How far the tens of a list of pointed values may lie apart, and how unlike hundreds what follows them."""
LIST_LEAST, LIST_MOST = 20, 999
"""Between these lie the values of a list said in one breath (*one forty one thirty eight one forty two*)."""


def split_list(row: list[Figure]) -> list[list[Figure]]:
    """The numbers of a list said without pause, hundreds and tens together; the row itself if it is none."""
    plain = len(row) == 2 and all(f.whole and not f.written for f in row)
    if listed := _pointed_list(row) or _past_hundreds(row):
        return listed
    if plain and row[1].value == row[0].value + 1 < 100:
        return [row[:1], row[1:]]  # "two three minutes", "fifteen sixteen"
    if len(row) > 1 and join(row) is None and any(f.form == "decimal" for f in row):
        return [[figure] for figure in row]
    if len(row) < 3:
        return [row]
    climbs = all(a.value < b.value for a, b in itertools.pairwise(row))
    climbs = climbs and _spread(_hundreds(_loosened(row))) > _EVEN  # no "nine forty nine eighty"
    if (climbs or join(row) is None) and all(f.whole and 5 <= f.value < 100 for f in row):
        return [[figure] for figure in row]  # "creeping up eight ten nineteen"
    tens = all(f.whole and 10 <= f.value < 100 and not f.written for f in row)
    if len(row) < 4 and not tens:
        return [row]
    groups: list[list[Figure]] = []
    i = 0
    while i < len(row):
        size = 1
        if row[i].whole and 1 <= row[i].value < 10:
            following = row[i + 1 : i + 3]
            if following and following[0].value == 0 and len(following) == 2 and following[1].value < 10:
                size = 3
            elif following and 10 <= following[0].value < 100:
                size = 2
        groups.append(row[i : i + size])
        i += size
    looser = _hundreds(_loosened(row))
    if _spread(looser) < min(_spread(groups), _EVEN):
        groups = looser  # "one sixty five one sixty one seventy"
    values = [join(group) for group in groups]
    least = 10 if tens else LIST_LEAST
    fits = len(groups) > 1 and all(v is not None and least <= v <= LIST_MOST for v in values)
    return groups if fits else [row]


def _spread(groups: list[list[Figure]]) -> float:
    """How many times the least of some numbers their greatest is."""
    values = [join(group) for group in groups]
    known = [value for value in values if value]
    return max(known) / min(known) if len(known) == len(values) > 1 else inf


def _pointed_list(row: list[Figure]) -> list[list[Figure]]:
    """*thirteen six thirteen four* as 13.6 and 13.4, *twelve twelve two* as 12 and 12.2: much the same."""
    if len(row) < 3 or any(not f.whole or f.written for f in row):
        return []
    groups: list[list[Figure]] = []
    for figure in row:
        if 0 < figure.value < 10 and groups and len(groups[-1]) == 1:
            groups[-1].append(figure)
        else:
            groups.append([figure])
    heads, pairs = [group[0].value for group in groups], sum(len(group) == 2 for group in groups)
    below = 1 < min(heads) == max(heads) < 10 and pairs == len(groups)  # "nine two nine three nine three"
    tens = min(heads) >= 10 and max(heads) < 100 and max(heads) - min(heads) <= _ALIKE and pairs > 0
    return groups if len(groups) > 1 and (below or tens) else []


def _past_hundreds(row: list[Figure]) -> list[list[Figure]]:
    """*nine hundred nine ten* as 900 and 910, *eleven hundred zero* as 1100 and none."""
    if len(row) < 2 or not row[0].whole or row[0].written or row[0].value < 100 or join(row) is not None:
        return []
    rest = join(row[1:])
    near = rest is not None and _HALF <= rest / row[0].value <= 1 / _HALF
    return [row[:1], row[1:]] if near or rest == 0 else []


def partings(row: list[Figure]) -> Iterator[list[list[Figure]]]:
    """The ways to read a spoken row without a pause as several numbers of about a hundred or less.

    *thirty five twenty eight* is 35 and 28; *nine forty nine eighty* is 940 and 980; *one seventy one sixty
    five* may be 170 and 165, so a unit figure before tens also goes with what follows.
    """
    if len(row) < 2 or any(not f.whole or f.written for f in row):
        return
    for given in (row, _loosened(row)):
        groups = _hundreds(given)
        values = [join(group) for group in groups]
        if len(groups) > 1 and all(value is not None and value >= 5 for value in values):
            yield groups


def _hundreds(row: list[Figure]) -> list[list[Figure]]:
    """Figures in groups that make one number each: a unit figure goes with the tens after it."""
    groups: list[list[Figure]] = []
    for figure in row:
        joins = groups and len(groups[-1]) == 1 and 1 <= groups[-1][0].value < 10 <= figure.value < 100
        if joins:
            groups[-1].append(figure)
        else:
            groups.append([figure])
    return groups


def _loosened(row: list[Figure]) -> list[Figure]:
    """*seventy one* before tens cut into *seventy* and *one*."""
    out: list[Figure] = []
    for n, figure in enumerate(row):
        unit = figure.value % 10
        tens_next = n + 1 < len(row) and 10 <= row[n + 1].value < 100
        if n and 20 < figure.value < 100 and unit and tens_next and figure.end - figure.start == 2:
            middle = figure.start + 1
            out.append(Figure(figure.start, middle, figure.value - unit, "whole"))
            out.append(Figure(middle, figure.end, unit, "whole"))
        else:
            out.append(figure)
    return out
