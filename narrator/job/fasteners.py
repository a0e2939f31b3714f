"""The ledger of fasteners: every group that came off and went back on, as narrated.

A group is a kind, size and drive at one place. *The two nuts back on* finds the group it means by kind,
size, number still off, place and recency; *same again on the other side* repeats the last round; *no, make
that three* takes the last number back. What is only loosened, missing or spoken of is no event.
"""

from __future__ import annotations

from narrator.job.groups import Change, Group, belongs, elsewhere, matching, near, waiting
from narrator.job.installing import Installing
from narrator.job.ledger_words import corrected_count
from narrator.job.line import Line
from narrator.job.mention import Mention, place
from narrator.job.mentions import mentions
from narrator.job.motion import Motion
from narrator.job.no_event import is_no_event
from narrator.job.plain_words import in_plain_words
from narrator.job.portioned import Portioned
from narrator.job.record import FastenerRow, SizeRow
from narrator.job.refits import is_silent
from narrator.job.removing import SOON
from narrator.job.repeats import is_again, is_plainly_again, names_side, repeats_in_line
from narrator.job.trouble import is_spoilt
from narrator.job.turning import Way, way
from narrator.values import Size

_CLEAR = 0.7
"""From which certainty on the network tells whether *same again* is off, on or both."""
_PLAINLY = 0.5
"""Evidence of a refit that tells a number by itself where the network is silent."""
_JUST = 3
"""So many turns later a number may still be of those just counted."""
_NAMED = 3
"""So many words after *the same* the part is named that has the same."""
_NAMED_LATER = frozenset(("nut", "screw"))
_OF_THE_SAME = frozenset(("on", "their", "its", "and", "with"))
_SPLIT = frozenset(("cotter", "cotters", "split"))


