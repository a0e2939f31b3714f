"""The ledger of fasteners: every group that came off and went back on, as narrated.

A group is a kind, size and drive at one place. *The two nuts back on* finds the group it means by kind,
size, number still off, place and recency; *same again on the other side* repeats the last round.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from narrator.job.line import Line
from narrator.job.naming import likeness
from narrator.job.record import FastenerRow, SizeRow
from narrator.values import Component, Fastener, Size

Change = Literal["removed", "installed"]
_ONLY_TURNED = frozenset(
    "snug tight tighten nip pinch loosen slacken crack cracked retorque tightened loose finger".split()
)
_PLURAL_END = "s"
_FAR = 99.0
_TIES = frozenset({"tie", "wrap"})
"""Used up rather than refitted, so they are no ledger of things to put back."""


@dataclass(slots=True)
class Group:
    """Fasteners of one kind and size at one place."""

    kind: str
    size: Size | None
    drive: str | None
    location: str | None
    removed: int = 0
    installed: int = 0
    utterances: list[int] = field(default_factory=list)
    touched: int = 0

    @property
    def off(self) -> int:
        """How many are still off."""
        return self.removed - self.installed


@dataclass(frozen=True, slots=True)
class Event:
    """One change of one group, kept so that it can be repeated."""

    group: Group
    change: Change
    count: int
    round: int
    line: int


class FastenerLedger:
    """Reads the lines of one session in order."""

    def __init__(self) -> None:
        self.groups: list[Group] = []
        self.events: list[Event] = []
        self._change: Change = "removed"
        self._round = 0
        self._turn = 0

    def read(self, line: Line) -> None:
        """Take in one line; only steps (and tests that take something off) change the ledger."""
        self._turn += 1
        if not line.does("step", "test") or line.does("plan", "aside"):
            return
        fasteners = line.entities(Fastener)
        counted = any(f.count and f.count_said for f in fasteners)
        if line.has("repeat.same_again") and line.does("step") and self.events and not counted:
            self._again(line)
            return
        if not fasteners and line.has("repeat.reverse") and line.does("step"):
            for group in [g for g in self.groups if g.off > 0]:
                self._enter(group, "installed", group.off, line)
            return
        for fastener in fasteners:
            self._one(line, fastener, fasteners)

    def _one(self, line: Line, fastener: Fastener, others: list[Fastener]) -> None:
        words = line.tokens
        before = set(words[max(0, fastener.at[0] - 4) : fastener.at[0]])
        around = before | set(words[fastener.at[1] : fastener.at[1] + 3])
        if around & _ONLY_TURNED and not self._candidates(fastener) and not around & {"out", "off"} - {"not"}:
            return
        unsaid = fastener.count is None and not line.has("motion") and not self._candidates(fastener)
        if fastener.kind in _TIES or unsaid:
            return
        if "cracked" in around or (before & {"that", "those", "where"} and not line.has("motion")):
            return
        new = fastener.new or "new" in words[max(0, fastener.at[0] - 2) : fastener.at[1]]
        change = "installed" if new else self._direction(line, fastener, others)
        if not line.does("step") and (change == "installed" or self._cost(line, fastener, others, "off") > 3):
            return
        if "only" in before:
            self._undo(line, fastener)
        self._turn_to(change)
        if change == "removed":
            self._remove(line, fastener)
        else:
            self._install(line, fastener, new)

    def _turn_to(self, change: Change) -> None:
        if change == "removed" and self._change == "installed":
            self._round += 1
        self._change = change

    def _direction(self, line: Line, fastener: Fastener, others: list[Fastener]) -> Change:
        """The nearest word of motion decides; without one, what is off goes on."""
        off, on = (self._cost(line, fastener, others, way) for way in ("off", "on"))
        waiting = self._candidates(fastener)
        fits = any(fastener.count in (None, g.off) for g in waiting) or (
            bool(waiting) and sum(g.off for g in waiting) >= (fastener.count or 1)
        )
        if off == on:  # neither was said
            return "installed" if fits else "removed"
        if on < off:
            return "removed" if not waiting and off < _FAR else "installed"
        return "removed"

    @staticmethod
    def _cost(line: Line, fastener: Fastener, others: list[Fastener], way: str) -> float:
        """How far away the nearest word of this motion is; fasteners and clause ends in between cost more."""
        best = _FAR
        for cue in line.cues(f"motion.{way}"):
            if cue.text == "back" and line.tokens[cue.at[0] - 1 : cue.at[0]] == ("the",):
                continue  # a place
            gap = max(fastener.at[0] - cue.at[1], cue.at[0] - fastener.at[1], 0)
            low, high = min(fastener.at[0], cue.at[0]), max(fastener.at[1], cue.at[1])
            crossed = sum(1 for o in others if o is not fastener and low <= o.at[0] < high)
            breaks = sum(1 for b in line.understood.breaks if low < b < high)
            weak = 1.5 if cue.text in {"back", "away", "up", "on", "in"} else 0.0
            best = min(best, gap + 2.0 * crossed + breaks + weak)
        return best

    def _undo(self, line: Line, fastener: Fastener) -> None:
        """*Bolts back, but only two*: the number said with *only* replaces what the line entered before."""
        while self.events and self.events[-1].line == line.id and self.events[-1].group.kind == fastener.kind:
            event = self.events.pop()
            if event.change == "installed":
                event.group.installed -= event.count
            else:
                event.group.removed -= event.count

    # ------------------------------------------------------------ removing

    def _remove(self, line: Line, fastener: Fastener) -> None:
        count = fastener.count or (2 if self._plural(line, fastener) else 1)
        place = self._place(line, fastener)
        size, drive = fastener.size, fastener.drive
        if size is None and (known := self._on_again(fastener, place)):
            group = known
        else:
            group = self._group(fastener.kind, size, drive, place)
        self._enter(group, "removed", count, line)

    def _on_again(self, fastener: Fastener, place: str | None) -> Group | None:
        """A group named without size that came off before and went back: *the two nuts off again*."""
        same = [g for g in self.groups if g.kind == fastener.kind and g.removed and g.off <= 0]
        near = [g for g in same if g.location and place and likeness(place, g.location) >= 0.7]
        near = near or [g for g in same if g.installed == fastener.count]
        return max(near, key=lambda g: g.touched, default=None)

    # ------------------------------------------------------------ installing

    def _candidates(self, fastener: Fastener) -> list[Group]:
        off = [g for g in self.groups if g.off > 0]
        if fastener.size is not None:
            sized = [g for g in off if g.size == fastener.size]
            return [g for g in sized if g.kind == fastener.kind] or ([] if fastener.kind_said else sized)
        kind = [g for g in off if g.kind == fastener.kind]
        driven = [g for g in kind if fastener.drive and g.drive == fastener.drive]
        return driven or kind

    def _install(self, line: Line, fastener: Fastener, new: bool) -> None:
        place = self._place(line, fastener)
        found = self._candidates(fastener)
        found.sort(key=lambda g: (self._near(g, place), g.touched), reverse=True)
        count = fastener.count
        if not found:
            if new or "new" in line.tokens:
                group = self._known(fastener, place) or self._group(
                    fastener.kind, fastener.size, fastener.drive, place
                )
                self._enter(group, "installed", count or 1, line)
            return
        if count is None:
            every = self._plural(line, fastener) or "all" in line.tokens[: fastener.at[1]]
            self._enter(found[0], "installed", found[0].off if every else 1, line)
            return
        exact = [g for g in found if g.off == count]
        near = [g for g in exact if self._near(g, place)]
        if exact and not (self._near(found[0], place) and found[0].off > count):
            self._enter((near or exact)[0], "installed", count, line)
            return
        for group in found:
            part = min(group.off, count)
            self._enter(group, "installed", part, line)
            count -= part
            if not count:
                return
        if new:
            self._enter(found[0], "installed", count, line)

    def _known(self, fastener: Fastener, place: str | None) -> Group | None:
        same = [
            g
            for g in self.groups
            if g.kind == fastener.kind and (fastener.size is None or g.size == fastener.size)
        ]
        return max(same, key=lambda g: (self._near(g, place), g.touched), default=None)

    # ------------------------------------------------------------ repeating

    def _again(self, line: Line) -> None:
        last = self.events[-1].round
        events = [e for e in self.events if e.round == last]
        off_only = line.has("motion.off") and not line.has("motion.on", "work.change")
        on_only = (
            line.has("motion.on") and not line.has("motion.off") and any(e.group.off > 0 for e in events)
        )
        self._round += 1
        for event in events:
            if (off_only and event.change == "installed") or (on_only and event.change == "removed"):
                continue
            self._enter(event.group, event.change, event.count, line)
        self._change = "removed" if off_only else "installed"

    # ------------------------------------------------------------ small things

    def _enter(self, group: Group, change: Change, count: int, line: Line) -> None:
        if change == "removed":
            group.removed += count
        else:
            group.installed += count
        group.touched = self._turn
        if line.id not in group.utterances:
            group.utterances.append(line.id)
        self.events.append(Event(group, change, count, self._round, line.id))

    def _group(self, kind: str, size: Size | None, drive: str | None, place: str | None) -> Group:
        for group in self.groups:
            same_place = group.location == place or place is None or group.location is None
            if group.kind == kind and group.size == size and same_place:
                group.location = group.location or place
                group.drive = group.drive or drive
                return group
        self.groups.append(Group(kind, size, drive, place))
        return self.groups[-1]

    @staticmethod
    def _near(group: Group, place: str | None) -> bool:
        return bool(place and group.location and likeness(place, group.location) >= 0.7)

    @staticmethod
    def _plural(line: Line, fastener: Fastener) -> bool:
        return line.tokens[fastener.at[1] - 1].endswith(_PLURAL_END) and fastener.kind != "truss"

    @staticmethod
    def _place(line: Line, fastener: Fastener) -> str | None:
        """The component nearest to the fastener, one after it rather than one before it."""

        def distance(c: Component) -> float:
            return c.at[0] - fastener.at[1] if c.at[0] >= fastener.at[1] else 1.5 + fastener.at[0] - c.at[1]

        nearest = min(line.components, key=distance, default=None)
        return nearest.name if nearest else None

    def rows(self) -> list[FastenerRow]:
        """The contract's fasteners, in the order of first mention."""
        return [
            FastenerRow(
                kind=g.kind,
                size=SizeRow(value=g.size.value, unit=g.size.unit) if g.size else None,
                drive=g.drive,
                location=g.location,
                removed=g.removed,
                installed=g.installed,
                utterances=g.utterances,
            )
            for g in self.groups
        ]
