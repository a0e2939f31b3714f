"""The suspects on the table: which of them a name or a line means, and how each stands."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from functools import partial
from itertools import pairwise

from narrator.job.fault import beginnings, fault_of, told_of
from narrator.job.judged import Judgement
from narrator.job.line import LATERAL, Line
from narrator.job.naming import SAME, Sharers, likeness, sounds_like, words
from narrator.job.record import HistoryRow, HypothesisRow, Status
from narrator.job.suspect import Suspect
from narrator.job.suspect_words import suspect_words
from narrator.job.unlisted import phrase
from narrator.values import Component

_W = suspect_words()
_PART = 0.45
"""Likeness to a part of a suspect from which that is meant: *the piston seal* to the piston."""
_UNLISTED = "network.name"


class Table:
    """Suspects in the order of first mention; ``turn`` counts the lines read."""

    def __init__(self) -> None:
        self.suspects: list[Suspect] = []
        self._beside: dict[str, Line] = {}
        """Names said beside what a line suspects (*the pump, or the hose on it*), and the first such line."""
        self._beside_last: dict[str, Line] = {}
        """The same with the last such line, in the order of these; both grow with names, not with lines."""
        self._doubted: dict[str, Line] = {}
        """Words of the lines that suspect something, and the first such line."""
        self._said: Counter[str] = Counter()
        self._unlisted: set[str] = set()
        self.turn = 0
        self.tried: Sequence[str] = ()
        """Names of what was tested last."""
        self._now: list[tuple[Component, Suspect | None, Judgement]] = []
        self._fits: dict[str, list[tuple[float, Suspect]]] = {}
        """Names asked after, with the suspects they fit: every line asks. Emptied when a suspect is
        named, and when a name is heard that no list holds."""
        self._sharers = Sharers()
        """The numbers of suspects, by the words of their names."""
        self._called: dict[str, list[int]] = {}
        """The same by the names."""

    def said_of(self, thing: Component) -> Judgement | None:
        """What the models make of a thing in the line that is read; None where they were not asked."""
        return next((said for other, _, said in self._now if other.at == thing.at), None)

    def find(self, name: str, least: float = SAME) -> Suspect | None:
        """The suspect that a spoken name means, best fit first, then the latest; ``least`` is above 0."""
        best, most = None, (0.0, False, 0)
        for fit, s in self._fitting(name):
            rank = fit, s.status == "open", s.last
            if rank > most and least <= fit and (fit >= SAME or s.status != "ruled_out"):
                best, most = s, rank
        return best

    def _fitting(self, name: str) -> list[tuple[float, Suspect]]:
        """The suspects that a name fits at all, in order, and how well."""
        known = self._fits.get(name)
        if known is None:
            known = self.fitting(name)
            if self._unlisted and not any(fit >= SAME for fit, _ in known):
                some = self.suspects if name in self._unlisted else self._doubtful()
                known += [(SAME, s) for s in some if self._heard_as(name, s)]
            self._fits[name] = known
        return known

    def fitting(self, name: str) -> list[tuple[float, Suspect]]:
        """The suspects one of whose names a name fits at all, in order, and how well."""
        sharing = [self.suspects[n] for n in self._sharers.of(name)]
        return [(fit, s) for s in sharing if (fit := s.fit(name)) > 0]

    def _doubtful(self) -> list[Suspect]:
        """The suspects with a name that no list of parts holds, in order."""
        names = self._unlisted & self._called.keys()
        return [self.suspects[n] for n in sorted({n for name in names for n in self._called[name]})]

    def _heard_as(self, name: str, suspect: Suspect) -> bool:
        """Whether a name is but another hearing of a suspect's, where no list holds one of the two."""
        doubtful = suspect.names if name in self._unlisted else suspect.names & self._unlisted
        return bool(doubtful) and any(sounds_like(name, known) for known in doubtful)

    def hear(self, line: Line) -> None:
        """Count the names of a line, and which no list of parts holds: those may be how another was heard."""
        for c in line.components:
            self._said[c.name] += 1
            if c.rule == _UNLISTED and c.name not in self._unlisted:
                self._unlisted.add(c.name)
                self._fits.clear()  # it may be another hearing of a suspect's name
        for suspect in self._doubtful() if line.components and self._unlisted else ():
            if suspect.name in self._unlisted:
                meant = [c.name for c in line.components if self._clearer(c.name, suspect.name)]
                suspect.name = meant[0] if meant else suspect.name
                suspect.call(suspect.name)

    def _clearer(self, name: str, heard: str) -> bool:
        """Whether ``heard`` stands for another name: one that a list holds, or that was said more often."""
        known = name not in self._unlisted or self._said[name] > self._said[heard]
        return name != heard and known and sounds_like(heard, name)

    def cleared(self, name: str) -> Suspect | None:
        """The cleared suspect that a name fits best, however loosely: *the cylinder* for its seal."""
        fits = [(fit, s.last, s) for fit, s in self._fitting(name) if s.status == "ruled_out"]
        best = max(fits, key=lambda f: f[:2], default=None)
        return best[2] if best else None

    def named(self, name: str, least: float = SAME) -> Suspect | None:
        """The suspect that a name means, else what was named beside one, now put on the table."""
        found = self.find(name, least)
        beside = self._beside_last.get(name)
        if found is not None and beside and found.fit(name) == SAME:
            return self.open(name, beside, apart=True)  # *the float* beside the float needle
        if found is not None:
            return found
        held = [s for s in self.suspects if s.status == "open" and name in s.places]
        if held:
            return held[-1]  # *the gear head is innocent*, where the bearing in it was suspected
        fits = [(likeness(name, said), said, line) for said, line in self._beside.items()]
        best = max(fits, key=lambda f: f[0], default=None)
        return self.open(best[1], best[2]) if best and best[0] >= SAME else None

    def refined(self, name: str) -> Suspect | None:
        """The one open suspect that was said to fail by a thing: *the piston seal*, of the cylinder."""
        held = [
            s
            for s in self.suspects
            if s.status == "open" and any(likeness(name, part) >= _PART for part in s.through)
        ]
        return held[0] if len(held) == 1 else None

    def pass_by(self, line: Line, suspected: set[str]) -> None:
        """Keep what a line names beside what it suspects: a later conclusion may be about it."""
        for word in line.tokens:
            self._doubted.setdefault(word, line)
        unlisted = [phrase(line, i) for i, word in enumerate(line.tokens) if word in _W["names.articles"]]
        for thing in (*unlisted, *line.components):
            if thing and thing.name not in suspected:
                self.keep(thing.name, line)

    def keep(self, name: str, line: Line) -> None:
        """Keep a name that a later line may clear or settle, and the line that it stood in."""
        self._beside.setdefault(name, line)
        self._beside_last.pop(name, None)
        self._beside_last[name] = line

    def doubted_in(self, name: str) -> Line | None:
        """The line that suspected something in these words, though no list holds them: *sorry twine*."""
        known = [w for w in words(name) if w in self._doubted and w not in _W["names.wholes"]]
        return self._doubted[known[0]] if known else None

    def is_open(self, component: Component) -> bool:
        """Whether a component is a suspect that nothing was concluded about."""
        found = self.find(component.name)
        return found is not None and found.status == "open"

    def by_words(self, line: Line) -> Suspect | None:
        """A suspect whose words are all in the line (*the air pocket we can forget*), or its last one."""
        present = set(line.tokens)
        found = [s for s in self.suspects if any(present.issuperset(n.split()) for n in s.names)]
        if not found and not line.components and "one" in present:
            sides = present & LATERAL
            found = [s for s in self.suspects if any(not sides.isdisjoint(n.split()) for n in s.names)]
        if not found and not line.components:
            heads = _heads(line)
            found = [s for s in self.suspects if not heads.isdisjoint(n.split()[-1] for n in s.names)]
            if not found:
                named = reversed(self._beside_last.items())
                said = next((row for row in named if row[0].split()[-1] in heads), None)
                return self.open(*said) if said else None
        return max(found, key=lambda s: (s.status == "open", s.last), default=None)

    def of(self, names: Sequence[str]) -> list[Suspect]:
        """The suspects that these names mean, each once, in their order."""
        return list(dict.fromkeys(s for name in names if (s := self.find(name)) is not None))

    def by_fault(self, line: Line) -> Suspect | None:
        """The one open suspect of which a line says what it was said to do: *so nobody's drowning her*."""
        said = set(beginnings(line.tokens))
        found = [s for s in self.suspects if s.status == "open" and not said.isdisjoint(s.told)]
        return found[0] if len(found) == 1 else None

    def recent(self, tried: Sequence[str]) -> Suspect | None:
        """The suspect that was tested last (``tried``), an open one first, else the open one named last."""
        known = self.of(tried)
        if known:
            return next((s for s in known if s.status == "open"), known[0])
        live = [s for s in self.suspects if s.status == "open"]
        return max(live, key=lambda s: s.last, default=None)

    def open(self, name: str, line: Line, apart: bool = False) -> Suspect:
        """Suspect a name; ``apart``: what it would fit was named beside it (*the needle or the float*)."""
        known = None if apart else self.find(name)
        if known is None and not apart:
            name = self._in_full(name)
        if known is None:
            named = partial(self._named, len(self.suspects))
            known = Suspect(name, line.understood.clean, "open", [], names={name}, when_named=named)
            named(name)
            thing = next((c for c in line.components if line.sided(c) == name), None)
            if thing is not None:
                known.fault, known.told = fault_of(line, thing), told_of(line, thing)
            self.suspects.append(known)
            self.mark(known, "open", line)
        elif known.status == "ruled_out":
            self.mark(known, "open", line)
        known.call(name)
        known.last = self.turn
        return known

    def _named(self, number: int, name: str) -> None:
        """Keep that the suspect of this number has this name."""
        self._sharers.enter(name, number)
        self._called.setdefault(name, []).append(number)
        self._fits.clear()

    def _in_full(self, name: str) -> str:
        """A name as what was tested last is called: *that pump is dead*, where it was the bilge pump."""
        full = {n for n in self.tried if n.split()[-1] == name and n != name}
        return full.pop() if len(full) == 1 else name

    def changed(self, line: Line) -> bool:
        """Whether a line has changed how any suspect stands."""
        return any(s.history[-1].utterance == line.id for s in self.suspects)

    def mark(self, suspect: Suspect, status: Status, line: Line) -> None:
        """Change how a suspect stands, as a line tells it; *can't rule out the pump yet* clears nothing."""
        suspect.last = self.turn
        if status == "ruled_out" and line.has("keep_in_mind"):
            return
        if suspect.history and suspect.status == status:
            return
        suspect.status = status
        if status == "open":
            suspect.raised = self.turn
        suspect.history.append(HistoryRow(status=status, utterance=line.id))

    def rows(self) -> list[HypothesisRow]:
        """The contract's hypotheses, numbered in the order of first mention."""
        return [
            HypothesisRow(
                id=f"H{n}",
                statement=s.statement,
                component=s.name,
                fault=s.fault,
                status=s.status,
                history=s.history,
                evidence=s.evidence,
            )
            for n, s in enumerate(self.suspects, start=1)
        ]


def _heads(line: Line) -> set[str]:
    """What a line calls *the ...*, *that ...*: the next word, and the last one of the name that it begins."""
    heads = {word for article, word in pairwise(line.tokens) if article in _W["names.articles"]}
    named = (phrase(line, i) for i, word in enumerate(line.tokens) if word in _W["names.articles"])
    return (heads | {c.name.split()[-1] for c in named if c}) - _W["names.vague"]