class FastenerLedger(Portioned, Installing):
    """Reads the lines of one session in order."""

    _sided = 0
    """The latest line that named a side."""
    _speak_for_themselves: list[Mention]
    """Fasteners that the line at hand names, so that no count or pronoun in it means them."""

    def read(self, line: Line) -> None:
        """Take in one line."""
        self._turn += 1
        before, line = len(self.events), in_plain_words(line)
        motion = Motion(line)
        aside = line.does("aside")
        found = [] if aside else mentions(line, motion)
        if not aside:
            self._read(line, motion, found)
        if len(self.events) == before and not aside:
            self._refit(line, motion, found)
        if len(self.events) == before and not found and line.does("step"):
            self._last_one(line)
        if line.components and not aside:
            self._named = line.id, frozenset(c.name for c in line.components)
        if names_side(line):
            self._sided = line.id

    def _read(self, line: Line, motion: Motion, found: list[Mention]) -> None:
        if line.does("concern", "hypothesis") and not line.does("step"):
            return
        if self._take_back(line, found):
            return
        self._like_before(line, found)
        self._as_counts(found)
        parts = self._of_portions(line, motion, found)
        if all(m.bare for m in found) and self._in_steps(line, motion, parts):
            return
        found = [m for m in found if not (m.bare and any(p.start < m.end and m.start < p.end for p in parts))]
        told = any(m.said for m in found)
        if self.events and not told and is_again(line) and (is_plainly_again(line) or not is_silent(line)):
            self._again(line, motion)
        elif found:
            self._all(line, motion, found)
            self._in_one_line(line, motion, parts)
        elif line.does("step"):
            self._whole(line, motion)

    def _all(self, line: Line, motion: Motion, found: list[Mention]) -> None:
        before, last = len(self.events), None
        self._speak_for_themselves = [
            m for m in found if not m.bare and motion.words[max(0, m.start - 2) : m.start] != ("for", "the")
        ]  # not "those three go back, twenty two for the bolts"
        told: Way = None
        for n, m in enumerate(found):
            unsized = m.count is None and m.size is None
            again = [
                k for k in found[:n] if k.kind == m.kind and _is_split(motion, k) == _is_split(motion, m)
            ]
            if m.new and unsized and told == "installed" and again:
                continue  # "all eight nuts on with new nylocs"
            if m.count is None and m.plural and last and _is_with(motion, m):
                m.count, m.said = last, True  # "four p clamps on ten mil bolts", "two pins with their clips"
            if m.each and n and (found[n - 1].count or 0) > 1 and not found[n - 1].bare:
                m.count, m.plural, m.each = found[n - 1].count, True, False  # "four clamps, one bolt each"
            if m.each and n and found[n - 1].count is None and self._moved(line):
                m.count, m.plural, m.said, m.each = self.events[-1].count, True, True, False
                m.shared = m.count
            if m.same_size and m.size is None and (sized := self._last_size(m)):
                m.size = sized
            if n and _is_single_beside(motion, found[n - 1], m):
                m.kind = found[n - 1].kind
            last = m.count
            if motion.word(m.start - 1) == "only":
                self._only(line, m)
            if not self._is_said(line, motion, m, found[:n]):
                told = self._one(line, motion, m, told) or told
        made = self.events[before:]
        if made and found and repeats_in_line(line.tokens, found[-1].end):
            for event in made:
                self._enter(event.group, event.change, event.count, line)
        self._new_one(line, motion, found, made)
        self._and_back(line, motion, found, made)
        if line.does("step"):
            self._parts(line, motion, found)

    def _is_said(self, line: Line, motion: Motion, m: Mention, before: list[Mention]) -> bool:
        """*Hose clips on, the two of them*, *two bolts, both out*: a count that is of those just entered."""
        if (
            not before
            or before[-1].bare
            or m.rest
            or m.new
            or m.another
            or not (m.bare and m.said and m.definite)
        ):
            return False
        off, on = motion.weigh(m.start, m.end)
        last = self.events[-1] if self.events else None
        if last is None or last.line != line.id:  # "two jam nuts backed off and the both of them tight again"
            return before[-1].count == m.count and motion.word(m.end - 2) == "of" and off <= on
        return last.count == m.count and (on <= off if last.change == "removed" else off <= on)

    def _like_before(self, line: Line, found: list[Mention]) -> None:
        """*Six more of the same*: of the kind and size that came off last, or of the part that is named."""
        for m in [m for m in found if m.alike]:
            named = [c.name for c in line.components if 0 <= c.at[0] - m.end <= _NAMED]
            off = [e.group for e in self.events if e.change == "removed"]
            off = [g for g in off if any(belongs(g, name) for name in named)] or off
            if off:
                m.kind, m.size, m.drive = off[-1].kind, off[-1].size, off[-1].drive
                m.kind_said, m.place = not off[-1].sized_only, place(line, Motion(line), 0, m.start)

    def _as_counts(self, found: list[Mention]) -> None:
        """*Eight in there ... eight out then*: a bare number is no size where just so many were counted."""
        for n, m in enumerate(found):
            size = m.size
            if size is None or m.kind_said or m.said or m.plural or m.drive or size.unit != "mm":
                continue
            last = max(self.groups, key=lambda g: g.touched, default=None)
            soon = last is not None and self._turn - last.touched <= _JUST
            known = {k.count for k in found[:n]} | ({last.known, last.off} if last and soon else set())
            if size.value in known and all(g.size != size for g in self.groups):
                m.kind, m.size, m.count, m.said, m.plural = None, None, int(size.value), True, True

    def _last_size(self, m: Mention) -> Size | None:
        """*Shackle bolt, same size*: of the kind as named last."""
        sized = [g for g in self.groups if g.kind == m.kind and g.size is not None]
        return max(sized, key=lambda g: g.touched).size if sized else None

    def _only(self, line: Line, m: Mention) -> None:
        """*Bolts back, but only two*: the number said with *only* replaces what the line entered before."""
        while self.events and self.events[-1].line == line.id and self.events[-1].group.kind == m.kind:
            self._undo()

    def _rekind(self, m: Mention) -> None:
        """*Five nineteens off ... wheel on with its nuts*: what a bare size was is told by a later name."""
        if m.bare or not m.kind_said or m.kind not in _NAMED_LATER:
            return
        known = [g for g in self.groups if g.kind == m.kind and m.size in (None, g.size)]
        if any(g.off == m.count or (g.off >= (m.count or 1) and not elsewhere(g, m.place)) for g in known):
            return
        for group in reversed([g for g in self.groups if g.sized_only and g.off > 0]):
            if group.touched == self._turn or (group.installed and not near(group, m.place)):
                continue
            exact = m.count == group.off and not elsewhere(group, m.place)
            exact = exact and (group.off > 1 or near(group, m.place))
            placed = near(group, m.place) and m.plural and group.off > 1 and (m.count or 1) <= group.off
            if m.size in (None, group.size) and (exact or placed):
                group.kind, group.sized_only = m.kind, False
                return

    def _one(self, line: Line, motion: Motion, m: Mention, before: Way) -> Way:
        self._rekind(m)
        held = waiting(self.groups, m)
        silent = m.bare and is_silent(line) and not _is_plainly_back(motion, m, held)
        if silent or is_no_event(motion, m, held):
            self._note(m, line)
            if held and is_spoilt(motion, m, held):
                max(held, key=lambda g: g.touched).spoilt = m.count or 0
            return None
        told = way(line, motion, m, self.groups, before=before, stripping=self._stripping(line))
        if told is None:
            self._note(m, line)
        elif m.new and m.bare and self._refitted == line.id:
            pass  # counted with the old ones
        elif told == "installed" and m.bare and not m.fits and not self._moved(line):
            self._finish_before(m)
            self._refit(line, motion, [], m, self._speak_for_themselves)
        elif told == "installed":
            self._install(line, m, held)
        elif (group := self._remove(line, motion, m)) and told == "both":
            self._enter(group, "installed", self.events[-1].count, line)
        return told

    def _finish_before(self, m: Mention) -> None:
        """*Its twin comes out ... those two at thirty*: what was left is off, unless just as many are."""
        if not any(g.left and g.off == m.count for g in self.groups):
            self._finish()

    def _moved(self, line: Line) -> bool:
        """Whether something moved in the line already."""
        return bool(self.events) and self.events[-1].line == line.id

    def _stripping(self, line: Line) -> bool:
        """Whether the last thing that happened to fasteners is that some came off, a moment ago."""
        return bool(self.events) and self._change == "removed" and line.id - self.events[-1].line <= SOON

    def _note(self, m: Mention, line: Line) -> None:
        """Keep in mind how many there are, for *all four out* later."""
        told = m.said or (m.size is not None and not m.plural)  # "back off the big nut, inch and an eighth"
        if m.bare or not told or not line.does("observation", "step", "test", "result"):
            return
        count = m.count or 1
        if not any(g.off >= count for g in matching(self.groups, m)):
            group = self._group(m)
            group.known, group.touched = max(group.known, count), self._turn

    # ------------------------------------------------------------ rounds

    def _again(self, line: Line, motion: Motion) -> None:
        events = [e for e in self.events if e.round == self.events[-1].round]
        if names_side(line) and any(
            e.group.off > 0 for e in events
        ):  # "left leg out, two bolts", "same on the right"
            events = [e for e in events if e.line >= self._sided] or events
        off, on = motion.says_off(), motion.says_on()
        half_done = any(e.group.off > 0 and e.change == "installed" for e in events)
        seen, told = line.surely(), off or on
        whole = all(e.group.off == 0 for e in events)  # "both bolts back" ... "same again the other side"
        if max(seen) >= _CLEAR and (told or not whole):
            off, on = seen[0] >= _CLEAR, seen[1] >= _CLEAR
        only: Change | None = "removed" if off and not on else None
        if not off and (half_done or (on and any(e.group.off > 0 for e in events))):
            only = "installed"
        self._round += 1
        for event in events:
            if only in (None, event.change):
                self._enter(event.group, event.change, event.count, line)
                event.group.repeated = event.change == "removed"
        self._change = self.events[-1].change

    def _take_back(self, line: Line, found: list[Mention]) -> bool:
        """*No, make that three*: the number entered last is replaced."""
        count = corrected_count(line.tokens)
        if count is None or not self.events or len(found) > 1:
            return False
        last = self.events[-1]
        if line.id - last.line > SOON or (found and found[0].kind not in (None, last.group.kind)):
            return False
        self._undo()
        self._enter(last.group, last.change, count, line)
        last.group.known = count
        return True

    def rows(self) -> list[FastenerRow]:
        """The contract's fasteners, in the order of first mention."""
        return [_row(g) for g in self.groups if g.removed or g.installed]


