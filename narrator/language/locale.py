"""Which system of units a session speaks, judged by its units, its currency and its words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

from narrator.language.tables import load
from narrator.language.tokens import Notes
from narrator.values import Entity, Measurement, Odometer, Price

_TABLE = load("quantities")["locale"][0]
_METRIC, _US, _SPELT, _MAYBE, _HOME = (
    frozenset(_TABLE[name]) for name in ("metric", "us", "words", "weak_words", "us_words")
)
_SPELLING = frozenset(_TABLE["spelt_words"])
_CURRENCY: dict[str, float] = _TABLE["currency"]
_CELSIUS: dict[str, float] = _TABLE["celsius"]
_DOLLARS: dict[str, tuple[int, str]] = {
    **dict.fromkeys(_TABLE["dollars_eh"].split(), (0, "CAD")),
    **dict.fromkeys(_TABLE["dollars_tasman"].split(), (1, "AUD")),
    **{w: (2, code) for code, words in _TABLE["dollars"].items() for w in words.split()},
}
"""How plainly each word tells whose dollars are meant, and whose they are."""
_HYDRAULIC = frozenset(load("quantities")["hydraulic"][0]["words"])
_BRITISH = _SPELT - _SPELLING - frozenset(_TABLE["shared_words"])
_TELLING = _SPELT | _HOME | _DOLLARS.keys()
_HEARD = _TELLING | _HYDRAULIC
_VALUES = frozenset((Price, Odometer, Measurement))
_STERLING, _ABROAD = 2.0, 1.0
_METRIC_HOME = 2.5
"""The sum of signs from which who pays in dollars is no American."""
_CEL, _DEGF = 0.5, -1.0
"""Sums of signs from which bare degrees are Celsius, or down to which Fahrenheit (not by dollars)."""


@dataclass(slots=True)
class Locale:
    """``metric`` grows with metric and shrinks with US units; ``currency`` is the last one said.

    ``signs`` holds each thing that tells Celsius (above 0) from Fahrenheit once, however often it was said.
    """

    metric: float = 0.0
    currency: str | None = None
    miles: int = 0
    kilometres: int = 0
    dollars: str | None = None
    """Whose dollars are meant, by the words that tell it most plainly so far."""
    hydraulic: bool = False
    """Whether the machine works by oil under pressure."""
    signs: dict[str, float] = field(default_factory=dict)
    heard: int = 0
    """How often anything was heard that may tell."""
    _plain: int = -1
    _total: float = 0.0
    _british: float = 0.0
    """The sum of all signs, and of the words of Britain: asked at every line, while few lines hold a sign."""

    def hear(self, notes: Notes) -> None:
        """Take in what one utterance says with its unit."""
        if not _HEARD.isdisjoint(notes.words):
            self.heard += 1
            self._words(notes.words)
        for entity in notes.entities:
            if type(entity) in _VALUES:
                self.heard += 1
                self._value(entity)

    def _words(self, words: Sequence[str]) -> None:
        self.hydraulic = self.hydraulic or not _HYDRAULIC.isdisjoint(words)
        for word in words:
            if word in _SPELT:
                self.metric += 1
                self._sign(word, 0.2 if word in _SPELLING else 0.5 if word in _MAYBE else 1.0)
            elif word in _HOME:
                self._sign(word, -1.0)
            if word in _DOLLARS and _DOLLARS[word][0] > self._plain:
                self._plain, self.dollars = _DOLLARS[word]

    def _value(self, entity: Entity) -> None:
        if isinstance(entity, Price) and entity.currency:
            dollars = self.dollars if entity.currency == "USD" else None
            self.currency = dollars or entity.currency
            self.metric += _CURRENCY.get(entity.currency, 0.0)
            self._sign(self.currency, _CELSIUS.get(self.currency))
        elif isinstance(entity, Odometer) and entity.rule != "odometer.unsaid":
            self._distance(entity.unit)
        elif isinstance(entity, Measurement) and entity.unit:
            self.metric += (entity.unit in _METRIC) - (entity.unit in _US)
            self._sign(entity.unit, _CELSIUS.get(entity.unit))
            if entity.unit in ("mi", "km"):
                self._distance(entity.unit)

    def _sign(self, name: str, weight: float | None) -> None:
        if weight is not None and name not in self.signs:
            self.signs[name] = weight
            self._total = sum(self.signs.values())
            self._british = sum(self.signs.get(word, 0.0) for word in _BRITISH)

    def _distance(self, unit: str) -> None:
        self.miles += unit == "mi"
        self.kilometres += unit == "km"
        self.metric += 1 if unit == "km" else -1
        self._sign(unit, _CELSIUS.get(unit))

    def distance(self) -> str:
        """The unit of a distance said without one: as others are said, else that of the country."""
        if self.miles != self.kilometres:
            return "mi" if self.miles > self.kilometres else "km"
        if self.currency not in (None, "USD", "GBP") or (self.currency == "USD" and self._plain > 0):
            return "km"
        return "km" if self.metric > 2 and self.currency != "GBP" else "mi"

    def temperature(self) -> Literal["Cel", "degF"] | None:
        """The unit of bare degrees, or None where nothing tells."""
        return "Cel" if self._total >= _CEL else "degF" if self._total <= _DEGF else None

    def home_dollars(self) -> str | None:
        """Whose plain dollars are meant: by a word of one country, else by its other words and its roads.

        Who drives kilometres and pays in dollars, with no sign of the US, is a Canadian, or, where words of
        Britain are said and no miles, an Australian; None where nothing tells.
        """
        if self.dollars or self.miles > self.kilometres:
            return self.dollars
        if self._british >= _ABROAD / 2 and self._total >= _ABROAD:
            return "AUD"
        plainly = self._total >= _METRIC_HOME and not any(w < 0 for n, w in self.signs.items() if n != "USD")
        return "CAD" if plainly or (self.kilometres and self._total >= 0.0) else None

    def home_currency(self) -> str | None:
        """What amounts are in where no currency is ever said: by the words of a country, None without any."""
        british = self._british >= _ABROAD and self._total >= _STERLING
        return self.dollars or ("GBP" if british else None)

    def sterling(self) -> bool:
        """Whether a session pays in pounds: as said, or where its country is plain and its money unsaid."""
        return self.currency == "GBP" or (self.currency is None and self._total >= _STERLING)

    def torque(self) -> str:
        """The unit of a torque said without one before any was said."""
        return "N.m" if self.metric > 0 or self._total >= _CEL else "ft.lbf"
