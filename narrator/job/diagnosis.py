"""The ledger of suspects: opened, supported, contradicted, cleared, brought back, settled.

A suspect keeps one identity however it is named. Its status changes only where the technician says so;
the program settles nothing by itself.
"""

from __future__ import annotations

from collections.abc import Callable

from narrator.job.conclusion import (
    FIXING,
    holds,
    is_denied,
    is_presented,
    is_put_off,
    is_refused,
    only_bystander,
    partner,
    settled_by,
    suffers,
    unsays,
)
from narrator.job.fault import fault_of
from narrator.job.line import Line
from narrator.job.naming import SAME
from narrator.job.outcome import tone, verdicts
from narrator.job.suspect import Suspect
from narrator.job.suspect_words import suspect_words
from narrator.job.suspicion import explains, suspected
from narrator.job.table import Table
from narrator.job.unlisted import spoken_of, subject, told_of
from narrator.values import Component, Material, Vehicle

_SHORT = 7
"""A conclusion without a name points at what is on the table only where it is this short: *yep that's it*."""
_SINCE = 2
"""So many lines after a cause was settled, talk of how it came about raises no suspect."""
_BAD = 0.3
"""Log odds of a bad state from which a thing seen may be a cause that nobody suspected."""
_LOOSE = 0.45
"""Enough for a conclusion, which is about something on the table: *the rocker cover* for its gasket."""
_W = suspect_words()


