"""Work done, parts, verifications, cautions and what is left open."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache

from narrator.job.line import Line
from narrator.job.naming import likeness
from narrator.job.outcome import verification_outcome
from narrator.job.putting_in import put_in
from narrator.job.record import (
    CautionRow,
    CorrectionRow,
    PartRow,
    PriceRow,
    StepRow,
    VerificationRow,
)
from narrator.job.stage import Role
from narrator.job.told_cure import falls_short
from narrator.job.unlisted import phrase
from narrator.paths import GRAMMARS
from narrator.values import Component, Material, PartNumber, Price

_STATES = ("needed", "ordered", "received", "fitted")
_SAME = 0.7
_AFTER = 3
_ONES = frozenset("one ones 'un un".split())
_BEFORE_NOUN = frozenset("the a an new this that some old of my his her its our their no with and's".split())
_ORDERED = frozenset("order ordered ordering backorder coming truck sending arrives delivery orders".split())
_STILL_TO = frozenset("to must should will 'll i'll we'll gonna".split())
_FRESH = frozenset(("new", "fresh"))
_ELSEWHERE = frozenset("over sides round around positions places ends end".split())
_NEW = frozenset("new replacement fresh".split())
_WANTING = frozenset("order need needs get buy want wants fit quote".split())
_RECEIVED = frozenset(
    "here arrived came stock shelf drawer box got collected picked landed carry bin".split()
)


@lru_cache(maxsize=1)
def _deeds() -> dict[str, str]:
    """Spoken verb to the action it is written as (grammars/deeds.toml)."""
    rows = tomllib.loads((GRAMMARS / "deeds.toml").read_text(encoding="utf-8"))["deed"]
    return {word: row["action"] for row in rows for word in row["words"]}


@lru_cache(maxsize=1)
def _stuff() -> dict[str, str]:
    """What is only taken for one deed, to that deed: *carb cleaner through the jet*."""
    rows = tomllib.loads((GRAMMARS / "deeds.toml").read_text(encoding="utf-8"))["deed"]
    return {word: row["action"] for row in rows for word in row.get("stuff", ())}


@lru_cache(maxsize=1)
def _telling() -> frozenset[str]:
    """Words without one of which a line of work tells no change."""
    return _FRESH.union(_deeds(), _stuff())


def _is_noun(line: Line, i: int) -> bool:
    """Whether a word that may be a deed names a thing here: *the seal*, *some grease*, *wire brush*."""
    if any(e.at[0] <= i < e.at[1] for e in line.understood.entities):
        return True
    return i > 0 and line.tokens[i - 1] in _BEFORE_NOUN


class Work:
    """Steps in order, and the corrections among them."""

    def __init__(self) -> None:
        self.steps: list[StepRow] = []
        self.corrections: list[CorrectionRow] = []
        self._focus: str | None = None

    def read(self, line: Line, settled: str | None = None, fitted: Sequence[str] = ()) -> None:
        """Take in one line; ``settled`` names the cause settled last, ``fitted`` parts that it fits."""
        if not line.does("step"):
            return
        self.steps.append(StepRow(text=line.understood.clean, utterance=line.id))
        if fitted or not _telling().isdisjoint(line.tokens):
            self._changes(line, self._meant(settled), fitted)
        if line.components:
            self._focus = line.main_components()[0].name

    def _changes(self, line: Line, meant: str | None, fitted: Sequence[str]) -> None:
        """What a line of work replaces and does; ``meant`` is what it is done to where nothing is named."""
        for name in (*self._new(line, meant), *fitted):
            if not _is_half_of(name, fitted):
                self._correct("replace", name, line)
        for i, word in enumerate(line.tokens):
            action = _deeds().get(word)
            action = None if action is None or _is_noun(line, i) else action
            if action == "replace" and not _ELSEWHERE.isdisjoint(line.tokens):
                continue  # *swapped the coils over*
            action = action or _stuff().get(word)
            if action and (done_to := self._object(line, i, meant)):
                self._correct(action, done_to, line)

    def _new(self, line: Line, meant: str | None) -> Iterator[str]:
        """What is fitted new: *the new hose*, *new linings in*, *old sender out and the new one in*."""
        for component in line.components:
            if not _FRESH.isdisjoint(line.tokens[max(0, component.at[0] - 3) : component.at[0]]):
                yield component.name
        for i in range(len(line.tokens) - 1):
            if line.tokens[i] not in _FRESH:
                continue
            if line.tokens[i + 1] in _ONES:
                old = [c for c in line.main_components() if c.at[1] <= i]
                name = old[0].name if old else meant
            elif not any(e.at[0] <= i + 1 < e.at[1] for e in line.understood.entities):
                found = phrase(line, i + 1, article=False)
                name = found.name if found else None
            else:
                continue
            if name:
                yield name

    def _object(self, line: Line, verb: int, meant: str | None) -> str | None:
        """What a deed is done to: the next thing that is no place, one named before, or what is meant."""
        materials = {m.name for m in line.materials}
        things = [c for c in line.components if c.name not in materials]
        main = [c for c in things if not line.is_place(c)]
        after = [c for c in main if c.at[0] > verb]
        if line.tokens[verb + 1 : verb + 2] in (("it",), ("them",), ("that",)):
            after = []  # *scrub it, wire brush and brake cleaner*
            main = [c for c in main if c.at[1] <= verb]
        chosen = after or main or [c for c in things if c.at[0] > verb]
        return chosen[0].name if chosen else meant

    def _meant(self, settled: str | None) -> str | None:
        """What a deed without a name is done to: the cause just settled, until something was done to it."""
        if settled and not any(likeness(settled, row.component) >= _SAME for row in self.corrections):
            return settled
        return self._focus

    def _correct(self, action: str, component: str, line: Line) -> None:
        for row in self.corrections:
            if row.action == action and likeness(component, row.component) >= _SAME:
                if line.id not in row.utterances:
                    row.utterances.append(line.id)
                return
        self.corrections.append(CorrectionRow(action=action, component=component, utterances=[line.id]))


def _is_half_of(name: str, wholes: Iterable[str]) -> bool:
    """Whether a name is a part of another's: *new pin*, where the slide pin kit goes in."""
    words = frozenset(name.split())
    return any(words < frozenset(whole.split()) for whole in wholes)


