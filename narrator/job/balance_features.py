"""What the model looks at that settles the ledger's totals: of lines, of events, of a kind and size."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

from narrator.job.balance_mentions import Key
from narrator.job.groups import Group, belongs
from narrator.job.ledger_words import ledger_words, number
from narrator.job.line import Line
from narrator.values import Fastener

Change = Literal["removed", "installed"]
_W = ledger_words()
_KINDS = ("bolt", "screw", "nut", "clip", "clamp", "washer", "pin", "stud")
_SEEN = 0.1
"""Lines of which the network is less sure tell nothing."""
_FAR = 400
"""So many of the last lines that were not understood are looked at: long sessions take no longer a line."""


@dataclass(frozen=True, slots=True)
class Noted:
    """One line: how sure the network is that something comes off and goes on, and what it names."""

    id: int
    off: float
    on: float
    numbers: frozenset[int]
    lost: bool
    new: bool
    parts: tuple[str, ...]
    kinds: frozenset[str]


@dataclass(frozen=True, slots=True)
class Event:
    """So many came off or went back in a line."""

    change: Change
    count: int
    line: int

    @property
    def off(self) -> int:
        """How many came off."""
        return self.count if self.change == "removed" else 0

    @property
    def on(self) -> int:
        """How many went back."""
        return self.count if self.change == "installed" else 0

    def sure(self, notes: dict[int, Noted]) -> float:
        """How sure the network is that something of its line goes this way."""
        note = notes.get(self.line)
        return 0.0 if note is None else note.on if self.change == "installed" else note.off

    def against(self, notes: dict[int, Noted]) -> float:
        """And the other way."""
        note = notes.get(self.line)
        return 0.0 if note is None else note.off if self.change == "installed" else note.on

    def counted(self, notes: dict[int, Noted]) -> float:
        """Whether its number was said."""
        note = notes.get(self.line)
        return float(note is not None and self.count in note.numbers)


@dataclass(slots=True)
class Heard:
    """What was heard of one kind and size."""

    key: Key
    groups: list[Group] = field(default_factory=list)
    events: list[Event] = field(default_factory=list)

    removed: int = 0
    installed: int = 0

    def add(self, event: Event) -> None:
        """One more event."""
        self.events.append(event)
        self.removed += event.off
        self.installed += event.on

    @property
    def left(self) -> int:
        """How many are still off; fewer than none where more went back."""
        return self.removed - self.installed


def noted(line: Line) -> Noted | None:
    """A line as far as it tells of fasteners; None where the network was not asked."""
    if not line.understood.moves or line.does("aside"):
        return None
    off, on = line.surely()
    words = line.tokens
    return Noted(
        line.id,
        off,
        on,
        frozenset(filter(None, map(number, words))),
        not _W["balance.lost"].isdisjoint(words),
        not _W["balance.new"].isdisjoint(words),
        tuple(c.name for c in line.components if not line.is_place(c)) if max(off, on) >= _SEEN else (),
        frozenset(f.kind for f in line.entities(Fastener)),
    )


class Told:
    """What a job told of its fasteners, gone through once."""

    def __init__(self, every: Sequence[Heard], lines: Sequence[Line]) -> None:
        self.every = every
        went = {e.line for heard in every for e in heard.events if e.on}
        came = {e.line for heard in every for e in heard.events if e.off}
        heard_in = {e.line for heard in every for e in heard.events}
        telling = [line for line in lines if line.id in heard_in or max(line.surely()) >= _SEEN]
        self.notes = {note.id: note for line in telling if (note := noted(line)) is not None}
        """Of the lines that an event was heard in, or that may tell of one."""
        self.checks = [line.id for line in lines if line.does("verification")]
        self.last, self.length = lines[-1].id, len(lines)
        self.went, self.moved = sorted(went), max(went | came, default=0)
        self.not_gone = [n for n in self.notes.values() if n.on >= _SEEN and n.id not in went][-_FAR:]
        """Lines of which the network thinks that something goes back, and of which nothing was entered."""
        self.not_come = [n for n in self.notes.values() if n.off >= _SEEN and n.id not in came][-_FAR:]
        self.uneven = [heard for heard in every if heard.left]


def features(one: Heard, told: Told) -> list[float]:
    """What is the same for every outcome of a kind and size."""
    notes, last = told.notes, told.last
    offs, ons = [e for e in one.events if e.off], [e for e in one.events if e.on]
    first_off = min((e.line for e in offs), default=0)
    last_off, last_on = (max((e.line for e in some), default=0) for some in (offs, ons))
    uneven = [h for h in told.uneven if h is not one]
    alike = [h for h in uneven if h.key[0] == one.key[0] or (one.key[1] and h.key[1] == one.key[1])]
    return [
        float(one.removed), float(one.installed), float(one.left), float(one.left == 0),
        float(len(offs)), float(len(ons)),
        *_spread_of([e.sure(notes) for e in offs]), *_spread_of([e.sure(notes) for e in ons]),
        max((e.against(notes) for e in offs), default=-1.0),
        max((e.against(notes) for e in ons), default=-1.0),
        _mean([e.counted(notes) for e in offs]), _mean([e.counted(notes) for e in ons]),
        *_unheard(one, "installed", told.not_gone, last_off),
        *_unheard(one, "installed", told.not_gone, first_off),
        *_unheard(one, "removed", told.not_come, 0),
        float(sum(notes[e.line].lost for e in ons if e.line in notes)),
        float(sum(notes[e.line].lost for e in offs if e.line in notes)),
        float(sum(notes[e.line].new for e in ons if e.line in notes)),
        float(last - last_off), float(last - last_on) if last_on else -1.0, float(last_on > last_off),
        float(one.key[1] is not None), float(_KINDS.index(one.key[0]) if one.key[0] in _KINDS else -1),
        float(len(told.uneven)), float(len(told.every)), float(len(alike)),
        float(any(h.left * one.left < 0 for h in alike)), float(any(h.left == -one.left for h in uneven)),
        float(max(g.known for g in one.groups)), float(any(g.guessed for g in one.groups)),
        float(any(g.sized_only for g in one.groups)), float(len(one.groups)),
        float(any(g.pending for g in one.groups)),
        float(sum(n > last_off for n in told.checks)), float(sum(n > told.moved for n in told.checks)),
        float(last - told.moved), float(told.length), float(sum(n > last_off for n in told.went)),
        float(len(told.every) - len(told.uneven) - (one.left == 0)),
        float(sum(h.left > 0 for h in told.uneven)),
    ]  # fmt: skip


def _unheard(one: Heard, change: Change, lines: Sequence[Noted], after: int) -> tuple[float, float, float]:
    """How sure the network is of lines of which nothing was entered: any, at its part, by name or number."""
    best = at_part = by_name = 0.0
    numbers = {abs(one.left), max(one.removed, one.installed)}
    for note in lines:
        sure = note.on if change == "installed" else note.off
        if note.id <= after:
            continue
        best = max(best, sure)
        if sure > by_name and (one.key[0] in note.kinds or numbers & note.numbers):
            by_name = sure
        if sure > at_part and note.parts:
            at_part = max(at_part, sure * max(belongs(g, p) for g in one.groups for p in note.parts))
    return best, at_part, by_name


def _spread_of(values: list[float]) -> tuple[float, float]:
    """The least and the mean; -1 where there are none."""
    return (min(values), sum(values) / len(values)) if values else (-1.0, -1.0)


def _mean(values: list[float]) -> float:
    return sum(values) / len(values) if values else -1.0
