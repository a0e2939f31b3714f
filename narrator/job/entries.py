"""What the ledger of fasteners has entered: groups, and the changes made to them in order."""

from __future__ import annotations

from narrator.job.groups import Change, Event, Group
from narrator.job.line import Line
from narrator.job.mention import Mention

_JUST = 2


class Entries:
    """Groups of one session and their events; ``_change`` is the way of the last one."""

    def __init__(self) -> None:
        self.groups: list[Group] = []
        self.events: list[Event] = []
        self._change: Change = "removed"
        self._round = 0
        self._turn = 0
        self._named: tuple[int, frozenset[str]] = (0, frozenset())

    def _enter(self, group: Group, change: Change, count: int, line: Line) -> None:
        if change == "removed" and self._change == "installed":
            self._round += 1
        self._finish(group)
        self._change = change
        if change == "removed":
            self._settle(group)
            group.parts |= {c.name for c in line.components} or self._subject(line)
            group.round = self._round
            group.removed += count
            group.steps.append(count)
            group.left = max(0, group.left - count)
            group.guessed = False
            group.known = max(group.off, count)
        else:
            if group.off < count <= group.off + group.left:
                self._finish()  # more go back than were told to come: the others are off too
            if group.guessed and count > group.removed:  # "bolts out ... eight bolts back"
                group.removed = count
            group.guessed = False
            group.installed += count
            group.pending, group.repeated = 0, False
        group.touched = self._turn
        if line.id not in group.utterances:
            group.utterances.append(line.id)
        self.events.append(Event(group, change, count, self._round, line.id))

    def _subject(self, line: Line) -> frozenset[str]:
        """The parts that the line just before named, where a line names none."""
        at, names = self._named
        return names if line.id - at <= _JUST else frozenset()

    def _finish(self, group: Group | None = None) -> None:
        """The work goes on: what was left of groups that come off in steps is off too, ``group`` aside."""
        for other in self.groups:
            if other is group:
                continue
            other.uncounted = False
            if other.left:
                self.events.append(Event(other, "removed", other.left, self._round, other.utterances[-1]))
                other.removed += other.left
                other.known, other.left = max(other.known, other.off), 0

    @staticmethod
    def _settle(group: Group) -> None:
        """Before a group comes off again: the part it holds was said to be back."""
        if group.pending and group.off > 0:
            group.utterances.append(group.pending)
            group.installed = group.removed - group.spared
        group.pending = 0

    def _group(self, m: Mention) -> Group:
        for group in self.groups:
            same_place = group.location == m.place or m.place is None or group.location is None
            same_owner = not group.of or not m.of or bool(group.of & m.of)
            if group.kind == m.kind and group.size == m.size and same_place and same_owner:
                group.location = group.location or m.place
                group.drive = group.drive or m.drive
                group.names, group.of = group.names | m.names, group.of | m.of
                return group
        made = Group(m.kind or "fastener", m.size, m.drive, m.place, names=m.names, of=m.of)
        made.sized_only = not m.kind_said and m.drive is None and m.kind == "bolt"
        self.groups.append(made)
        return made

    def _undo(self) -> None:
        event = self.events.pop()
        if event.change == "installed":
            event.group.installed -= event.count
        else:
            event.group.removed -= event.count
