"""How fasteners go back on in the ledger: which groups are meant, and how many of each."""

from __future__ import annotations

from collections.abc import Sequence

from narrator.job.certain import is_back
from narrator.job.entries import Entries
from narrator.job.groups import Event, Group, belongs, elsewhere, matching, near, rank
from narrator.job.ledger_words import ledger_words
from narrator.job.line import Line
from narrator.job.mention import Mention
from narrator.job.motion import Motion
from narrator.job.no_event import on_condition
from narrator.job.refits import goes_back, is_silent, refits
from narrator.job.removing import SOON
from narrator.job.renewed import new_ones
from narrator.job.repeats import SIDES
from narrator.job.trouble import in_trouble, is_short

_WHOLE = frozenset(("back", "together", "buttoned", "boxed", "button", "reverse", "lot"))
_THE_OTHER = frozenset(
    f"{lead} {one}".strip()
    for lead in ("", "and", "then", "now", "and then", "and now", "and that's")
    for one in ("the other", "the other one", "the last", "the last one", "its mate", "its twin")
)
"""A line that is nothing else puts back the one still missing."""
_LEADS = ((), ("and",), ("all",), ("then",))
_BACK = frozenset(("on", "in", "together", "up"))
_SAID = 0.9
_PARTLY = 0.6
_FOUND_WITHIN = 4
"""So many lines after the others the last one may be found."""
_BESIDE = 4
"""So many words after a number may name its side."""
_W = ledger_words()


