"""Suspects cleared, and conclusions taken back."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from narrator.job.conclusion import (
    blamed,
    cleared_by_name,
    denies_cause,
    is_denied,
    named_as_cause,
    settled_by,
    unsays,
)
from narrator.job.fault import fault_of
from narrator.job.judged import THRESHOLDS
from narrator.job.line import Line
from narrator.job.naming import SAME
from narrator.job.outcome import tone
from narrator.job.settling import LOOSE, Settling
from narrator.job.suspect import Suspect
from narrator.job.suspect_words import suspect_words
from narrator.job.unlisted import spoken_of, subject, told_of
from narrator.job.verdicts import verdicts
from narrator.values import Component

_W = suspect_words()
_STARTS = frozenset("so right okay ok well then yes yep it's it 's is the that's that".split())
_BARELY = 0.4
"""Score below which a line without words that clear clears nothing."""
_SURE = 0.7
"""Score of the act model from which a clearing needs no words that clear: *the coil is a saint*."""
_REFUTES = THRESHOLDS["refutes"]
_Meant = tuple[Component, Suspect]


def _was_not(line: Line) -> bool:
    """*It was not that*, *it wasn't*, *it ain't what she complained of*: a *was* or a cause denied."""
    words, denials = ("", *line.tokens, ""), _W["join.denials"]
    return any(
        (word in _W["talk.was"] and (word in denials or not denials.isdisjoint(words[i - 1 : i + 2])))
        or (word in denials and words[i + 1] in _W["talk.why"])
        for i, word in enumerate(words[:-1])
    )


def _knows_nothing(line: Line) -> bool:
    """*So I don't know and I'd sooner say it*: nothing that clears."""
    pairs = pairwise(line.tokens)
    return not line.has("clear") and any(
        a in _W["join.denials"] and b in _W["talk.knowing"] for a, b in pairs
    )


def affirmed(line: Line) -> Component | None:
    """*It's not the pump, so it's the relay next*: what is named as the cause beside what is denied."""
    found = blamed(line) or named_as_cause(line)
    others = [c for c in line.components if c is not found and is_denied(line, c, after=0)]
    denied = found is None or is_denied(line, found, after=0)
    return found if not denied and (others or blamed(line)) else None


def _stands_alone(line: Line, component: Component) -> bool:
    """*So position sensor, and the computer's fine*: a thing that is a sentence of its own."""
    before, after = line.tokens[: component.at[0]], line.tokens[component.at[1] : component.at[1] + 1]
    ends = component.at[1] in line.breaks or after == ("and",)
    return ends and bool(before) and _STARTS.issuperset(before)


def _not_bad(line: Line, named: list[Component]) -> list[Component]:
    """*Split hose, nothing wrong with his turbo*: leaves out what is called bad beside a thing cleared."""
    by_name = cleared_by_name(line)
    bad = [c for c in named if by_name and c not in by_name and fault_of(line, c) is not None]
    kept = [c for c in named if c not in bad and (not by_name or c in by_name or not _stands_alone(line, c))]
    return kept or by_name  # *nothing wrong with the motor*, which is no place


def _speaks_well(line: Line) -> bool:
    """Whether a line has any words that clear, deny or praise: *compressor keeps tripping* has none."""
    said = line.has("clear", "negation", "taken_back", "consequence", "polarity.good", "polarity.same")
    return said or tone(line) > 0 or bool(verdicts(line)) or not _W["join.denials"].isdisjoint(line.tokens)


def _first_cleared(line: Line, named: Sequence[Component]) -> Component:
    """*The hoses are hot so it's not the core*: of things never suspected, the one denied or called good."""
    denied = [c for c in named if is_denied(line, c, after=0)]
    good = [c for c, verdict in verdicts(line) if verdict > 0 and c in named]
    return [*denied, *good, *named][0]