class Diagnosis(Table):
    """Reads the lines of one session in order; ``rows`` gives the contract's hypotheses."""

    def __init__(self) -> None:
        super().__init__()
        self._settled: Suspect | None = None
        self._settled_at = 0
        self._verified = 0

    # ------------------------------------------------------------ reading

    def read(self, line: Line, focus: str | None) -> None:
        """Take in one line; ``focus`` names the component last tested or talked about."""
        self.turn += 1
        if line.does("verification"):
            self._verified = self.turn
            if not line.does("ruled_out", "confirmed", "hypothesis"):
                return
        if line.does("ruled_out") and self._takes_back_clearing(line):
            return
        if line.does("ruled_out"):
            self._clear(line, focus)
        else:
            self._called_good(line)
        if line.does("confirmed"):
            self._confirm(line, focus)
        elif line.does("hypothesis"):
            self._suspect(line)

    def _called_good(self, line: Line) -> None:
        """*The actuator is fine, I'd have bet on it* clears an open suspect, whatever else the line does."""
        if line.does("concern", "plan", "caution", "aside", "part") or line.has("hedge.question"):
            return
        for component, verdict in verdicts(line):
            suspect = self.find(component.name)
            if verdict > 0 and suspect and suspect.status == "open":
                self.mark(suspect, "ruled_out", line)

    def _takes_back_clearing(self, line: Line) -> bool:
        """*I was wrong, the alternator is back on the list*: what was cleared is on the table again."""
        if not line.has("suspect.back", "clear.withdraw") or not _W["join.denials"].isdisjoint(line.tokens):
            return False
        if line.has("clear.not_it", "clear.off", "clear.named"):
            return False
        return bool(self._brought_back(line))

    def _brought_back(self, line: Line) -> list[Suspect]:
        """Opens what a line names of what was cleared; gives those suspects."""
        back = []
        for component in line.components:
            name = line.sided(component)
            suspect = self.find(name) or self.cleared(name)
            if suspect and suspect.status == "ruled_out":
                self.mark(suspect, "open", line)
                suspect.call(name)
                back.append(suspect)
        return back

    def _suspect(self, line: Line) -> None:
        if line.has("consequence") and any(self.find(c.name) for c in line.components):
            return
        if not line.has("hedge") and any(explains(cue) for cue in line.cues("confirm.found")):
            return  # *that's why the other relay worked for a minute* suspects nothing anew
        back = self._brought_back(line) if line.has("suspect.back") else []
        if back and _W["join.words"].isdisjoint(line.tokens):
            return
        if self._looks_back(line) or self._puts_off(line):
            return
        chosen = suspected(line)
        self.pass_by(line, {entity.name for entity in chosen})
        called_good = {c.name for c, verdict in verdicts(line) if verdict > 0}
        taken: list[Suspect] = []
        for entity in chosen:
            name = line.sided(entity)
            known = self.find(name)
            if known and known.status == "ruled_out" and entity.name in called_good:
                continue  # *if the switch is good, its wire is open*
            if any(suspect.fit(name) for suspect in back):
                continue
            if known and known.status == "ruled_out" and known.fit(name) == SAME:
                if not line.has("hedge"):
                    continue
                known = None  # *the starter itself*, once its relay was cleared
            if known is None and self._is_whole(line, entity):
                continue
            if known is not None and known not in taken and not self._doubts(line, known):
                continue
            taken.append(self.open(name, line, apart=known is None or known in taken))

    @staticmethod
    def _puts_off(line: Line) -> bool:
        """*I must take the weed from the propeller next week*: work to be done, no doubt."""
        later = not _W["later.words"].isdisjoint(line.tokens)
        return later and not line.has("hedge", "doubt", "suspect", "question", "conditional")

    def _doubts(self, line: Line, known: Suspect) -> bool:
        """Whether a line puts a suspect that it names on the table; one cleared needs words of doubt."""
        if known.history[-1].utterance == line.id:
            return False  # cleared in the same breath
        if known.status != "ruled_out" or line.has("hedge", "suspect", "conditional"):
            return True
        return not line.has("negation")

    def _looks_back(self, line: Line) -> bool:
        """Whether a line tells how a cause just settled came about: *he must've knocked it with the tube*."""
        just = self._settled is not None and self.turn - self._settled_at <= _SINCE
        return just and not _W["talk.history"].isdisjoint(line.tokens)

    @staticmethod
    def _is_whole(line: Line, entity: Component | Material) -> bool:
        """Too much of the machine to be a suspect, unless it is said to be one (*or the tank*)."""
        return entity.name in _W["names.wholes"] and line.word_before(entity) not in _W["join.leads"]

    def _confirm(self, line: Line, focus: str | None) -> None:
        if (line.has("two_causes") and not line.components) or line.entities(Vehicle):
            return
        entity = settled_by(line)
        if entity is None:
            suspect = self._settled_unnamed(line, focus)
        else:
            suspect = self._settled_named(line, entity)
            if suspect is not None and (only_bystander(line, entity) or is_refused(line, entity)):
                self.mark(suspect, "ruled_out", line)
                return
        if suspect is None or suspect.consequence:
            return
        self.mark(suspect, "confirmed", line)
        self._settled, self._settled_at = suspect, self.turn
        if entity is not None:
            suspect.settle(line.sided(entity), line)
            suspect.fault = fault_of(line, entity) or suspect.fault
        self._bystanders(line, suspect)
        self._victims(line, suspect)
        if entity is not None and (other := partner(line, entity, self._awaits(line))):
            self.mark(self._of_known(line, other) or self.open(line.sided(other), line), "confirmed", line)

    def _settled_unnamed(self, line: Line, focus: str | None) -> Suspect | None:
        """The suspect that a conclusion naming no cause settles: by its words, or what is on the table."""
        if line.components:
            return None
        suspect = self.by_words(line)
        if suspect is None and line.has("confirm", "settle") and len(line.tokens) <= _SHORT:
            return self.recent(focus)
        return suspect

    def _settled_named(self, line: Line, entity: Component) -> Suspect | None:
        """The suspect that a conclusion about ``entity`` settles, put on the table where nobody had it."""
        suspect = self._of_known(line, entity) or self._of_unlisted(line)
        if any(c is entity and verdict > 0 for c, verdict in verdicts(line)):
            return None  # *the pump's still strong*
        if self._elaborates(line, entity, suspect):
            return None
        if suspect is None and is_put_off(line, entity):
            return None
        merely_seen = line.has("observe") and not line.has("confirm", "settle") and tone(line) > -_BAD
        if suspect is None and merely_seen:
            return None  # something that nobody suspected, and nothing says that it is bad
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
        found = self.find(name) or (self.find(name, _LOOSE) if entity.rule != FIXING else None)
        if found and (found.name == entity.name or found.name not in _W["medium.words"]):
            return found  # *the coolant hose* is not the coolant
        for other in line.components:
            if other is not entity and holds(line, other):
                found = self.find(other.name)
                if found and found.status != "ruled_out":
                    return found
        return None

    def _clear(self, line: Line, focus: str | None) -> None:
        if line.has("two_causes") and (line.has("clear.withdraw") or not line.components):
            return
        if line.has("unproven", "keep_in_mind"):
            return
        if self._clear_named(line):
            return
        suspect = self.by_words(line)
        if suspect is None and not line.components:
            told = told_of(line)
            if told is not None:
                suspect = self.find(told.name) or self.open(told.name, line)
        if suspect is None and self._takes_back_settling(line):
            suspect = self._settled
        if suspect is None and not line.components:
            self._clear_recent(line, focus)
            if not self.changed(line) and (told := spoken_of(line)):
                self.mark(self.open(told.name, line), "ruled_out", line)
        elif suspect:
            self.mark(suspect, "ruled_out", line)

    def _takes_back_settling(self, line: Line) -> bool:
        """Whether a line that names nothing is of the cause settled last: it says so, or that was no cure.

        The second where the repair was checked and nothing suspected since: *ugly, but it was not that*.
        """
        if self._settled is None or self._settled.status != "confirmed":
            return False
        if line.has("clear.withdraw"):
            return subject(line) is None
        if unsays(line, self._settled.statement):
            return True
        anew = any(s.status == "open" and s.raised > self._settled_at for s in self.suspects)
        was = not _W["talk.was"].isdisjoint(line.tokens) and line.has("negation")
        return self._verified > self._settled_at and not anew and was

    def _clear_named(self, line: Line) -> bool:
        """Clear what a line names; of things never suspected the first, where nothing is merely seen."""
        named = line.main_components()
        known = [(c, s) for c in named if (s := self.named(line.sided(c), _LOOSE))]
        unheard = line.has("confirm.found") or line.does("step", "test", "confirmed", "part")
        if not known and named and not unheard:
            known = [(named[0], self.open(line.sided(named[0]), line))]
        cleared, denials = False, _W["join.denials"]
        denied = [c for c in named if is_denied(line, c, after=0)]
        for component, suspect in known:
            if denied and component not in denied:
                continue  # *it's the gasket, not the carb*
            refuted = line.has("clear", "consequence", "negation") or not denials.isdisjoint(line.tokens)
            loose = not refuted and tone(line) < 0
            if suspect.status == "confirmed" and (loose or line.has("two_causes")):
                cleared = True  # *the vent was blocked all right, but that's only half of it*
            elif not (line.does("confirmed") and settled_by(line) is component):
                self.mark(suspect, "ruled_out", line)
                suspect.consequence = line.has("consequence") or suspect.consequence
                cleared = True
        return cleared

    def _clear_recent(self, line: Line, focus: str | None) -> None:
        """*Not that then*, *neither of them*: what was suspected last, or all that was suspected with it."""
        suspect = self.recent(focus)
        if suspect and suspect.status == "confirmed" and not line.has("clear"):
            return  # what was settled falls by words alone
        if suspect and not _W["talk.several"].isdisjoint(line.tokens):
            for other in self.suspects:
                if other.status == "open" and other.raised == suspect.raised:
                    self.mark(other, "ruled_out", line)
        if suspect:
            self.mark(suspect, "ruled_out", line)

    @property
    def settled(self) -> str | None:
        """Name of the cause that was settled last, as long as it stands."""
        standing = self._settled is not None and self._settled.status == "confirmed"
        return self._settled.name if self._settled and standing else None

    # ------------------------------------------------------------ results

    def found_good(self, suspect: Suspect, line: Line) -> None:
        """A suspect still open at the end whose own test found it good counts as cleared by that result."""
        if line.has("unproven"):
            return
        if suspect.status == "open" and suspect.history[-1].utterance < line.id:
            self.mark(suspect, "ruled_out", line)
