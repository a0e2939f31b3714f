"""Sides said by themselves: *the left one spins like a top*, *thirty five left and seventy right*."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from narrator.language.noun_place import places
from narrator.values import Position

if TYPE_CHECKING:
    from narrator.language.components import Scene

_P = places()
_SIDES, _BEFORE_ONE, _AFTER_ONE = _P["lone_sides"], _P["before_one"], _P["after_right_one"]
_NOT_BEFORE, _NOT_AFTER = _P["not_side_before"], _P["not_side_after"]


def lone_sides(scene: Scene) -> None:
    """Claim every *left* and *right* that names a side and belongs to no part's name."""
    if _SIDES.isdisjoint(scene.said):
        return
    free = [i for i, word in enumerate(scene.said) if word in _SIDES and not scene.taken[i]]
    paired = _paired(scene, free)
    for i in free:
        if i in paired or _one(scene, i) or _on_the(scene, i):
            span, at = scene.place(i, i + 1)
            name = scene.word(i)
            scene.claim(i, i + 1, Position(span=span, at=at, rule="position.lone_side", name=name))


def _opens(scene: Scene, i: int) -> bool:
    return i == 0 or scene.mark(i)


def _one(scene: Scene, i: int) -> bool:
    """*left one's dry*, *the right one is the same*; but not *i've left one out*, *only the right one*."""
    if scene.word(i + 1) != "one" or scene.mark(i + 1):
        return False
    if _opens(scene, i):
        return True
    before = scene.word(i - 1)
    return before in _BEFORE_ONE and (scene.word(i) == "left" or scene.word(i + 2) in _AFTER_ONE)


def _on_the(scene: Scene, i: int) -> bool:
    """*same again on the right*: the end of a clause."""
    ends = i + 1 == len(scene.said) or scene.mark(i + 1)
    return ends and scene.word(i - 1) == "the" and scene.word(i - 2) == "on" and not scene.mark(i)


def _paired(scene: Scene, free: list[int]) -> set[int]:
    """Both sides in one breath, each beside what is told of it."""
    fit = [i for i in free if _may_be_side(scene, i)]
    words = {scene.word(i) for i in fit}
    apart = all(b - a > 1 for a, b in pairwise(fit))
    return set(fit) if len(words) == 2 and len(fit) == 2 and len(free) == 2 and apart else set()


def _may_be_side(scene: Scene, i: int) -> bool:
    before = "" if _opens(scene, i) else scene.word(i - 1)
    after = "" if scene.mark(i + 1) else scene.word(i + 1)
    told = scene.word(i - 2) == "to" and before == "the"
    return not told and before not in _NOT_BEFORE and after not in _NOT_AFTER
