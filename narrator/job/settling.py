"""Suspects settled: which one a conclusion is about, and which only stood beside the cause or suffered."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from narrator.job.conclusion import (
    FIXING,
    holds,
    is_denied,
    is_explained,
    is_presented,
    is_put_off,
    is_refused,
    only_bystander,
    partner,
    settled_by,
    suffers,
)
from narrator.job.elsewhere import finds_something_else, tells_of_before
from narrator.job.fault import fault_of
from narrator.job.judged import THRESHOLDS
from narrator.job.line import Line
from narrator.job.naming import SAME, likeness
from narrator.job.outcome import tone
from narrator.job.suspect import Suspect
from narrator.job.suspect_words import suspect_words
from narrator.job.table import Table
from narrator.job.verdicts import verdicts
from narrator.values import Component, Fastener, Vehicle

_SHORT = 7
"""A conclusion without a name points at what is on the table only where it is this short: *yep that's it*."""
_LONG = 10
"""The same of one that tells that the cause is found: *that'll do it, that's what it is*."""
_SINCE = 2
"""So many lines after a cause was settled *there we go* means that one."""
_BARELY_SEEN = -0.75
"""Half the log odds from which a line that only tests tells of something bad."""
_POOR = -0.5
"""Log odds from which a line tells badly of an open suspect."""
_SURE = 0.6
"""From which score of the act model a conclusion needs no words that settle."""
_BARELY = 0.3
"""Score below which a conclusion without words that settle is of nothing that nobody suspected."""
_WEAK = 0.4
"""Score below which a conclusion needs words that settle or something bad."""
_GOOD = 1.0
"""Log odds of good news from which a line settles nothing but in words that tell a cause."""
_BESIDE = 3
"""So many words behind a thing, good news is of it."""
_BAD = 0.3
"""Log odds of a bad state from which a thing seen may be a cause that nobody suspected."""
LOOSE = 0.45
"""Enough for a conclusion, which is about something on the table: *the rocker cover* for its gasket."""
_W = suspect_words()
_SETTLES = THRESHOLDS["settles"]


def _handled(line: Line, entity: Component) -> bool:
    """*Cowl's off, that's just the one latch*: work that a line begins with, nothing bad said of it."""
    after = [w for w in line.tokens[entity.at[1] : entity.at[1] + 2] if w not in ("'s", "is", "are")]
    return entity.at[0] <= 1 and after[:1] in (["on"], ["off"]) and fault_of(line, entity) is None


def _is_without(line: Line, name: str) -> bool:
    """*No air in it then, that's that*: what sounds like a conclusion denies the thing."""
    head = name.rsplit(maxsplit=1)[-1]
    before = [line.tokens[i - 1] for i, word in enumerate(line.tokens) if word == head and i]
    return not _W["join.without"].isdisjoint(before)


class Seen(NamedTuple):
    """A thing that a line told to be bad, and the suspect that it is, where it is one."""

    line: Line
    thing: Component
    suspect: Suspect | None


def _bad_fastener(line: Line) -> Component | None:
    """The fastener that a line tells to be bad, where it names no part: *return hose clamp was loose*."""
    found = line.entities(Fastener)
    if len(found) != 1 or not line.has("polarity.bad") or tone(line) > _POOR or found[0].new:
        return None
    start, end = found[0].at
    if not line.does("observation", "result", "test") or line.has("hedge", "clear"):
        return None
    return Component(span=found[0].span, at=(start, end), rule=FIXING, name=" ".join(line.tokens[start:end]))


