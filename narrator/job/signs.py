"""Motion whose way only the words beside it tell: *down with*, *held by*, *gets its four screws*."""

from __future__ import annotations

from dataclasses import dataclass

from narrator.job.ledger_words import ledger_words, number

_W = ledger_words()
_SIGN, _CLEAR = 1.0, 1.3
_STAYS = 2.1
_HELD_WITHIN = 4
_COUNTED = frozenset(("the", "all", "only", "just", "but", "new", "fresh", "both", "a", "an", "one"))
_DEFINITE = frozenset(("the", "its", "his", "her", "all", "both", "same", "only", "their"))
_OWN = frozenset(("its", "his", "her", "their", "it's"))


@dataclass(frozen=True, slots=True)
class Evidence:
    """One word or phrase of motion; ``weight`` is positive for on, negative for off."""

    start: int
    end: int
    weight: float


def of_down_with(words: tuple[str, ...], i: int, before: str, *, begins: bool) -> float | None:
    """*Tray comes down with eight screws*, *up with the floor plate*; None where the particle is a plain one.

    Off and on alike (*wheel down with five nuts*, *lid down with five nuts*) is left to what is off.
    """
    if words[i] not in ("down", "up") or words[i + 1 : i + 2] != ("with",):
        return None
    if before in _W["off.comes"]:
        return -_CLEAR
    opens = before in _W["off.opens"] or (begins and not before)
    if not opens and words[i + 2 : i + 3] and words[i + 2] in _DEFINITE:
        return None  # "tray up with the seven"
    return -_CLEAR if opens and words[i + 2 : i + 3] != () and number(words[i + 2]) is None else 0.6


def of_held(words: tuple[str, ...], i: int, fasteners: frozenset[int]) -> float | None:
    """*Is held by four screws*, *secured with two clips*: told of what is about to come off."""
    if words[i] not in _W["off.held"] or words[i + 1 : i + 2] not in (("by",), ("with",), ("down",)):
        return None
    near = any(k in fasteners for k in range(i + 2, i + 2 + _HELD_WITHIN))
    return -_CLEAR if near else None


def of_getting(words: tuple[str, ...], i: int, *, of_part: bool) -> float | None:
    """*The box gets five screws*, *liner takes its four*: the part is the one that gets them."""
    after = words[i + 1 : i + 2]
    if not of_part or not after or words[i] not in _W["on.gets"]:
        return None
    if after[0] in _OWN:
        return _CLEAR + _SIGN
    counted = number(after[0]) is not None or after[0] in _COUNTED
    return (_CLEAR + 0.7 if words[i] in ("gets", "got") else 0.6) if counted else None


def of_staying(words: tuple[str, ...], i: int, fasteners: frozenset[int]) -> float | None:
    """*A clip so it stays off that edge*: it is put where it was not before."""
    stays = words[i] == "so" and not _W["on.stays"].isdisjoint(words[i + 2 : i + 4])
    return _STAYS if stays and i - 1 in fasteners else None
