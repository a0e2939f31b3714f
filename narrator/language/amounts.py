"""What the network is sure of about a number that has no unit: that it measures nothing, that it is a torque.

Which of the other quantities it is the rules know better, since the network reads words and not how large a
number is (from which share on it is sure: ``grammars/meaning.toml``).
"""

from __future__ import annotations

import numpy as np

from narrator.language.act_network import AMOUNTS
from narrator.language.meaning import meaning_table, told_of
from narrator.language.tokens import Notes

_T = meaning_table()["amounts"]
_BESIDE, _SHARE, _MORE, _SURE = (float(_T[name]) for name in ("beside", "share", "more", "sure"))
NOTHING = "nothing"
_NOTHING = tuple(AMOUNTS).index(NOTHING)
_ALONE = frozenset(("voltage", "current", "resistance", "pressure", "temperature", "length"))


class Amounts:
    """The network's view of one utterance's numbers."""

    def __init__(self, notes: Notes) -> None:
        told = told_of(notes)
        self._table = None if told is None else told.amounts
        self._shares: dict[tuple[int, int], dict[str, float]] = {}

    @property
    def known(self) -> bool:
        """Whether there is a network's view of the line."""
        return self._table is not None

    def shares(self, start: int, end: int) -> dict[str, float]:
        """How likely the words ``start`` to ``end`` measure each of ``AMOUNTS``; empty without a network."""
        if self._table is None:
            return {}
        if (found := self._shares.get((start, end))) is None:
            words = self._table[start:end]
            mean = words[0] if len(words) == 1 else np.add.reduce(words) / len(words)
            found = self._shares[start, end] = dict(zip(AMOUNTS, mean.tolist(), strict=True))
        return found

    def nothing(self, start: int, end: int) -> bool:
        """Whether the network is sure that the words ``start`` to ``end`` measure nothing."""
        if self._table is None:
            return False
        spent: list[float] = self._table[start:end, _NOTHING].tolist()
        return is_nothing({NOTHING: sum(spent) / len(spent)})


def is_nothing(shares: dict[str, float]) -> bool:
    """Whether the network is sure that a number measures nothing."""
    return shares.get(NOTHING, 0.0) >= float(_T["nothing"])


def is_measured(shares: dict[str, float]) -> bool:
    """Whether the network is sure that a number measures something."""
    return bool(shares) and 1.0 - shares.get(NOTHING, 0.0) >= float(_T["measures"])


def doubt(shares: dict[str, float]) -> float:
    """What speaks against a number that probably measures nothing."""
    return float(_T["doubted"]) * max(0.0, shares.get(NOTHING, 0.0) - float(_T["doubt"]))


def name_of(quantity: str, unit: str) -> str:
    """What the network calls a quantity: it tells driving from turning."""
    if quantity == "speed":
        return "driving" if unit in ("km/h", "mph") else "turning"
    return "share" if quantity == "ratio" else quantity


def weight(shares: dict[str, float], quantity: str, unit: str, beside: bool = False) -> float:
    """What speaks for a quantity by the network's share of it; ``beside``: words nearby told it."""
    return weight_of(share_of(shares, quantity, unit), beside)


def share_of(shares: dict[str, float], quantity: str, unit: str) -> float:
    """The network's share of a quantity."""
    return shares.get(name_of(quantity, unit), 0.0)


def weight_of(share: float, beside: bool) -> float:
    """What speaks for a quantity of which the network has such a share."""
    return (_BESIDE if beside else _SHARE) * share + _MORE * max(0.0, share - _SURE)


def alone(shares: dict[str, float]) -> tuple[str, float] | None:
    """A quantity that the network is sure of by itself, and its cost as a guess."""
    found = max(_ALONE, key=lambda q: shares.get(q, 0.0)) if shares else ""
    return (found, float(_T["cost"])) if shares.get(found, 0.0) >= float(_T["alone"]) else None


def is_torque(shares: dict[str, float]) -> bool:
    """Whether the network is sure that a number tells how tight something is."""
    return shares.get("torque", 0.0) >= float(_T["torque"])
