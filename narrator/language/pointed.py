"""Values below one told in a row without a pause, each with its point and two digits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from narrator.language.numberwords import DIGITS

TWICE = 2
"""The digits of each."""


def same_again(words: Sequence[str], marks: Mapping[int, str], i: int) -> tuple[str, int] | None:
    """The digits of the first and where it ends: *point two one point two one point two two*.

    None unless at least two follow each other from token ``i`` on, none with more digits or fewer.
    """
    ends, j = [i], i
    while j < len(words) and words[j] == "point" and (j == i or j not in marks):
        start = j = j + 1
        while j < len(words) and words[j] in DIGITS and j not in marks:
            j += 1
        if j - start != TWICE:
            return None
        ends.append(j)
    found = words[i + 1 : i + 1 + TWICE]
    return ("".join(str(int(DIGITS[word])) for word in found), ends[1]) if len(ends) > TWICE else None