class Installing(Entries):
    """The half of the ledger that puts back."""

    _refitted = 0
    """The latest line whose number or part alone told what goes back."""

    def _install(self, line: Line, m: Mention, held: list[Group]) -> None:
        if m.pronoun and not (held := [g for g in held if self._turn - g.touched <= SOON]):
            return
        if m.fits:
            held = [g for g in held if g.off == m.count] or [g for g in held if near(g, m.place)]
        held = self._ranked(line, m, held)
        if not held:
            self._install_unseen(line, m)
            return
        best = held[0]
        if m.but:
            self._enter(best, "installed", max(0, best.off - m.but), line)
        elif m.plural and m.count is None and best.off == 1:  # "those go back, ninety for the bolts"
            for g in [g for g in held if g.round == best.round and best.touched - g.touched <= SOON]:
                self._enter(g, "installed", g.off, line)
        elif m.every or m.count is None or (m.each and best.off > m.count):
            self._enter(best, "installed", best.off if m.plural or m.each else 1, line)
        else:
            if m.size is not None and best.size is None and not best.of & _W["count.own_names"]:
                best.size, best.drive = m.size, best.drive or m.drive
            for group, part in self._shares(held, m.count):
                self._enter(group, "installed", part, line)
                group.renewed += part if m.new and group.spoilt else 0

    def _ranked(self, line: Line, m: Mention, held: list[Group]) -> list[Group]:
        """The groups off that a mention can mean, the most fitting first."""
        held = sorted(held, key=lambda g: rank(g, m), reverse=True)
        if m.new and m.bare and self.events and self.events[-1].line == line.id:
            return [self.events[-1].group]  # "with the seven and one more out of the jar"
        if m.new and m.size is None and all(elsewhere(g, m.place) and g.off != m.count for g in held):
            return []
        if not held:
            return []
        if m.bare and m.said and not m.new and (same := self._just_now(line, m)):
            return [same]  # "eight nuts on this side, seven on the other"
        last = max(held, key=lambda g: g.touched)
        if m.bare and not m.definite and last.off >= (m.count or 0):
            return [last, *(g for g in held if g is not last)]
        return held

    def _install_unseen(self, line: Line, m: Mention) -> None:
        """Fasteners go on of which none is off: seen before, nothing said of them coming off; or new."""
        seen = matching([g for g in self.groups if g.known and not g.removed], m)
        seen = [g for g in seen if m.count in (None, g.known)]
        if seen and not m.new:
            self._enter(seen[-1], "removed", seen[-1].known, line)
            self._install(line, m, seen[-1:])
        elif not m.bare:
            count = m.count or (2 if m.plural else 1)
            self._enter(self._known(m) or self._group(m), "installed", count, line)

    def _just_now(self, line: Line, m: Mention) -> Group | None:
        """The group that went back in the line before this mention, where so many of it are still off."""
        last = self.events[-1] if self.events else None
        if last is None or last.line != line.id or last.change != "installed":
            return None
        sided = not SIDES.isdisjoint(line.tokens[m.end : m.end + _BESIDE])
        return last.group if sided or last.group.off >= (m.count or 0) > 0 else None

    @staticmethod
    def _shares(held: list[Group], count: int) -> list[tuple[Group, int]]:
        """How a number is spread over the groups that are off, the most fitting first."""
        exact = [g for g in held if g.off == count]
        if exact and held[0].off < count:
            return [(exact[0], count)]
        shares: list[tuple[Group, int]] = []
        left = count
        for group in held:
            part = min(group.off, left)
            shares.append((group, part))
            left -= part
            if not left:
                break
        if left or shares[-1][1] < shares[-1][0].off:  # more than came off, or a group left half done
            return [(held[0], count)]
        return shares

    def _known(self, m: Mention) -> Group | None:
        same = [
            g for g in self.groups
            if g.kind == m.kind and m.size in (None, g.size) and not elsewhere(g, m.place)
        ]  # fmt: skip
        return max(same, key=lambda g: (near(g, m.place), g.touched), default=None)

    def _new_one(self, line: Line, motion: Motion, found: list[Mention], made: list[Event]) -> None:
        """*Three old screws and a new one*, *one for the one that broke*: one more of the same."""
        if any(m.new for m in found) or self._refitted == line.id:
            return
        for n, m in enumerate(found):
            end = next((k.start for k in found[n + 1 :] if k.bare or k.kind_said), len(line.tokens))
            mine = [e.group for e in made if e.change == "installed" and matching([e.group], m)]
            new = new_ones(motion, m.end, end) if mine else 0
            if new and (mine[-1].off > 0 or m.said):
                self._enter(mine[-1], "installed", new, line)

    def _and_back(self, line: Line, motion: Motion, found: list[Mention], made: list[Event]) -> None:
        """*Out it comes, same two, scrape the bore, back in again*: what came off in the line goes back."""
        if made and all(e.change == "removed" for e in made) and motion.goes_back(found[-1].end):
            for event in made:
                self._enter(event.group, "installed", event.count, line)

    # ------------------------------------------------------------ without a fastener named

    def _refit(
        self,
        line: Line,
        motion: Motion,
        found: list[Mention],
        told: Mention | None = None,
        beside: Sequence[Mention] = (),
    ) -> None:
        """Fasteners that go back on by a part, a number, or only pointed at; ``told`` is what says so.

        Without it the network must be sure that the line puts fasteners back. None ``beside`` is meant.
        """
        if not told and not goes_back(line):
            return
        off = [g for g in self.groups if g.off > 0 and line.id not in g.utterances]
        if any(on_condition(motion, m) for m in found):
            return
        if any(m.kind_said and not m.bare and is_back(m, self.groups) for m in found):
            return  # "a new axle nut at two hundred and forty", of which none is off
        if named := [m for m in found if not m.bare]:
            off = [g for g in off if any(g in matching([g], m) for m in named)] or off
        off = [g for g in off if not any(g in matching([g], m) for m in beside)] or off
        if told and told.pronoun:
            named_with = [c.name for c in line.components if motion.weigh(*c.at)[1] >= _SAID]
            off = [
                g for g in off
                if (self._turn - g.touched <= SOON and not is_silent(line))
                or any(belongs(g, name) >= _PARTLY for name in named_with)
            ]  # fmt: skip
        for group, count in refits(line, motion, off, told):
            self._enter(group, "installed", count, line)
            self._refitted = line.id

    def _last_one(self, line: Line) -> None:
        """*Got you, and in you go*, *and the other*: the one still missing of those that went back last."""
        last = self.events[-1] if self.events else None
        if last is None or last.change != "installed" or line.id - last.line > _FOUND_WITHIN:
            return
        pointed = not _W["refit.one"].isdisjoint(line.tokens) and not line.components
        only = " ".join(line.tokens) in _THE_OTHER and line.id == last.line + 1
        if last.group.off == 1 and ((pointed and goes_back(line)) or only):
            self._enter(last.group, "installed", 1, line)

    def _whole(self, line: Line, motion: Motion) -> None:
        """*Everything back together*; or a part put back without a word of what holds it."""
        whole = not _WHOLE.isdisjoint(line.tokens) and _W["refit.rest"].isdisjoint(line.tokens)
        if line.has("repeat.reverse") and not motion.says_off() and whole and not is_silent(line):
            for group in [g for g in self.groups if g.off > 0]:
                self._enter(group, "installed", group.off, line)
        else:
            self._parts(line, motion, [])

    def _parts(self, line: Line, motion: Motion, found: list[Mention]) -> None:
        if "instead" in line.tokens and any(not m.bare for m in found):
            return  # "bracket on with four bolts instead": what held it before stays off
        if self._is_back(line) and not found:
            last, spared = self.events[-1].line, in_trouble(motion)
            for g in [e.group for e in self.events if e.line == last and e.group.off == e.group.known]:
                g.pending, g.spared = line.id, min(spared, g.off)
        names = self._put_back(line, motion)
        spared = in_trouble(motion) if names else 0
        for name in names:
            for g in self.groups:
                rest = g.renewed if g.renewed == g.spoilt else 0  # three broke, three new ones are in
                if g.off > 0 and g.off + rest == g.known and belongs(g, name) >= _PARTLY:
                    meant = [m for m in found if not (rest and m.new) and not is_short(motion, m)]
                    named = any(m.bare or matching([g], m) for m in meant)
                    g.pending = g.pending if named else line.id
                    g.spared = min(spared, g.off) if g.pending == line.id else g.spared

    def _is_back(self, line: Line) -> bool:
        """*Back on, nine newton metres* with no name: what came off last."""
        lead = line.tokens[: 2 if line.tokens[:1] == ("back",) else 3]
        plain = (
            lead[-2:-1] == ("back",)
            and lead[-1] in _BACK
            and lead[:-2] in ((), ("and",), ("all",), ("then",))
        )
        last = self.events[-1] if self.events else None
        return plain and last is not None and last.change == "removed" and not line.components

    def _put_back(self, line: Line, motion: Motion) -> list[str]:
        """The parts that a line says to be back; *card back on* is the door card that was off."""
        places = [(c.name, c.at) for c in line.components if not line.is_place(c) or c.at[0] in line.breaks]
        for name in {g.location for g in self.groups if g.off > 0 and g.location and " " in g.location}:
            at = line.tokens.index(name.split()[-1]) if name.split()[-1] in line.tokens else -1
            if at >= 0 and at not in motion.nouns and motion.word(at + 1) in ("back", "on"):
                places.append((name, (at, at + 1)))
        weights = [(name, *motion.weigh(*at)) for name, at in places]
        return [name for name, off, on in weights if on > off and on >= _SAID]