class Parts:
    """Parts and how far each has come; a part fitted is known by the work that fits it."""

    def __init__(self) -> None:
        self.rows: list[PartRow] = []
        self._focus: str | None = None
        self._told_at: dict[int, int] = {}
        self._lines = 0

    def read(self, line: Line) -> list[str]:
        """Take in one line; gives the names of parts spoken of before that it fits."""
        fitted: list[str] = []
        self._lines += 1
        if (line.does("part") and not self._only_work(line)) or (line.does("plan") and self._wanted(line)):
            self._told(line)
        if line.does("step"):
            before = {row.name for row in self.rows if row.state != "fitted"}
            put = put_in(line, self._waiting())
            self._fitted(line, [row.name for row in put])
            for row in put:
                self._advance(row, "fitted")
                row.utterances += [line.id] if line.id not in row.utterances else []
            fitted = [row.name for row in self.rows if row.state == "fitted" and row.name in before]
        if line.components:
            self._focus = line.components[0].name
        return fitted

    def _told(self, line: Line) -> None:
        numbers, prices = line.entities(PartNumber), line.entities(Price)
        things: list[Component | Material] = [c for c in line.components if not line.is_place(c)]
        things = things or list(line.entities(Material))
        names = [t.name for t in things[: max(1, len(prices))]] or ([self._focus] if self._focus else [])
        for n, name in enumerate(names):
            row = self._row(name, line)
            if n < len(numbers):
                row.number = numbers[n].number
            if n < len(prices):
                row.price = PriceRow(amount=f"{prices[n].amount:.2f}", currency=prices[n].currency)
            self._advance(row, self._state(line))
            self._told_at[id(row)] = self._lines

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
        return line.does("step") and not said and words.isdisjoint(_ORDERED | _RECEIVED | _NEW)

    @staticmethod
    def _wanted(line: Line) -> bool:
        """*I still have to order new pads*: a part in a plan."""
        for component in line.components:
            if not _NEW.isdisjoint(line.tokens[max(0, component.at[0] - 2) : component.at[0]]):
                return not _WANTING.isdisjoint(line.tokens[: component.at[0]])
        return False

    @staticmethod
    def _state(line: Line) -> str:
        tokens = line.tokens
        words = {w for n, w in enumerate(tokens) if w != "order" or not n or tokens[n - 1] not in _STILL_TO}
        if line.does("plan") and not line.does("part"):
            return "needed"
        if words & _ORDERED:
            return "ordered"
        return "received" if words & _RECEIVED else "needed"

    def _fitted(self, line: Line, put: Sequence[str]) -> None:
        """Parts that the line names and fits; ``put`` are those told before that it puts in."""
        on = line.has("motion.on")
        for component in line.components:
            words = line.tokens[max(0, component.at[0] - 3) : component.at[0]]
            row = self.find(component.name)
            known = row is not None or _is_half_of(component.name, put)
            if "new" in words and not known and not line.is_place(component):
                row = self._row(component.name, line)
            if row is not None and ("new" in words or on) and "old" not in words:
                self._advance(row, "fitted")

    def find(self, name: str) -> PartRow | None:
        """The part that a spoken name means."""
        best, most = None, 0.0
        for row in self.rows:
            if (fit := likeness(name, row.name)) > most:
                best, most = row, fit
        return best if most >= _SAME else None

    def _row(self, name: str, line: Line) -> PartRow:
        row = self.find(name)
        if row is None:
            row = PartRow(name=name, state="needed")
            self.rows.append(row)
        if line.id not in row.utterances:
            row.utterances.append(line.id)
        return row

    @staticmethod
    def _advance(row: PartRow, state: str) -> None:
        if _STATES.index(state) > _STATES.index(row.state):
            row.state = state  # type: ignore[assignment]


class Verifications:
    """Checks after the repair and how each went."""

    def __init__(self) -> None:
        self._lines: list[Line] = []
        self._places: list[int] = []

    def read(self, line: Line, role: Role) -> None:
        """Take in one line, whose check is of this role."""
        if role == "verification":
            self._places.append(len(self._lines))
        self._lines.append(line)

    def rows(self) -> list[VerificationRow]:
        """The contract's verifications, one for each line that checks the repair."""
        rows = []
        for place in self._places:
            line = self._lines[place]
            after = self._lines[place + 1 : place + 1 + _AFTER]
            odds = -1.0 if falls_short(line) else verification_outcome([line], after)
            line.judged([line], after)
            rows.append(
                VerificationRow(
                    text=line.understood.clean, outcome="fail" if odds < 0 else "pass", utterances=[line.id]
                )
            )
        return rows


def cautions(lines: list[Line]) -> list[CautionRow]:
    """Safety warnings as spoken."""
    return [CautionRow(text=n.understood.clean, utterance=n.id) for n in lines if n.does("caution")]
