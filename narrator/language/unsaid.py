"""What a session leaves unsaid: units, currencies, the kind of fastener a bare size stands for.

A ``Memory`` takes the utterances of one session in order, after the pipeline; it supplies what is missing
from what was said before.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal, NamedTuple

from narrator.language.candidates import candidates
from narrator.language.context import WORKING, role_of
from narrator.language.doubted import recall
from narrator.language.guesses import Reading
from narrator.language.holders import kind_by_holder
from narrator.language.leftover import unsaid
from narrator.language.locale import Locale
from narrator.language.plausible import look_at
from narrator.language.pounds import settle_pounds
from narrator.language.priced import price_by_network
from narrator.language.resettle import resettle
from narrator.language.sized import Sized, judged
from narrator.language.sizes import PLURALS, is_screw
from narrator.language.supply import supply_readings
from narrator.language.tokens import Notes
from narrator.language.told_fasteners import NAMED, complete, sure_kind
from narrator.language.vehicle import name_without_year
from narrator.values import (
    Component,
    Fastener,
    Material,
    Measurement,
    Odometer,
    Position,
    Price,
    Size,
    Tool,
    Vehicle,
)

DOLLARS = frozenset(("AUD", "CAD", "NZD", "SGD", "HKD"))
"""Currencies that are called dollars at home: a shop that has set one means it."""
_LEFT = frozenset(("figures", "unsaid", "candidates", "unnamed"))
"""What stages leave for the session to settle."""
_NAMES = frozenset((Component, Material, Position, Tool))
_FASTENED = NAMED.keys() | PLURALS.keys()
_COMPLETED = frozenset((Odometer, Price, Measurement))
_AT_WORK = (60, 120)
_DRIVEN = 10_000
"""From here on a number that opens a line soon after the machine was named is what its clock shows."""
OPENING = 8
"""Utterances in which a machine may be named with a short year or none."""


class Units(NamedTuple):
    """What is meant where no unit or currency is said, as told when a line had been taken in."""

    degrees: Literal["Cel", "degF"] | None = None
    dollars: str | None = None
    """Whose plain dollars are."""
    money: str | None = None
    """What amounts are in."""
    distance: str | None = None
    torque: str | None = None


@dataclass(slots=True)
class Memory:
    """What one session has said so far that later words rely on.

    ``currency`` and ``temperature`` are what the shop has set; what is said in the session wins over both.
    """

    currency: str = "USD"
    temperature: Literal["degF", "Cel"] = "degF"
    turn: int = 0
    locale: Locale = field(default_factory=Locale)
    readings: list[Reading] = field(default_factory=list)
    focus: list[tuple[int, str]] = field(default_factory=list)
    kinds: dict[Size, str] = field(default_factory=dict)
    single: set[Size] = field(default_factory=set)
    """Sizes whose kind only the place of a single one told."""
    groups: dict[int, str] = field(default_factory=dict)
    seen: set[str] = field(default_factory=set)
    names: set[str] = field(default_factory=set)
    """Of parts, tools and materials."""
    gauge: str = "pressure"
    """What the gauge measures that was named last: a dial gauge stays one when it is only *the gauge*."""
    meter: str | None = None
    """What the meter measured last."""
    set_up: tuple[int, frozenset[str]] = (0, frozenset())
    """The last turn that told what is measured, and what it set up to be read if it read nothing itself."""
    met: set[str] = field(default_factory=set)
    """The quantities that were read or spoken of."""
    warm: bool = False
    """Whether degrees were heard that can only be Celsius."""
    vehicle: bool = False
    odometer: bool = False

    _looked: Reading | None = None
    _degrees_said: Literal["Cel", "degF"] | None = None
    _torque_said: str | None = None
    """The units of the last temperature and the last torque that were said with one, and the last reading
    when the readings were gone through for them: they are asked at every line, while few measure anything."""
    _told: tuple[Reading | None, tuple[int, bool]] = (None, (0, False))
    _units: Units | None = None
    """What was told of units last, and what had been heard by then."""

    def supply(self, notes: Notes) -> bool:
        """Complete one utterance's entities; call once for each utterance, in order.

        Returns whether an entity was added, so that cues over entities must be found anew.
        """
        self.turn += 1
        before = len(notes.entities)
        recall(notes, self.names)
        self.locale.hear(notes)
        values = _has_values(notes)
        if values:
            self._vehicle(notes)
            self._odometer(notes)
            self._fasteners(notes)
            resettle(self, notes)
            settle_pounds(self, notes)
            price_by_network(notes)
        supply_readings(self, notes)
        if values:
            self._complete(notes)
            look_at(notes)
        notes.scratch["units"] = self._units_told()
        return len(notes.entities) != before

    def _units_told(self) -> Units:
        """What is meant by now, worked out anew where anything was said that may change it."""
        last, heard = self.readings[-1] if self.readings else None, (self.locale.heard, self.warm)
        if self._units is None or last is not self._told[0] or heard != self._told[1]:
            self._told = last, heard
            self._units = Units(
                degrees=self.told(),
                dollars=None if self.currency in DOLLARS else self.locale.home_dollars(),
                money=None if self.currency != "USD" else self.locale.home_currency(),
                distance=self.locale.distance(),
                torque=self.torque(),
            )
        return self._units

    def _vehicle(self, notes: Notes) -> None:
        if not self.vehicle and self.turn <= OPENING and "unnamed" in notes.scratch:
            name_without_year(notes)
        for entity in [e for e in notes.entities if isinstance(e, Vehicle)]:
            if self.vehicle or (entity.rule != "vehicle.year" and self.turn > OPENING):
                notes.entities.remove(entity)
            else:
                self.vehicle = True

    def _odometer(self, notes: Notes) -> None:
        """A large number that is all an utterance says, soon after the machine was named."""
        self.odometer |= Odometer in map(type, notes.entities)
        for one in unsaid(notes) if "unsaid" in notes.scratch else ():
            first = one.start <= 1 and (one.value or 0) >= _DRIVEN and not _held(notes)
            alone = first or (one.start <= 1 and len(notes.words) - one.end <= 1)
            whole = one.value is not None and one.value == int(one.value) and 3000 <= one.value < 2_000_000
            if alone and whole and self.vehicle and not self.odometer and self.turn <= OPENING:
                named = {"km", "kilometre", "kilometres", "kilometer", "kilometers"}.isdisjoint(notes.words)
                at, unit, value = (
                    (one.start, one.end),
                    self.locale.distance() if named else "km",
                    int(one.value or 0),
                )
                made = Odometer(span=notes.span(*at), at=at, rule="odometer.alone", value=value, unit=unit)
                notes.entities.append(made)
                self.odometer = True

    def _fasteners(self, notes: Notes) -> None:
        self._candidates(notes)
        complete(notes, self.names)
        named: str | None = None
        found = [e for e in notes.entities if isinstance(e, Fastener)]
        if not found:
            return
        for entity in sorted(found, key=lambda e: e.at):
            if not entity.rule.startswith("size."):
                named = entity.kind
                if entity.size is not None:
                    self.kinds[entity.size] = entity.kind
                continue
            kind = self._kind(notes, entity, named)
            if entity.size is not None:
                self.kinds[entity.size] = kind
            if entity.rule == "size.all" and entity.count is not None:
                kind = self.groups[entity.count]
            if kind != entity.kind:
                notes.entities[notes.entities.index(entity)] = replace(entity, kind=kind)
        self.seen.update(e.kind for e in notes.entities if isinstance(e, Fastener))
        for group in notes.entities:
            if isinstance(group, Fastener) and group.count and group.rule != "size.all":
                self.groups[group.count] = group.kind

    def _candidates(self, notes: Notes) -> None:
        """Take in what only the session can settle, then the sizes that the model takes for fasteners."""
        for candidate in candidates(notes) if "candidates" in notes.scratch else ():
            made = candidate.fastener
            known = made.size in self.kinds
            if made.rule == "size.all":
                known = made.count in self.groups
            elif not made.rule.startswith("size."):
                known = made.kind in self.seen
            if (candidate.strong or known) and made.size is not None:
                self._no_length(notes, made)
            if (candidate.strong or known) and not self._overlaps(notes, made):
                notes.entities.append(made)
        for one in self._sizes(notes):
            if not any(isinstance(e, Fastener) and one.overlaps(e.at) for e in notes.entities):
                self._no_length(notes, one.fastener)
                self._enter_size(notes, one)

    def _sizes(self, notes: Notes) -> list[Sized]:
        """Sizes that no rule entered."""
        return judged(notes, self.kinds)

    @staticmethod
    def _enter_size(notes: Notes, one: Sized) -> None:
        """A fastener of its own, or what those named right before it are (*the nut, that's a thirteen*)."""
        before = [e for e in notes.entities if isinstance(e, Fastener) and e.at[1] <= one.fastener.at[0]]
        last = max(before, key=lambda e: e.at, default=None)
        if last is not None and last.size is None and last.kind_said and one.tells_of(notes, last.at[1]):
            notes.entities[notes.entities.index(last)] = replace(last, size=one.fastener.size)
        else:
            notes.entities.append(one.fastener)

    def _kind(self, notes: Notes, entity: Fastener, named: str | None) -> str:
        """The kind of a bare size: as last named with it, else by its place, else the utterance's noun.

        The network's word on it goes before where it is sure.
        """
        known = self.kinds.get(entity.size) if entity.size else None
        if is_screw(entity.size):
            return known or "screw"
        if known and entity.size in self.single and (entity.count or 1) > 1:
            known = None
        if entity.rule != "size.all" and (told := sure_kind(notes, entity, known)):
            return told
        if known:
            return known
        plain = entity.drive is None and entity.kind == "bolt"
        if plain and (held := kind_by_holder(notes, entity, after=True)):
            if entity.size and entity.count == 1:
                self.single.add(entity.size)  # one ten on the post tells nothing of four tens elsewhere
            return held
        if entity.drive is None and named in ("bolt", "nut"):
            return named
        held = kind_by_holder(notes, entity, after=False) if plain else None
        if held and entity.size and entity.count == 1:
            self.single.add(entity.size)
        return held or entity.kind

    @staticmethod
    def _no_length(notes: Notes, made: Fastener) -> None:
        """A size of fasteners is no length: *five half inch*."""
        notes.entities[:] = [
            e
            for e in notes.entities
            if not (isinstance(e, Measurement) and e.at[0] < made.at[1] and made.at[0] < e.at[1])
        ]

    @staticmethod
    def _overlaps(notes: Notes, made: Fastener) -> bool:
        return any(e.at[0] < made.at[1] and made.at[0] < e.at[1] for e in notes.entities)

    def _complete(self, notes: Notes) -> None:
        for n, entity in enumerate(notes.entities):
            if type(entity) not in _COMPLETED:
                continue
            if isinstance(entity, Odometer) and entity.rule == "odometer.unsaid":
                notes.entities[n] = replace(entity, unit=self.locale.distance())
            elif isinstance(entity, Price) and entity.currency is None:
                notes.entities[n] = replace(entity, currency=self.locale.currency or self.currency)
            elif isinstance(entity, Price) and entity.rule == "money.usd":
                at_home = self.currency if self.currency in DOLLARS else None
                notes.entities[n] = replace(entity, currency=at_home or self.locale.home_dollars() or "USD")
            elif isinstance(entity, Measurement) and entity.rule == "unit.degree":
                notes.entities[n] = self._degrees(notes, entity)

    def _degrees(self, notes: Notes, entity: Measurement) -> Measurement:
        """Bare degrees are a temperature, but an angle straight after a torque."""
        torque = [
            e for e in notes.entities
            if isinstance(e, Measurement) and e.quantity == "torque" and 0 <= entity.at[0] - e.at[1] <= 4
        ]  # fmt: skip
        if torque:
            return replace(entity, role="setting")
        role = role_of(notes, entity.at, "temperature")
        unit = self.degrees(entity.value, notes.words)
        settled = self.told() is not None
        return replace(entity, quantity="temperature", unit=unit, role=role, settled=settled)

    def degrees(self, value: float, words: Sequence[str]) -> str:
        """The unit of bare degrees: as told, else as the shop has set.

        A thermostat, an engine or a motor at work is at 60 to 120 degrees Celsius, which would be cold in
        degrees Fahrenheit; once that was heard it holds for the session where nothing else tells.
        """
        self.warm |= _AT_WORK[0] <= value <= _AT_WORK[1] and not WORKING.isdisjoint(words)
        return self.told() or self.temperature

    def torque_said(self) -> str | None:
        """The unit of the torque that was said with one last."""
        self._look()
        return self._torque_said

    def torque(self) -> str:
        """The unit of a torque said without one: as one was said last, else that of the session's system."""
        return self.torque_said() or self.locale.torque()

    def told(self) -> Literal["Cel", "degF"] | None:
        """What the session tells of bare degrees: as last said, else by its other units and words."""
        self._look()
        return self._degrees_said or self.locale.temperature() or ("Cel" if self.warm else None)

    def _look(self) -> None:
        """Find the units said last, if anything was read since they were looked for."""
        last = self.readings[-1] if self.readings else None
        if last is not self._looked:
            self._looked = last
            said = {r.quantity: r.unit for r in self.readings if r.said}  # the last of each
            degrees, self._torque_said = said.get("temperature"), said.get("torque")
            self._degrees_said = None if degrees is None else "Cel" if degrees == "Cel" else "degF"


def _has_values(notes: Notes) -> bool:
    """Whether a line has or may have any value or fastener: many only name things."""
    return not (
        _LEFT.isdisjoint(notes.scratch)
        and _NAMES.issuperset(map(type, notes.entities))
        and _FASTENED.isdisjoint(notes.words)
    )


def _held(notes: Notes) -> bool:
    """Whether a line says money or a measurement."""
    return any(isinstance(e, (Price, Measurement)) for e in notes.entities)


def units_told(notes: Notes) -> Units:
    """What was told of units when a line had been taken in."""
    found = notes.scratch.get("units")
    return found if isinstance(found, Units) else Units()
