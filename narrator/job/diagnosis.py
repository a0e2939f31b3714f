"""The ledger of suspects: opened, supported, contradicted, cleared, brought back, settled.

A suspect keeps one identity however it is named. Its status changes only where the technician says so;
the program settles nothing by itself.
"""

from __future__ import annotations

from collections.abc import Sequence

from narrator.job.alleged import alleged
from narrator.job.conclusion import blamed, cleared_by_name, is_denied, named_as_cause, source, told_as_cause
from narrator.job.fault import beginnings, fault_of
from narrator.job.line import Line
from narrator.job.naming import SAME
from narrator.job.settling import LOOSE
from narrator.job.suspect import Suspect
from narrator.job.suspect_words import suspect_words
from narrator.job.suspicion import all_alike, explains, suspected
from narrator.job.told_cure import mends_and_looks
from narrator.job.verdicts import calls_good, verdicts
from narrator.job.weighing import Weighing, called_bad
from narrator.values import Component, Material

_BARELY = 0.45
"""Score of the act model below which a line without words of doubt puts nothing new under suspicion."""
_SINCE = 2
"""So many lines after a cause was settled, talk of how it came about raises no suspect."""
_CLEARS = ("clear", "taken_back", "two_causes", "consequence", "unproven")
"""Cues of words with which a line clears, or takes back what it settled."""
_FEW = 6
"""Words at most of a conclusion that is nothing else: *there we go, found it*."""
_CLOSE = 5
"""So many words behind a *my guess is* the thing guessed at stands."""
_FOUND = frozenset("found got bingo".split())
"""Without these such words may be mere talk: *there you go*."""
_HEARD = 0.1
"""Score of the act model from which such words settle, whatever the line does else."""
_LEADS = frozenset(
    "so right okay ok well then and but no yeah yep yes aha ha hm hmm oh ah it that 's is was it's that's now"
    " there here you we go".split()
)
"""Before a denial that begins a line."""
_ONLY = frozenset("only just alone".split())
_W = suspect_words()


def _lies_in(line: Line, thing: Component | Material, place: Component) -> bool:
    """Whether a thing is said to be in another right behind it: *the bearing in the gear head*."""
    between = [w for w in line.tokens[thing.at[1] : place.at[0]] if w not in _W["names.articles"]]
    return between in (["in"], ["inside"], ["of"])


def _only_work(line: Line) -> bool:
    """*New tap up with both bolts*: work done on a thing does not find it good, but words may."""
    works = line.does("step") or line.has("motion.on")
    return works and not line.does("test", "result") and not calls_good(line)


_LEAKS = frozenset(beginnings(("leaking", "weeping", "seeping", "dripping", "sweating")))


def _does_not(line: Line, component: Component, told: frozenset[str]) -> bool:
    """*Brake's not binding* clears a brake that was said to bind, and *it's dry* what was said to leak; not
    *if it's not*."""
    after = line.tokens[component.at[1] : component.at[1] + 3]
    if "dry" in after and not told.isdisjoint(_LEAKS):
        return line.does("result", "observation", "test") and not line.has("negation", "conditional")
    denied = [i for i, word in enumerate(after) if word in _W["join.denials"]]
    unsure = not _W["join.unsure"].isdisjoint(line.tokens[: component.at[0]])
    said = beginnings(after[denied[0] + 1 :]) if denied and not unsure else []
    return not told.isdisjoint(said)


