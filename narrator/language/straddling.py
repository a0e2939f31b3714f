"""Figures that reach over the end of a part number: *r s two two four, eight thousand five hundred naira*."""

from __future__ import annotations

from narrator.language.figures import figures_of
from narrator.language.numbers import find_figures
from narrator.language.tokens import Notes


def cut_at(notes: Notes, end: int) -> None:
    """Read the figures anew from token ``end`` on where one reaches over it."""
    found = figures_of(notes)
    if not any(f.start < end < f.end for f in found.all):
        return
    marks = {i - end: mark for i, mark in notes.marks.items() if i > end}
    rest = [f._replace(start=f.start + end, end=f.end + end) for f in find_figures(notes.words[end:], marks)]
    found.put([*(f for f in found.all if f.end <= end), *rest])
