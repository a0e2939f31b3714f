"""How fasteners come off in the ledger: which group is meant, and how many of it."""

from __future__ import annotations

from narrator.job.entries import Entries
from narrator.job.groups import Group, elsewhere, matching, near
from narrator.job.ledger_words import ledger_words
from narrator.job.line import Line
from narrator.job.mention import Mention
from narrator.job.motion import Motion
from narrator.job.no_event import CLEAR

_RECENT = 4
SOON = 2
"""So many turns of lines that move fasteners count as a moment."""


def _tells_of_last(motion: Motion, count: int, total: int) -> bool:
    """*Two came off, the third one i had to cut*: how those counted before came."""
    if count + 1 != total or "came" not in motion.words:
        return False
    order = {word for word, n in ledger_words().ordinals.items() if n == total} | {"last", "other"}
    return not order.isdisjoint(motion.words)


class Removing(Entries):
    """The half of the ledger that takes off."""

    def _remove(self, line: Line, motion: Motion, m: Mention) -> Group | None:
        if m.bare:
            return self._remove_bare(line, m)
        if (last := self._left_of(m)) is not None:
            self._enter(last, "removed", min(m.count or 1, last.left), line)
            return last
        if self._restated(line, motion, m):
            return None
        self._unguess(m)
        group = self._one_more(m) or self._off_again(m) or self._group(m)
        count = m.count or (group.known if m.plural else 0) or (2 if m.plural else 1)
        guessed = m.count is None and m.plural and not group.known
        self._enter(group, "removed", count, line)
        group.known = max(group.known, m.known)
        group.left = max(0, m.known - count)
        group.guessed = guessed
        group.described = motion.weigh(m.start, m.end)[0] < CLEAR
        return group

    def _left_of(self, m: Mention) -> Group | None:
        """*This last screw I drill*: of a group that comes off in steps."""
        last = None if m.known else self._last_like(m)
        return last if last and (m.count or 1) <= last.left else None

    def _last_like(self, m: Mention) -> Group | None:
        """The group of the last event, where a mention can be of it."""
        last = self.events[-1].group if self.events else None
        return last if last and last.kind == m.kind and m.size in (None, last.size) else None

    def _unguess(self, m: Mention) -> None:
        """*The cover bolts out, that's eight ten mil*: the number told later replaces the one supposed."""
        last = self.events[-1].group if self.events else None
        soon = last is not None and self._turn - last.touched <= SOON
        if last and soon and last.guessed and m.count and last.kind == m.kind and last.size in (None, m.size):
            self._undo()
            last.size, last.drive = m.size, last.drive or m.drive

    def _one_more(self, m: Mention) -> Group | None:
        """*Second bolt out*, *last nut off*: of the group that the first ones came from."""
        kept = [g for g in self.groups if g.kept >= (m.count or 1) and g in matching([g], m)]
        if m.rest and kept:
            self._finish()
            kept[-1].kept -= m.count or 1
            return kept[-1]
        return self._last_like(m) if m.another else None

    def _remove_bare(self, line: Line, m: Mention) -> Group | None:
        """*All four out*: of a group seen before, or of one that was off and went back."""
        if m.another and self.events and self._change == "removed":  # "third one's out too"
            self._enter(self.events[-1].group, "removed", 1, line)
            return self.events[-1].group
        still = [g for g in self.groups if g.known > g.off and not g.described]
        fits = [g for g in still if m.every or (m.count or 0) <= g.known - g.off]
        if m.pronoun:
            fits = [g for g in fits if self._turn - g.touched <= SOON]
        if not m.every:
            same = [g for g in fits if m.count == g.known - g.off]
            fits = same or [g for g in fits if g.removed == 0 or m.rest]
        fits = [g for g in fits if not elsewhere(g, m.place)]
        group = max(fits, key=lambda g: (near(g, m.place), g.touched), default=None)
        if group is None:
            return None
        self._enter(group, "removed", group.known - group.off if m.every else m.count or 1, line)
        return group

    def _restated(self, line: Line, motion: Motion, m: Mention) -> bool:
        """*Both tens are out* where they were counted a moment ago."""
        before = [g for g in self.groups if g.off > 0 and line.id not in g.utterances]
        for g in matching(before, m):
            if m.count is None and m.plural and g.described and self._turn - g.touched <= SOON:
                return True  # "it hangs on three bolts" ... "bolts out"
            count = m.count or g.off
            if elsewhere(g, m.place) or count > g.off:
                continue
            soon = self._turn - g.touched <= SOON
            if soon and count < g.off and _tells_of_last(motion, count, g.off):
                return True  # "two nuts came off, third one i had to cut"
            if g.repeated and count == g.off:
                g.repeated = False
                return True
            soon = self._turn - g.touched <= _RECENT and (
                m.size is not None or near(g, m.place) or m.count is None
            )
            if soon and (m.definite or m.rest) and (g.described or not m.rest):
                return True
        return False

    def _off_again(self, m: Mention) -> Group | None:
        """A group that came off before and went back: *the two nuts off again*."""
        if m.size is not None:
            return None
        seen = [g for g in self.groups if g.kind == m.kind and not g.removed and g.known == m.count]
        if seen and not elsewhere(seen[-1], m.place):
            return seen[-1]
        same = [g for g in self.groups if g.kind == m.kind and g.removed and g.off <= 0]
        close = [g for g in same if near(g, m.place)]
        alike = [g for g in same if g.known == m.count and m.again]
        close = close or (alike if len(alike) == 1 and (m.count or 0) > 1 else [])
        close = close or [g for g in same if m.again or not elsewhere(g, m.place)]
        if m.again and m.count and not close:  # some of them went back for a trial
            close = [g for g in self.groups if g.kind == m.kind and 0 < m.count <= g.installed]
        if not m.again and not m.definite:
            close = [g for g in close if g.known == m.count or near(g, m.place)]
        return max(close, key=lambda g: g.touched, default=None)
