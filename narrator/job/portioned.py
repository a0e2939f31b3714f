"""Groups that come off in steps: *hangs on four, three come*, *the fourth I drill*, *the last one stays*.

What was counted and not yet told of is ``left``: it counts as off as soon as the work goes on without it,
unless it was said to stay.
"""

from __future__ import annotations

from narrator.job.groups import Group
from narrator.job.ledger_words import ledger_words, number
from narrator.job.line import Line
from narrator.job.mention import Mention
from narrator.job.motion import Motion
from narrator.job.portions import Portion, portions
from narrator.job.removing import Removing
from narrator.job.repeats import is_again

_W = ledger_words()
_JUST = 3
"""So many lines later fasteners that were only seen may come off."""
_LINES = 6
"""So many lines later some of a group may still be told of."""
_ON, _CLEARLY = 1.0, 1.3
"""Evidence of motion back from which some are taken to go back, and off from which all were taken off."""
_BEGUN = frozenset(("first", "start", "started", "starting"))


class Portioned(Removing):
    """Takes groups off step by step."""

    def _of_portions(self, line: Line, motion: Motion, found: list[Mention]) -> list[Portion]:
        """The portions of a line that may speak of a group named in it, or before it."""
        if line.does("step") and any(e.weight > _CLEARLY for e in motion.evidence) and not motion.says_off():
            self._finish()
        paired = not _W["portion.mates"].isdisjoint(line.tokens)
        named = [m for m in found if not m.bare and (m.plural or (paired and m.count in (None, 1)))]
        seen = any(
            not g.removed and g.known > 1 and self._turn - g.touched <= _JUST for g in self.groups[-2:]
        )
        if not named and not seen and self._coming_off(line, motion) is None:
            return []
        if is_again(line):
            return []
        parts = [p for p in portions(motion) if not (p.more and motion.never_was(p.end))]
        ways = [motion.weigh(p.start, p.end, network=False) for p in parts]
        comes = any(off > on for off, on in ways)
        if named and not comes and self._goes_on(motion, named[-1].start, named[-1].end):
            return []
        if named and named[-1].count is None and named[-1].size is not None:
            parts = _told_before(named[-1], parts)
        elif named:
            total = named[-1].known or named[-1].count or 0
            parts = [
                p
                for p in parts
                if p.start >= max(named[-1].end, named[-1].upto)
                and ((p.count or 1) < total or p.more or _is_beside(p, named[-1]))
            ]
        spans = [(p.start, p.end) for p in parts if p.state in ("moved", "told")]
        spans += [(m.start, m.end) for m in found if parts and not named]
        return [] if any(self._goes_on(motion, *at) for at in spans) else parts

    @staticmethod
    def _goes_on(motion: Motion, start: int, end: int) -> bool:
        """Whether some are said to go back; *down* after them is where they sit."""
        off, on = motion.weigh(start, end, network=False)
        return on > max(off, _ON) and motion.word(end) != "down"

    def _coming_off(self, line: Line, motion: Motion) -> Group | None:
        """The group that comes off and of which some may be told now."""
        if not self.events or self.events[-1].change != "removed" or line.does("plan", "caution", "part"):
            return None
        group = self.events[-1].group
        soon = line.id - group.utterances[-1] <= _LINES
        return group if soon and group.off + group.left > 0 else None

    def _noticed(self, parts: list[Portion]) -> Group | None:
        """*Of the six two just spin* ... *five come out by hand*: a group seen a moment ago comes off."""
        last = max(self.groups, key=lambda g: g.touched, default=None)
        if last is None or last.removed or self._turn - last.touched > _JUST or last.known < 2:
            return None
        if any(_counts(p, last.known) and p.state == "moved" for p in parts):
            last.left = last.left or last.known
            return last
        return None

    def _in_steps(self, line: Line, motion: Motion, parts: list[Portion]) -> bool:
        """Take off what a line without a fastener's name tells; False where it tells nothing of the kind."""
        group = (self._noticed(parts) or self._coming_off(line, motion)) if parts else None
        if group is None:
            return False
        begun = group.left > 0
        steps = group.described and not group.uncounted and any(_counts(p, group.off) for p in parts)
        if steps and not begun:
            self._begin(group)
        told = [n for word in line.tokens if (n := number(word))]
        others = any(p.other for p in parts)
        if others and not group.left and len(told) > 1 and sum(told) == group.off:
            return True  # "four bolts" ... "ground two off, other two undid": how they came
        before = len(self.events), group.left
        for n, part in enumerate(parts):
            some = any((p.count or 0) < (part.count or 0) for p in parts[n + 1 :])
            if part.more and some and not group.left:  # "two more behind it, one comes like a lamb"
                group.left += part.count or 0
            else:
                self._step(group, part, line, motion)
        return begun or steps or (len(self.events), group.left) != before

    def _in_one_line(self, line: Line, motion: Motion, parts: list[Portion]) -> None:
        """*Four bolts hold it, three come*: of what the line itself took off, only some are off."""
        last = self.events[-1] if self.events else None
        if last is None or last.line != line.id or last.change != "removed" or not parts:
            return
        group = last.group
        if group.guessed and (some := next((p for p in parts if p.count and p.state == "moved"), None)):
            self._undo()  # "half inch bolts, top two come off pretty"
            group.uncounted = True
            self._enter(group, "removed", some.count or 1, line)
        elif group.left:  # the first of them was counted with the mention itself
            parts = parts[1:] if parts[0].count == last.count and not parts[0].last else parts
        elif any(_counts(p, last.count) and p.state != "told" for p in parts):
            clear = any(e.weight <= -_CLEARLY and e.start < parts[0].start for e in motion.evidence)
            if clear and _BEGUN.isdisjoint(line.tokens) and all(p.state != "kept" for p in parts):
                return  # "cover off six bolts, two came out rusty"
            self._begin(group)
        for part in parts if not group.uncounted else []:
            self._step(group, part, line, motion)

    def _begin(self, group: Group) -> None:
        """What was entered as a whole comes off in steps."""
        count = self.events[-1].count
        self._undo()
        group.left, group.described = count, False

    def _step(self, group: Group, part: Portion, line: Line, motion: Motion) -> None:
        if group.uncounted and part.count and part.state in ("moved", "told"):
            self._enter(group, "removed", part.count, line)
        elif group.left:
            self._take(group, part, line, motion)
        elif (
            part.state in ("moved", "told")
            and (line.does("step") or (part.more and line.does("result", "observation")))
            and _is_added(part, group)
        ):
            self._enter(group, "removed", part.count or 1, line)

    def _take(self, group: Group, part: Portion, line: Line, motion: Motion) -> None:
        """Some of those that are left come off, or stay."""
        left = group.left
        count = min(left, left if part.count is None else part.count)
        count = max(0, left - part.but) if part.but else count
        counted = "but" in motion.words or part.among
        never = part.state == "absent" and line.id in group.utterances[-1:] and counted
        stays = part.state == "kept" or never
        moves = part.state in ("moved", "told")
        if part.last and left > 1 and (stays or moves):  # the others are off before it
            self._enter(group, "removed", left - 1, line)
        if stays:
            group.kept += min(count, group.left)
            group.left -= min(count, group.left)
        elif moves and count:
            self._enter(group, "removed", count, line)