class Clearing(Settling):
    """What clears a suspect, by name or as what was tested or suspected last."""

    def _clear(self, line: Line, tried: Sequence[str]) -> None:
        half = line.has("two_causes") and not denies_cause(line)
        if half and (line.has("clear.withdraw") or not line.components):
            return
        if line.has("unproven", "keep_in_mind") or _knows_nothing(line):
            return
        if 0 < line.likely("ruled_out") < _BARELY and not _speaks_well(line):
            return  # *so just air in it*
        if self._clear_named(line):
            return
        suspect = self.by_words(line)
        if suspect is None and not line.components:
            told = told_of(line)
            suspect = self.find(told.name) if told else None
            if suspect is None and self._takes_back_settling(line):
                suspect = self._settled
            if suspect is None and told:
                suspect = self.open(told.name, line)
        if suspect is None and not line.components:
            told = spoken_of(line)
            before = self.doubted_in(told.name) if told else None
            if told and before:
                self.mark(self.open(told.name, before), "ruled_out", line)
                return
            if meant := self.by_fault(line):
                self.mark(meant, "ruled_out", line)
                return
            self._clear_recent(line, tried)
            if told and not self.changed(line):
                self.mark(self.open(told.name, line), "ruled_out", line)
        elif suspect:
            self.mark(suspect, "ruled_out", line)

    def _takes_back_settling(self, line: Line) -> bool:
        """Whether a line that names nothing is of the cause settled last: it says so, or that was no cure.

        The second where the repair was checked and nothing suspected since: *ugly, but it was not that*.
        """
        if self._settled is None or self._settled.status != "confirmed":
            return False
        if line.has("clear.withdraw", "taken_back") and subject(line) is None:
            return True
        if unsays(line, self._settled.statement):
            return True
        anew = any(s.status == "open" and s.raised > self._settled_at for s in self.suspects)
        return self._verified > self._settled_at and not anew and _was_not(line)

    def _clear_named(self, line: Line) -> bool:
        """Clear what a line names; of things never suspected the first, where nothing is merely seen."""
        meant = cleared_by_name(line) if line.does("confirmed") else []
        culprit = affirmed(line)
        named = meant or _not_bad(line, [c for c in line.main_components() if c is not culprit])
        known = [(c, s) for c in named if (s := self.named(line.sided(c), LOOSE))]
        known += [(c, s) for c in named for s in self._all_called(line, c) if (c, s) not in known]
        unheard = line.has("confirm.found") or line.does("step", "test", "confirmed", "part")
        unheard = unheard or self._only_talk(line)
        early = not self.suspects and line.likely("ruled_out") < _SURE
        unheard = unheard or (early and not _speaks_well(line))
        if not known and named and self._takes_back_told(line, named):
            known = [(named[0], self._settled)] if self._settled else []
        if not known and named and not unheard:
            first = _first_cleared(line, named)
            known = [(first, self.open(line.sided(first), line))]
        known = list(dict.fromkeys(pair for c, s in known for pair in self._withdrawn(line, c, s)))
        cleared, denials = False, _W["join.denials"]
        denied = [c for c in named if is_denied(line, c, after=0)]
        for component, suspect in known:
            if denied and component not in denied:
                continue  # *it's the gasket, not the carb*
            refuted = line.has("clear", "taken_back", "consequence", "negation") or not denials.isdisjoint(
                line.tokens
            )
            said = self.said_of(component)
            refuted = refuted or (said is not None and said.clears >= _REFUTES)
            loose = not (refuted or self._verified > self._settled_at) and tone(line) < 0
            half = line.has("two_causes") and not line.has("clear.withdraw", "taken_back")
            if suspect.status == "confirmed" and (loose or half):
                cleared = True  # *the vent was blocked all right, but that's only half of it*
            elif not (line.does("confirmed") and settled_by(line) is component):
                self.mark(suspect, "ruled_out", line)
                suspect.consequence = line.has("consequence") or suspect.consequence
                cleared = True
        return cleared

    def _withdrawn(self, line: Line, component: Component, suspect: Suspect) -> list[_Meant]:
        """*I wrong that switch*: what was settled last is meant, where a name fits it beside another.

        The other as well where it was suspected by that very name: *the plug*, where plug three was settled.
        """
        settled, name = self._settled, component.name
        if settled is None or settled is suspect or settled.status != "confirmed":
            return [(component, suspect)]
        if settled.fit(name) < LOOSE or not (
            line.has("clear.withdraw", "taken_back") or suspect.status == "ruled_out"
        ):
            return [(component, suspect)]
        same = suspect.status == "open" and suspect.name == name
        return [(component, settled), *([(component, suspect)] if same else [])]

    def _all_called(self, line: Line, component: Component) -> list[Suspect]:
        """*That's the pair of filters told go home*: every open suspect that a name in the plural fits."""
        if line.tokens[component.at[1] - 1] == component.head or _W["talk.all"].isdisjoint(line.tokens):
            return []
        return [s for fit, s in self.fitting(component.name) if s.status == "open" and fit >= SAME]

    def _takes_back_told(self, line: Line, named: Sequence[Component]) -> bool:
        """*The magnets were gone, but I take back what I said*: what only stood by what was settled.

        So does what the conclusion named beside its cause (*the cable's too thin, they used bell wire*); the
        repair was checked since.
        """
        if self._settled is None or self._settled.status != "confirmed" or self._verified <= self._settled_at:
            return False
        if line.has("clear.withdraw", "taken_back") and not line.has("consequence"):
            return True
        told = self._settled_line
        return told is not None and any(c.name == d.name for c in named for d in told.components)

    def _only_talk(self, line: Line) -> bool:
        """*I got to use the thermocouples, so a good day*: once the cure was checked, no words that clear."""
        said = (
            line.has("clear", "negation")
            or bool(verdicts(line))
            or not _W["join.denials"].isdisjoint(line.tokens)
        )
        return self._verified > self._settled_at > 0 and not said

    def _clear_recent(self, line: Line, tried: Sequence[str]) -> None:
        """*Not that then*, *neither of them*: what was suspected last, or all that was suspected with it."""
        suspect = self.recent(tried)
        if suspect and suspect.status == "confirmed" and not line.has("clear.withdraw", "taken_back"):
            return  # what was settled falls by words that take it back alone
        if suspect and not _W["talk.several"].isdisjoint(line.tokens):
            for other in self.suspects:
                if other.status == "open" and other.raised == suspect.raised:
                    self.mark(other, "ruled_out", line)
        if suspect:
            self.mark(suspect, "ruled_out", line)