class Diagnosis(Weighing):
    """Reads the lines of one session in order; ``rows`` gives the contract's hypotheses."""

    def __init__(self) -> None:
        super().__init__()
        self._theories: set[str] = set()
        """What only others suspect so far."""

    def read(self, line: Line, tried: Sequence[str]) -> None:
        """Take in one line; ``tried`` are the names of what was tested last."""
        self._take_in(line, tried)
        if not line.acts <= {"aside"}:
            self._before_last, self._before = self._before, line

    def _take_in(self, line: Line, tried: Sequence[str]) -> None:
        self.turn += 1
        self.tried = tried
        self.hear(line)
        self._cure(line)
        self._weigh(line, tried)
        if line.does("verification") and not line.does("ruled_out", "confirmed", "hypothesis"):
            return
        if self._cures(line):
            return
        confirms, clears = line.does("confirmed"), line.does("ruled_out")
        culprit = source(line) or (blamed(line) if clears and not confirms else None)
        if not confirms and self._settles_shortly(line):
            culprit = culprit or next(iter(line.components), None)
            confirms = culprit is None
        settles = confirms or culprit is not None or self._settles_open(line)
        if clears and self._takes_back_clearing(line):
            return
        if clears and (confirms or culprit or not settles):
            self._clear(line, tried)
        else:
            self._called_good(line)
            self._cleared_in_words(line)
        if clears and not (confirms or culprit) and line.has("hedge.belief"):
            self._guesses_next(line)
        if not (settles or clears) and self._clears_unsaid(line):
            return
        if settles:
            self._confirm(line, tried, culprit)
        elif line.does("hypothesis"):
            self._denies_first(line)
            self._suspect(line)
        elif line.does("concern"):
            for thing in alleged(line):
                self.keep(line.sided(thing), line)
                self._theories.add(line.sided(thing))

    def _settles_shortly(self, line: Line) -> bool:
        """*Found it*, whatever the act: right behind a line that told of something bad."""
        if line.does("plan", "verification") or line.has("hedge", "negation", "conditional"):
            return False
        if len(line.tokens) > _FEW:
            return False
        if line.components:
            return self._is_elliptic(line)
        if line.does("aside") and _FOUND.isdisjoint(line.tokens):
            return False
        covered = {i for cue in line.cues("found.cause") for i in range(*cue.at)}
        rest = [word for i, word in enumerate(line.tokens) if i not in covered]
        sure = bool(covered) and _LEADS.issuperset(rest) and line.likely("confirmed") >= _HEARD
        return sure and self._just_seen() is not None

    def _is_elliptic(self, line: Line) -> bool:
        """*Wheel bearing then*, right behind a line that told badly of it: nothing else may be said."""
        thing, seen = line.components[0], self._just_seen()
        rest = (*line.tokens[: thing.at[0]], *line.tokens[thing.at[1] :])
        suspect = self.find(line.sided(thing), LOOSE)
        same = seen is not None and suspect is not None and seen.suspect is suspect
        return same and _LEADS.issuperset(rest)

    def _denies_first(self, line: Line) -> None:
        """*So not the plug, could be the coil*: clears an open suspect before others are named."""
        for cue in line.cues("clear.not_it"):
            if not _LEADS.issuperset(line.tokens[: cue.at[0]]):
                continue
            for thing in line.components:
                suspect = self.find(line.sided(thing))
                denied = cue.at[0] < thing.at[0] <= cue.at[1] and is_denied(line, thing, after=0)
                more = line.tokens[thing.at[1] : thing.at[1] + 1]
                if denied and suspect and suspect.status == "open" and _ONLY.isdisjoint(more):
                    self.mark(suspect, "ruled_out", line)

    def _settles_open(self, line: Line) -> bool:
        """*So it's the strap after all*, *there you have your knock, the bush*: of a suspect that is open.

        Whatever else the line does, but with no doubt, choice or condition before these words.
        """
        if not line.does("hypothesis", "observation", "result", "ruled_out") or line.does("test", "plan"):
            return False
        if line.does("ruled_out"):
            entity = None if line.has(*_CLEARS) or "but" in line.tokens else told_as_cause(line)
        else:
            entity = named_as_cause(line) or told_as_cause(line)
        if entity is None or not _W["join.words"].isdisjoint(line.tokens):
            return False
        if not _W["join.unsure"].isdisjoint(line.tokens[: entity.at[0]]):
            return False
        suspect = self.find(line.sided(entity), LOOSE)
        return suspect is not None and suspect.status == "open" and suspect.raised < self.turn

    def _guesses_next(self, line: Line) -> None:
        """*Main fuse is good, second guess is the light switch*: what a line that clears suspects anew."""
        hedge = min(cue.at[0] for cue in line.cues("hedge.belief"))
        for thing in line.components:
            name = line.sided(thing)
            behind = hedge <= thing.at[0] <= hedge + _CLOSE and not is_denied(line, thing)
            if behind and self.find(name) is None and fault_of(line, thing) is None:
                self.open(name, line)

    def _cures(self, line: Line) -> bool:
        """Whether a line mends what was settled and tells what came of it; that concludes nothing else."""
        if not mends_and_looks(line, self.causes):
            return False
        self._mended = self._verified = self.turn
        return True

    def _cure(self, line: Line) -> None:
        """Follow the cure of what was settled: work done, then a look at what it did, by whatever act."""
        if line.does("verification") or (self._mended > self._settled_at and line.does("result")):
            self._verified = self.turn
        if line.does("step"):
            self._mended = self.turn

    def _called_good(self, line: Line) -> None:
        """*The actuator is fine, I'd have bet on it* clears an open suspect, whatever else the line does."""
        if line.does("concern", "plan", "caution", "aside", "part") or line.has("hedge.question"):
            return
        for component, verdict in verdicts(line):
            suspect = self.find(component.name)
            if verdict > 0 and suspect and suspect.status == "open":
                self.mark(suspect, "ruled_out", line)
        for component in line.components:
            suspect = self.find(component.name)
            if suspect and suspect.status == "open" and _does_not(line, component, suspect.told):
                self.mark(suspect, "ruled_out", line)

    def _cleared_in_words(self, line: Line) -> None:
        """*New plug in and it's the same, so it isn't the plug*: cleared by name, whatever the line does."""
        if line.does("confirmed", "concern", "plan", "caution", "aside") or line.has("hedge"):
            return
        if not _W["join.unsure"].isdisjoint(line.tokens):
            return
        for component in cleared_by_name(line):
            name = line.sided(component)
            suspect = self.find(name) or self.theory(name)
            if suspect and suspect.status == "open" and suspect.history[-1].utterance < line.id:
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
        self._fails_by(line, back)
        if back and _W["join.words"].isdisjoint(line.tokens):
            return
        if self._looks_back(line) or self._puts_off(line):
            return
        chosen = suspected(line)
        self.pass_by(line, {entity.name for entity in chosen})
        called_good = {c.name for c, verdict in verdicts(line) if verdict > 0}
        taken: list[Suspect] = []
        barely = line.barely("hypothesis", _BARELY, "hedge", "doubt", "suspect")
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
            told = isinstance(entity, Component) and fault_of(line, entity) is not None
            if known is None and ((barely and not told) or self._is_whole(line, entity)):
                continue
            if known is not None and known not in taken and not self._doubts(line, known):
                continue
            taken.append(self.open(name, line, apart=known is None or known in taken))
            taken[-1].places |= {c.name for c in line.components if _lies_in(line, entity, c)}
        self._fails_by(line, taken)

    def _fails_by(self, line: Line, suspects: Sequence[Suspect]) -> None:
        """Keep the parts by which suspects are said to fail: *it could be going past the piston inside*."""
        through = {c.name for c in line.components if line.word_before(c) in _W["join.through"]}
        for suspect in suspects:
            suspect.through |= {name for name in through if not self.fitting(name)}

    @staticmethod
    def _puts_off(line: Line) -> bool:
        """*I must take the weed from the propeller next week*: work to be done, no doubt."""
        later = not _W["later.words"].isdisjoint(line.tokens)
        return (
            later
            and not all_alike(line)
            and not line.has("hedge", "doubt", "suspect", "question", "conditional")
        )

    def _doubts(self, line: Line, known: Suspect) -> bool:
        """Whether a line puts a suspect that it names on the table; one cleared needs words of doubt."""
        if known.history[-1].utterance == line.id:
            return False  # cleared in the same breath
        if known.status != "ruled_out" or line.has("hedge", "suspect", "conditional"):
            return True
        words = ("", *line.tokens)
        return all(words[cue.at[0]] == "or" for cue in line.cues("negation"))  # *dry carpet or no*

    def _looks_back(self, line: Line) -> bool:
        """Whether a line tells how a cause just settled came about: *he must've knocked it with the tube*."""
        just = self._settled is not None and self.turn - self._settled_at <= _SINCE
        return just and not _W["talk.history"].isdisjoint(line.tokens)

    @staticmethod
    def _is_whole(line: Line, entity: Component | Material) -> bool:
        """Too much of the machine to be a suspect, unless it is said to be one (*or the tank*)."""
        return entity.name in _W["names.wholes"] and line.word_before(entity) not in _W["join.leads"]

    def theory(self, name: str) -> Suspect | None:
        """What only the customer suspected, by a name, put on the table: its own test spoke of it."""
        return self.named(name) if name in self._theories and not self.find(name) else None

    def found_good(self, suspect: Suspect, line: Line) -> None:
        """A suspect still open at the end whose own test found it good counts as cleared by that result."""
        own = [c for c in line.components if suspect.fit(c.name) >= LOOSE]
        renewed = any("new" in line.tokens[max(0, c.at[0] - 2) : c.at[0]] for c in own)
        if line.has("unproven") or _only_work(line) or renewed or any(called_bad(line, c) for c in own):
            return  # *new bearing in, quiet as you like* clears no bearing
        if suspect.status == "open" and suspect.history[-1].utterance < line.id:
            self.mark(suspect, "ruled_out", line)
