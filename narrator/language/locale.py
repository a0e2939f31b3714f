"""Which system of units a session speaks, judged by the units and currency already said."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from narrator.language.tables import load
from narrator.language.tokens import Notes
from narrator.values import Measurement, Odometer, Price

_TABLE = load("quantities")["locale"][0]
_METRIC, _US, _SPELT = (frozenset(_TABLE[name]) for name in ("metric", "us", "words"))
_CURRENCY: dict[str, float] = _TABLE["currency"]
_DOLLARS: dict[str, str] = {w: code for code, words in _TABLE["dollars"].items() for w in words.split()}


@dataclass(slots=True)
class Locale:
    """``metric`` grows with metric and shrinks with US units; ``currency`` is the last one said."""

    metric: float = 0.0
    currency: str | None = None
    miles: int = 0
    kilometres: int = 0
    dollars: str | None = None
    """Whose dollars are meant, by a word that only one country says."""

    def hear(self, notes: Notes) -> None:
        """Take in what one utterance says with its unit."""
        for word in notes.words:
            if word in _SPELT:
                self.metric += 1
            if word in _DOLLARS:
                self.dollars = self.dollars or _DOLLARS[word]
        for entity in notes.entities:
            if isinstance(entity, Price) and entity.currency:
                dollars = self.dollars if entity.currency == "USD" else None
                self.currency = dollars or entity.currency
                self.metric += _CURRENCY.get(entity.currency, 0.0)
            elif isinstance(entity, Odometer) and entity.rule != "odometer.unsaid":
                self._distance(entity.unit)
            elif isinstance(entity, Measurement) and entity.unit:
                self.metric += (entity.unit in _METRIC) - (entity.unit in _US)
                if entity.unit in ("mi", "km"):
                    self._distance(entity.unit)

    def _distance(self, unit: str) -> None:
        self.miles += unit == "mi"
        self.kilometres += unit == "km"
        self.metric += 1 if unit == "km" else -1

    def distance(self) -> str:
        """The unit of a distance said without one."""
        if self.miles != self.kilometres:
            return "mi" if self.miles > self.kilometres else "km"
        return "km" if self.metric > 2 else "mi"

    def temperature(self) -> Literal["Cel", "degF"] | None:
        """The unit of bare degrees, or None where nothing tells."""
        return "Cel" if self.metric >= 1 else "degF" if self.metric <= -1 else None

    def torque(self) -> str:
        """The unit of a torque said without one before any was said."""
        return "N.m" if self.metric > 0 else "ft.lbf"