def _is_plainly_back(motion: Motion, m: Mention, held: list[Group]) -> bool:
    """*Pan on, eleven, one's spring is gone*: a number by itself beside the part that so many hold."""
    off, on = motion.weigh(m.start, m.end)
    alone = m.said and m.start in motion.breaks and on > off and on >= _PLAINLY
    return alone and any(near(g, m.place) and g.off >= (m.count or 0) for g in held)


def _is_single_beside(motion: Motion, before: Mention, m: Mention) -> bool:
    """*Thirteen mil nut off the one wire, eight mil off the other*: one more of the kind just named."""
    bare_size = not m.kind_said and m.count is None and m.size is not None and not m.plural and not m.drive
    single = before.kind == "nut" and before.kind_said and before.size is not None and not before.plural
    return bare_size and single and m.size != before.size


def _is_split(motion: Motion, m: Mention) -> bool:
    """Whether a pin is a cotter: *both pins in with new cotters* are two of each."""
    return not _SPLIT.isdisjoint(motion.words[m.start : m.end])


def _is_with(motion: Motion, m: Mention) -> bool:
    """*Two pins with their clips*, *three nuts and the bolts they run on*: as many as those named before."""
    if motion.before(m.start) in _OF_THE_SAME and motion.word(m.start - 2) != "back":
        return True  # not "card back on, screws back in"
    joined = motion.words[max(0, m.start - 2) : m.start] in (("and", "the"), ("with", "the"))
    return joined and motion.word(m.end) in ("they", "their", "that", "which")


def _row(group: Group) -> FastenerRow:
    implied = [group.pending] if group.pending and group.off > 0 else []
    left = 0 if group.installed and not group.off else group.left
    return FastenerRow(
        kind=group.kind,
        size=SizeRow(value=group.size.value, unit=group.size.unit) if group.size else None,
        drive=group.drive,
        location=group.location,
        removed=group.removed + left,
        installed=group.removed + left - group.spared if implied else group.installed,
        utterances=group.utterances + [i for i in implied if i not in group.utterances],
    )