def _is_beside(part: Portion, m: Mention) -> bool:
    """*Front two torx out, rear two out*: at another place than those named."""
    places = m.names & _W["portion.places"]
    return bool(part.place and places and part.place not in places)


def _told_before(m: Mention, parts: list[Portion]) -> list[Portion]:
    """*Hangs on four and three are out, half inch screws*: the number told before the size is of them all."""
    before = [p for p in parts if p.end <= m.start and p.count and not p.order]
    if not before:
        return [p for p in parts if p.start >= m.end]
    total = max(before, key=lambda p: p.count or 0)
    m.count, m.said = total.count, True
    return [p for p in parts if p is not total]


def _is_added(part: Portion, group: Group) -> bool:
    """Whether a portion is beside all that were counted: *two more behind*, *and a fourth*."""
    other = part.other and (part.count or 1) > 1
    places = group.names & _W["portion.places"]
    elsewhere = bool(part.place and places and part.place not in places)  # "the front two ... the rear two"
    return part.more or other or elsewhere or (part.order > 0 and part.order == group.off + 1)


def _counts(part: Portion, total: int) -> bool:
    """Whether a portion speaks of some of ``total`` in a way that makes the others wait."""
    waits = part.state not in ("holds", "absent") or part.but or (part.state == "absent" and part.among)
    return (
        bool(waits) and not part.more and not part.other and (part.count or 1) < total and part.order <= total
    )
