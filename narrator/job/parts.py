"""Parts and how far each has come: needed, ordered, received, fitted."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Sequence
from functools import lru_cache

from narrator.job.line import Line
from narrator.job.naming import Sharers, likeness
from narrator.job.putting_in import is_half_of, put_in, puts_in, puts_in_new
from narrator.job.record import PartRow, PriceRow
from narrator.paths import GRAMMARS
from narrator.values import Component, Fastener, Material, PartNumber, Price

_STATES = ("needed", "ordered", "received", "fitted")
_SAME = 0.7
_SOON = 4
"""So many lines after they were told parts may be *both* and *them*."""


@lru_cache(maxsize=1)
def _words() -> dict[str, frozenset[str]]:
    table = tomllib.loads((GRAMMARS / "deeds.toml").read_text(encoding="utf-8"))["getting"]
    return {name: frozenset(words.split()) for name, words in table.items()}


class Parts:
    """Parts and how far each has come; a part fitted is known by the work that fits it."""

    def __init__(self) -> None:
        self.rows: list[PartRow] = []
        self._sharers = Sharers()
        """The numbers of rows, by the words of their names."""
        self._focus: str | None = None
        self._told_at: dict[int, int] = {}
        self._lines = 0

    def read(self, line: Line) -> list[str]:
        """Take in one line; gives the names of parts spoken of before that it fits."""
        fitted: list[str] = []
        self._lines += 1
        told = (line.does("part") and not self._only_work(line)) or (line.does("plan") and self._wanted(line))
        told = told and not self._went_back(line)
        focus = self._told(line) if told else self._comes(line)
        works = line.does("step")
        put = [c for c in line.components if puts_in(line, c)] if not works else []
        for component in put:
            self._advance(self._row(component.name, line), "fitted")
        for row in self.rows if told and not works else ():
            if row.state != "fitted" and puts_in_new(line, row.name.rsplit(maxsplit=1)[-1]):
                self._advance(row, "fitted")
        if works:
            before = {row.name for row in self.rows if row.state != "fitted"}
            waiting = put_in(line, self._waiting())
            self._fitted(line, [row.name for row in waiting])
            for row in waiting:
                self._advance(row, "fitted")
                row.utterances += [line.id] if line.id not in row.utterances else []
            fitted = [row.name for row in self.rows if row.state == "fitted" and row.name in before]
        self._focus = focus or (line.components[0].name if line.components else self._focus)
        return fitted

    def _told(self, line: Line) -> str | None:
        """Take in a line of parts; the name of the part that it told, if any."""
        numbers, prices = line.entities(PartNumber), line.entities(Price)
        things: list[Component | Material] = [
            c for c in line.components if not line.is_place(c) or _of_a_set(line, c)
        ]
        priced = [m for m in line.materials if any(0 <= p.at[0] - m.at[1] < 3 for p in prices)]
        things = sorted([*things, *priced] or line.materials, key=lambda e: e.at)
        owners = {_owner(things, e.at[0]) for e in (*prices, *numbers)}
        places = [t.at[0] for t in things]
        told = [n for n in range(len(things)) if not owners or n in owners or _come(_clause(line, places, n))]
        rows = {n: self._row(things[n].name, line) for n in told}
        if not things:
            names = [row.name for row in self._meant(line)] or _fasteners(line)
            names = names or ([self._focus] if self._focus else [])
            rows = {n: self._row(name, line) for n, name in enumerate(names)}
        for number in reversed(numbers):
            if (row := rows.get(_owner(things, number.at[0]))) is not None:
                row.number = number.number
        for price in reversed(prices):
            if (row := rows.get(_owner(things, price.at[0]))) is not None:
                row.price = PriceRow(amount=f"{price.amount:.2f}", currency=price.currency)
        for n, row in rows.items():
            self._advance(row, self._state(line, _clause(line, places, n)))
            self._told_at[id(row)] = self._lines
        return next((row.name for row in rows.values()), None)

    def _meant(self, line: Line) -> list[PartRow]:
        """Rows that a line without a full name means: *kit came in*, *got both on the shelf*."""
        waiting = self._waiting()
        named = [row for row, _ in waiting if row.name.split()[-1] in line.tokens]
        if named:
            return named[-1:]
        if not _words()["all"].isdisjoint(line.tokens):
            return [row for row, ago in waiting if ago <= _SOON]
        return []

    @staticmethod
    def _went_back(line: Line) -> bool:
        """*Wrong hub showed up, sent it back*: nothing new is to be had."""
        words, tokens = _words(), frozenset(line.tokens)
        said = bool(line.entities(PartNumber)) or bool(line.entities(Price))
        return not said and bool(words["wrong"] & tokens) and bool(words["returned"] & tokens)

    def _comes(self, line: Line) -> str | None:
        """Take in that parts told before came, or went back: *picked it up at lunch*, *sent them back*."""
        words, tokens = _words(), line.tokens
        if line.does("aside", "caution", "concern", "hypothesis") or words["comes"].isdisjoint(tokens):
            return None
        heard = set(_singular(line.tokens))
        named = [row for row, _ in self._waiting() if not heard.isdisjoint(row.name.split())]
        it = [row for row, ago in self._waiting() if ago <= _SOON and not line.components]
        if words["it"].isdisjoint(line.tokens[:4]):
            it = []
        for row in named or it[-1:]:
            if not words["returned"].isdisjoint(tokens) or not words["wrong"].isdisjoint(tokens):
                row.state = "ordered" if row.state == "received" else row.state
            elif words["not_yet"].isdisjoint(tokens):
                self._advance(row, "received")
                self._told_at[id(row)] = self._lines
            else:
                continue
            row.utterances += [line.id] if line.id not in row.utterances else []
        return None

    def _waiting(self) -> list[tuple[PartRow, int]]:
        """Parts told and not fitted, the last told at the end, each with how many lines ago that was."""
        told = [(row, self._told_at[id(row)]) for row in self.rows if id(row) in self._told_at]
        told.sort(key=lambda one: one[1])
        return [(row, self._lines - at) for row, at in told if row.state != "fitted"]

    @staticmethod
    def _only_work(line: Line) -> bool:
        """*Clean the bracket and grease both pins*: work on what is there, no word of a part to be had."""
        words = set(line.tokens)
        said = bool(line.entities(PartNumber)) or bool(line.entities(Price))
        of_parts = _words()["ordered"] | _words()["received"] | _words()["new"]
        return line.does("step") and not said and words.isdisjoint(of_parts)

    @staticmethod
    def _wanted(line: Line) -> bool:
        """*I still have to order new pads*: a part in a plan; so is one with its price or number."""
        priced = bool(line.entities(Price))
        if line.components and priced:
            return True
        for component in line.components:
            if not _words()["new"].isdisjoint(line.tokens[max(0, component.at[0] - 2) : component.at[0]]):
                return not _words()["wanting"].isdisjoint(line.tokens[: component.at[0]])
        return False

    @staticmethod
    def _state(line: Line, clause: Sequence[str]) -> str:
        """How far a part has come by its own words of the line, else by the whole line."""
        if line.does("plan") and not line.does("part"):
            return "needed"
        return _come(clause) or _come(line.tokens) or "needed"

    def _fitted(self, line: Line, put: Sequence[str]) -> None:
        """Parts that the line names and fits; ``put`` are those told before that it puts in."""
        on = line.has("motion.on")
        for component in line.components:
            words = line.tokens[max(0, component.at[0] - 3) : component.at[0]]
            row = self.find(component.name)
            known = row is not None or is_half_of(component.name, put)
            if "new" in words and not known and not line.is_place(component):
                row = self._row(component.name, line)
            on_it = on or _swapped(line, component)
            if row is not None and ("new" in words or on_it) and "old" not in words:
                self._advance(row, "fitted")
        for fastener in line.entities(Fastener):
            if fastener.new and on and (row := self.find(fastener.kind)) is not None:
                self._advance(row, "fitted")

    def find(self, name: str) -> PartRow | None:
        """The part that a spoken name means."""
        best, most = None, 0.0
        for row in (self.rows[n] for n in self._sharers.of(name)):
            if (fit := likeness(name, row.name)) > most:
                best, most = row, fit
        return best if most >= _SAME else None

    def _row(self, name: str, line: Line) -> PartRow:
        row = self.find(name)
        if row is None:
            row = PartRow(name=name, state="needed")
            self._sharers.enter(name, len(self.rows))
            self.rows.append(row)
        if line.id not in row.utterances:
            row.utterances.append(line.id)
        return row

    @staticmethod
    def _advance(row: PartRow, state: str) -> None:
        if _STATES.index(state) > _STATES.index(row.state):
            row.state = state  # type: ignore[assignment]


def _come(tokens: Sequence[str]) -> str | None:
    """How far a part has come by some words; None where they do not tell."""
    words = _words()
    to_do = words["still_to"]
    said = {w for n, w in enumerate(tokens) if w != "order" or not n or tokens[n - 1] not in to_do}
    if said & words["ordered"]:
        return "ordered"
    received = said & words["received"]
    if received:  # "here tomorrow morning" is not here yet
        return "ordered" if received == {"here"} and said & words["soon"] else "received"
    if said & words["days"] and not said & (words["till"] | words["wanting"] | to_do):
        return "ordered"  # *wheel cylinder's in stock, shoes friday*
    return None


def _fasteners(line: Line) -> list[str]:
    """*Needs a new washer*: fasteners that are to be had."""
    wanted = not _words()["wanting"].isdisjoint(line.tokens)
    return list(dict.fromkeys(f.kind for f in line.entities(Fastener) if wanted or f.new))


def _swapped(line: Line, component: Component) -> bool:
    """*Changed the stat*, *swapped both mounts*: what was to be had is in, not only changed over."""
    words = _words()
    lead = [
        t for t in line.tokens[max(0, component.at[0] - 3) : component.at[0]] if t not in words["articles"]
    ]
    return lead[-1:] in (["swapped"], ["changed"]) and words["over"].isdisjoint(line.tokens)


def _of_a_set(line: Line, component: Component) -> bool:
    """*A set of brushes*: no place, though *of* stands before it."""
    before = line.tokens[max(0, component.at[0] - 2) : component.at[0]]
    return len(before) == 2 and before[1] == "of" and before[0] in _words()["sets"]


def _owner(things: Sequence[Component | Material], at: int) -> int:
    """Which of a line's things a price or number is of: the last named before it, else the first."""
    return max((n for n, thing in enumerate(things) if thing.at[1] <= at), default=0)


def _clause(line: Line, places: Sequence[int], n: int) -> Sequence[str]:
    """The words of a part of several: from it, or from the line's start for the first, to the next."""
    if len(places) < 2 or n >= len(places):
        return line.tokens
    return line.tokens[places[n] if n else 0 : places[n + 1] if n + 1 < len(places) else None]


def _singular(tokens: Sequence[str]) -> Iterator[str]:
    for token in tokens:
        yield token
        yield token.removesuffix("s")