class Settling(Table):
    """What establishes a cause; nothing is settled but by the technician's words."""

    def __init__(self) -> None:
        super().__init__()
        self._settled: Suspect | None = None
        self._settled_at = 0
        self._settled_line: Line | None = None
        self._before: Line | None = None
        self._before_last: Line | None = None
        """The line read last that was no mere talk, and the one before it."""
        self._mended = 0
        self._verified = 0
        """Turn in which it was last seen what the cure of a settled cause did."""

    def _confirm(self, line: Line, tried: Sequence[str], culprit: Component | None = None) -> None:
        """Settle what a line concludes of: ``culprit``, where the line clears something else."""
        if (line.has("two_causes") and not line.components) or line.entities(Vehicle):
            return
        if tells_of_before(line):
            return
        entity = culprit or settled_by(line)
        if entity is None:
            suspect = self._settled_unnamed(line, tried)
            if suspect is not None and _is_without(line, suspect.name):
                self.mark(suspect, "ruled_out", line)
                return
        else:
            suspect = self._settled_named(line, entity, told=culprit is not None)
            if suspect is not None and (only_bystander(line, entity) or is_refused(line, entity)):
                self.mark(suspect, "ruled_out", line)
                return
        if suspect is None or suspect.consequence:
            return
        unlisted = self._of_unlisted(line) is suspect
        self.mark(suspect, "confirmed", line)
        self._settled, self._settled_at, self._settled_line = suspect, self.turn, line
        if entity is not None:
            suspect.settle(suspect.name if unlisted else line.sided(entity), line)
            suspect.fault = fault_of(line, entity) or suspect.fault
        self._bystanders(line, suspect)
        self._victims(line, suspect)
        if entity is not None and (other := partner(line, entity, self._awaits(line))):
            self.mark(self._of_known(line, other) or self.open(line.sided(other), line), "confirmed", line)

    def _settled_unnamed(self, line: Line, tried: Sequence[str]) -> Suspect | None:
        """The suspect that a conclusion naming no cause settles: by its words, or what is on the table."""
        if finds_something_else(line):
            return None
        if line.components:
            seen = self._just_seen() if all(is_explained(line, c) for c in line.components) else None
            return seen and (seen.suspect or self.open(seen.line.sided(seen.thing), seen.line))
        suspect = self.by_words(line)
        told = line.has("confirm", "settle") or line.likely("confirmed") >= _SURE
        if (
            suspect is None
            and told
            and len(line.tokens) <= (_SHORT if not line.has("found.cause") else _LONG)
        ):
            return self._pointed_at(line, tried)
        return suspect

    def _pointed_at(self, line: Line, tried: Sequence[str]) -> Suspect | None:
        """What *found it*, *that's it* points at: what was just told to be bad, else what is on the table.

        Not what was cleared; where a cause was settled a moment ago, that is meant still.
        """
        if seen := self._just_seen():
            return seen.suspect or self.open(seen.line.sided(seen.thing), seen.line)
        if self._settled and self._settled.status == "confirmed" and self.turn - self._settled_at <= _SINCE:
            return self._settled
        before, tested = self._before, self.of(tried)
        worked = before is not None and not before.does("observation", "result", "test")
        if worked and before and before.has("motion") and not line.has("settle") and tone(before) > -_GOOD:
            return None  # *that's the pump out*, *there she is*
        things = before.main_components() if before else []
        named = [s for c in things if before and (s := self._of_known(before, c)) and s.status == "open"]
        suspect = self.recent(tried)
        if named and suspect not in named:
            return named[0]
        if things and not named and suspect not in tested:
            return None  # *the link's dry and it knocks*, where the ball joint was suspected
        return suspect if suspect and suspect.status != "ruled_out" else None

    def _just_seen(self) -> Seen | None:
        """What the line before told to be bad: an open suspect first, else what nobody cleared."""
        before = self._before
        if before and not before.components:
            if (held := _bad_fastener(before)) is not None:
                return Seen(before, held, self.find(held.name))
            before = self._before_last
        if before is None or before.has("hedge", "clear") or "new" in before.tokens:
            return None
        if not before.does("observation", "result", "test", "confirmed"):
            return None
        things = [c for c in before.components if not before.is_place(c) and not is_denied(before, c)]
        for thing in things:
            suspect = self._of_known(before, thing)
            poor = tone(before) <= _POOR and before.does("observation", "result", "test")
            if suspect and suspect.status == "open" and (poor or fault_of(before, thing)):
                return Seen(before, thing, suspect)
        for thing in things:
            if fault_of(before, thing) is not None and tone(before) < 0 and not suffers(before, thing):
                suspect = self._of_known(before, thing)
                if suspect is None or suspect.status != "ruled_out":
                    return Seen(before, thing, suspect)
        plain = before.does("observation", "result") or tone(before) <= 2 * _BARELY_SEEN
        alone = things[0] if len(things) == 1 and plain else None
        if (
            alone
            and tone(before) <= _POOR
            and not suffers(before, alone)
            and not self._of_known(before, alone)
        ):
            return Seen(before, alone, None)  # *the link knocks when i pull it*
        return None

    def _settled_named(self, line: Line, entity: Component, *, told: bool = False) -> Suspect | None:
        """The suspect that a conclusion about ``entity`` settles, put on the table where nobody had it.

        ``told``: the line calls it the cause in so many words.
        """
        suspect = self._of_known(line, entity) or self._of_unlisted(line) or self.refined(line.sided(entity))
        if any(c is entity and verdict > 0 for c, verdict in verdicts(line)):
            return None  # *the pump's still strong*
        if self._elaborates(line, entity, suspect):
            return None
        if suspect is None and is_put_off(line, entity):
            return None
        said = line.has("confirm", "settle", "two_causes", "found.cause")
        if suspect is None and _handled(line, entity):
            return None
        weak = 0 < line.likely("confirmed") < _WEAK and not (said or told)
        if weak and tone(line) > -_GOOD and fault_of(line, entity) is None:
            return None  # *that's the pump out*
        good = any(0 <= c.at[0] - entity.at[1] < _BESIDE for c in line.cues("polarity.good"))
        if good and tone(line) > _GOOD and not said and "but" not in line.tokens:
            return None  # *the check valve is tight*
        looked = line.has("observe", "motion", "caution", "verify", "conditional", "part")
        tested = any(likeness(entity.name, name) >= SAME for name in self.tried)
        merely_seen = looked and not (said or tested) and tone(line) > -_BAD
        if suspect is None and (
            merely_seen or line.barely("confirmed", _BARELY, "confirm", "settle", "found")
        ):
            return None  # something that nobody suspected, and nothing says that it is bad
        judged = self.said_of(entity)
        if not told and suspect is not None and judged is not None and judged.settles < _SETTLES:
            return None
        return suspect or self.open(line.sided(entity), line)

    def _elaborates(self, line: Line, entity: Component, suspect: Suspect | None) -> bool:
        """Whether a line tells how what was just settled did it: *strap tight, no air, simple as that*."""
        if self._settled is None or self.turn - self._settled_at > 1 or line.has("two_causes"):
            return False
        if suspect is not None and suspect.status == "open":
            return False
        return suspect is not self._settled and not is_presented(line, entity)

    def _bystanders(self, line: Line, settled: Suspect) -> None:
        """*The module's only doing what it's told*: a suspect cleared in the breath that settles another."""
        for component in line.components:
            suspect = self.find(component.name) if is_denied(line, component) else None
            if suspect and suspect is not settled and suspect.status == "open":
                self.mark(suspect, "ruled_out", line)
        for cue in line.cues("clear.withdraw"):
            before = [c for c in line.components if c.at[1] <= cue.at[0] <= c.at[1] + 2]
            suspect = self.find(before[-1].name) if before else None
            if suspect and suspect is not settled:
                suspect.consequence = True
                self.mark(suspect, "ruled_out", line)

    def _victims(self, line: Line, settled: Suspect) -> None:
        """*The spring's broken and it's been tearing the mount*: what suffered from the cause is none."""
        for component in line.components:
            suspect = self.find(component.name) if suffers(line, component) else None
            if suspect and suspect is not settled and suspect.status != "open":
                suspect.consequence = True
                self.mark(suspect, "ruled_out", line)

    def _awaits(self, line: Line) -> Callable[[Component], bool]:
        """Whether a component of a line is an open suspect, by any name."""
        return lambda c: (found := self._of_known(line, c)) is not None and found.status == "open"

    def _of_unlisted(self, line: Line) -> Suspect | None:
        """*A stuck relay, the contacts welded*: an open suspect that no component of the line names."""
        other = self.by_words(line)
        if other is None or other.status != "open" or any(other.fit(c.name) for c in line.components):
            return None
        return other

    def _of_known(self, line: Line, entity: Component) -> Suspect | None:
        """*The impeller is cracked on the water pump*: the suspect is the pump, if that was on the table."""
        name = line.sided(entity)
        found = self.find(name) or (self.find(name, LOOSE) if entity.rule != FIXING else None)
        if found and (found.name == entity.name or found.name not in _W["medium.words"]):
            return found  # *the coolant hose* is not the coolant
        for other in line.components:
            if other is not entity and holds(line, other):
                found = self.find(other.name)
                if found and found.status != "ruled_out":
                    return found
        return None

    @property
    def causes(self) -> list[Suspect]:
        """The causes that stand."""
        return [s for s in self.suspects if s.status == "confirmed"]

    @property
    def settled(self) -> str | None:
        """Name of the cause that was settled last, as long as it stands."""
        standing = self._settled is not None and self._settled.status == "confirmed"
        return self._settled.name if self._settled and standing else None
