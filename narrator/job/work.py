"""Work done, checks after it, and cautions."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Sequence
from functools import lru_cache

from narrator.job.line import Line
from narrator.job.naming import likeness
from narrator.job.outcome import verification_outcome
from narrator.job.plain_result import plainly
from narrator.job.putting_in import is_half_of, puts_in
from narrator.job.record import (
    CautionRow,
    CorrectionRow,
    StepRow,
    VerificationRow,
)
from narrator.job.stage import Role
from narrator.job.unlisted import phrase
from narrator.paths import GRAMMARS
from narrator.values import Component, Fastener, Material

_SAME = 0.7
_AFTER = 3
_SURE = 2.0
_ONES = frozenset("one ones 'un un".split())
_BEFORE_NOUN = frozenset("the a an new this that some old of my his her its our their no with and's".split())
_FRESH = frozenset(("new", "fresh"))
_TAKEN_UP = frozenset("took take taken taking".split())
_JOINS = frozenset("and the a an both all new its his her my , two".split())
_OBJECTS = frozenset("the it them that a an my his her its both all new this those".split())
_AUXILIARIES = frozenset("'s is are was were been got has have both all now just".split())
_CODES = frozenset("code codes fault faults memory light lights it them".split())
_ELSEWHERE = frozenset("over sides round around positions places ends end".split())


@lru_cache(maxsize=1)
def deeds() -> dict[str, str]:
    """Spoken verb to the action it is written as (grammars/deeds.toml)."""
    rows = tomllib.loads((GRAMMARS / "deeds.toml").read_text(encoding="utf-8"))["deed"]
    return {word: row["action"] for row in rows for word in row["words"]}


@lru_cache(maxsize=1)
def _stuff() -> dict[str, str]:
    """What is only taken for one deed, to that deed: *carb cleaner through the jet*."""
    rows = tomllib.loads((GRAMMARS / "deeds.toml").read_text(encoding="utf-8"))["deed"]
    return {word: row["action"] for row in rows for word in row.get("stuff", ())}


@lru_cache(maxsize=1)
def _settings() -> frozenset[str]:
    """What is adjusted and no part: *the idle*, *the gap*."""
    rows = tomllib.loads((GRAMMARS / "deeds.toml").read_text(encoding="utf-8"))["deed"]
    return frozenset(word for row in rows for word in row.get("settings", ()))


@lru_cache(maxsize=1)
def _telling() -> frozenset[str]:
    """Words without one of which a line of work tells no change."""
    return _FRESH.union(deeds(), _stuff(), ("slack", "did", "done"))


def _is_noun(line: Line, i: int) -> bool:
    """Whether a word that may be a deed names a thing here: *the seal*, *some grease*, *wire brush*."""
    if any(e.at[0] <= i < e.at[1] for e in line.understood.entities):
        return True
    if line.tokens[i] in ("oil", "grease", "seal", "patch") and (
        i + 1 in line.breaks or i + 1 == len(line.tokens)
    ):
        return True  # *plugs, oil, air filter*
    return i > 0 and line.tokens[i - 1] in _BEFORE_NOUN


class Work:
    """Steps in order, and the corrections among them."""

    def __init__(self) -> None:
        self.steps: list[StepRow] = []
        self.corrections: list[CorrectionRow] = []
        self._focus: str | None = None
        self._seen: str | None = None
        """What the line before was about, if it told what was found."""

    def read(self, line: Line, settled: str | None = None, fitted: Sequence[str] = ()) -> None:
        """Take in one line; ``settled`` names the cause settled last, ``fitted`` parts that it fits."""
        put = [] if line.does("step") else [c.name for c in line.components if puts_in(line, c)]
        for name in put:
            self._correct("replace", name, line)
        if not line.does("step"):
            found = line.does("observation", "hypothesis", "confirmed", "result") and line.components
            self._seen = line.main_components()[0].name if found else None
            return
        self.steps.append(StepRow(text=line.understood.clean, utterance=line.id))
        if fitted or not _telling().isdisjoint(line.tokens):
            self._changes(line, self._meant(settled), fitted)
        if line.components:
            self._focus = line.main_components()[0].name
        self._seen = None

    def _changes(self, line: Line, meant: str | None, fitted: Sequence[str]) -> None:
        """What a line of work replaces and does; ``meant`` is what it is done to where nothing is named."""
        for name in (*self._new(line, None if fitted else meant), *fitted):
            if not is_half_of(name, fitted) and not _used(line, name):
                self._correct("replace", name, line)
        for name in (*_did(line), *_all_done(line)):
            self._correct("replace", name, line)
        for i, word in enumerate(line.tokens):
            action = deeds().get(word)
            action = None if action is None or _is_noun(line, i) else action
            if action == "replace" and not _ELSEWHERE.isdisjoint(line.tokens):
                continue  # *swapped the coils over*
            action = action or _stuff().get(word)
            if word in ("clear", "cleared") and _memory(line, i):
                continue  # *cleared the codes*
            for done_to in self._objects(line, i, meant) if action else ():
                self._correct(str(action), done_to, line)
        if "slack" in line.tokens and not _TAKEN_UP.isdisjoint(line.tokens) and (rod := _after_slack(line)):
            self._correct("adjust", rod, line)

    def _new(self, line: Line, meant: str | None) -> Iterator[str]:
        """What is fitted new: *the new hose*, *new linings in*, *old sender out and the new one in*."""
        for component in line.components:
            if not _FRESH.isdisjoint(line.tokens[max(0, component.at[0] - 3) : component.at[0]]):
                yield component.name
        for i in range(len(line.tokens) - 1):
            if line.tokens[i] not in _FRESH:
                continue
            if line.tokens[i + 1] in _ONES:
                old = [c for c in line.main_components() if c.at[1] <= i]
                name = old[0].name if old else meant
            elif not any(e.at[0] <= i + 1 < e.at[1] for e in line.understood.entities):
                found = phrase(line, i + 1, article=False)
                name = found.name if found else None
            else:
                continue
            if name:
                yield name

    def _objects(self, line: Line, verb: int, meant: str | None) -> list[str]:
        """What a deed is done to: a thing, those that *and* joins to it, or a setting (*set the idle*)."""
        if any(f.at[1] == verb for f in line.entities(Fastener)):
            return []  # *the old bolts cleaned up*
        setting = _setting(line, verb)
        first = None if setting else self._object(line, verb, meant)
        found = [name for name in (setting, first) if name]
        end = next((c.at[1] for c in line.components if c.name == first and c.at[0] > verb), 0)
        if setting and setting in line.tokens[verb:]:
            end = line.tokens.index(setting, verb) + 1
        for component in line.components if end else ():
            between = line.tokens[end : component.at[0]]
            if component.at[0] >= end and "and" in between and _JOINS.issuperset(between):
                found.append(component.name)
                end = component.at[1]
        return found

    def _object(self, line: Line, verb: int, meant: str | None) -> str | None:
        """What a deed is done to: the next thing that is no place, one named before, or what is meant."""
        if done := _done(line, verb):
            return done
        materials = {m.name for m in line.materials}
        things = [c for c in line.components if c.name not in materials]
        main = [c for c in things if not line.is_place(c)]
        after = [c for c in main if c.at[0] > verb]
        if line.tokens[verb + 1 : verb + 2] in (("it",), ("them",), ("that",)):
            after = []  # *scrub it, wire brush and brake cleaner*
            main = [c for c in main if c.at[1] <= verb]
        chosen = after or main or [c for c in things if c.at[0] > verb]
        return chosen[0].name if chosen else meant

    def _meant(self, settled: str | None) -> str | None:
        """What a deed without a name is done to: the cause just settled, until something was done to it."""
        if settled and not any(likeness(settled, row.component) >= _SAME for row in self.corrections):
            return settled
        return self._seen or self._focus

    def _correct(self, action: str, component: str, line: Line) -> None:
        for row in self.corrections:
            if row.action == action and likeness(component, row.component) >= _SAME:
                if line.id not in row.utterances:
                    row.utterances.append(line.id)
                return
        self.corrections.append(CorrectionRow(action=action, component=component, utterances=[line.id]))


def _did(line: Line) -> list[str]:
    """*Just did the oil and filter*: what was renewed, by no verb of its own."""
    found: list[str] = []
    end = next((i + 2 for i, word in enumerate(line.tokens[:3]) if word == "did"), 0)
    if not end or line.tokens[end - 1 : end] not in (("the",), ("both",)):
        return found
    things: list[Component | Material] = [*line.components, *line.materials]
    for thing in sorted(things, key=lambda e: e.at):
        if thing.at[0] == end or (found and _JOINS.issuperset(line.tokens[end : thing.at[0]])):
            found.append(thing.name)
            end = thing.at[1]
    return found


def _all_done(line: Line) -> list[str]:
    """*Plugs, oil filter and air filter done*: what was renewed in a service."""
    things: list[Component | Material] = [*line.components, *line.materials]
    for i, word in enumerate(line.tokens):
        end = i
        while end and line.tokens[end - 1] in _AUXILIARIES:
            end -= 1
        if word != "done" or (i + 1 < len(line.tokens) and i + 1 not in line.breaks):
            continue
        found: list[str] = []
        for thing in sorted(things, key=lambda e: e.at, reverse=True):
            if thing.at[1] == end or (found and _JOINS.issuperset(line.tokens[thing.at[1] : end])):
                found.append(thing.name)
                end = thing.at[0]
        return found[::-1]
    return []


def _memory(line: Line, verb: int) -> bool:
    """Whether what is cleared is no part: codes, a fault, *it*."""
    after = line.tokens[verb + 1 : verb + 4]
    return not any(c.at[0] - verb in (1, 2, 3) for c in line.components) or not _CODES.isdisjoint(after)


def _used(line: Line, name: str) -> bool:
    """*Rebuilt the master with the kit*: the kit is used up, and the master is what was done."""
    return f"with the {name.rsplit(maxsplit=1)[-1]}" in line.text


def _setting(line: Line, verb: int) -> str | None:
    """*Set the idle*, *the drive adjusted*: what is set and no part, in ``settings`` of the deeds."""
    if deeds().get(line.tokens[verb]) != "adjust":
        return None
    after = [t for t in line.tokens[verb + 1 : verb + 3] if t not in _BEFORE_NOUN]
    before = line.tokens[max(0, verb - 1) : verb] if verb not in line.breaks else ()
    for word in (*after[:1], *before):
        if word in _settings():
            return word
    return None


def _done(line: Line, verb: int) -> str | None:
    """*Friction wheel replaced*, *the caliper's been rebuilt*: the thing named right before its deed."""
    if line.tokens[verb + 1 : verb + 2] and line.tokens[verb + 1] in _OBJECTS:
        return None
    before = verb
    while before and before not in line.breaks and line.tokens[before - 1] in _AUXILIARIES:
        before -= 1
    if before in line.breaks or not line.tokens[verb].endswith(("ed", "t")):
        return None
    return next((c.name for c in line.components if c.at[1] == before and not line.is_place(c)), None)


def _after_slack(line: Line) -> str | None:
    """*Took up the slack in the track rod*."""
    at = line.tokens.index("slack")
    return next((c.name for c in line.components if 0 < c.at[0] - at <= 3), None)


class Verifications:
    """Checks after the repair and how each went."""

    def __init__(self) -> None:
        self._lines: list[Line] = []
        self._places: list[int] = []

    def read(self, line: Line, role: Role) -> None:
        """Take in one line, whose check is of this role."""
        if role == "verification":
            self._places.append(len(self._lines))
        self._lines.append(line)

    def rows(self) -> list[VerificationRow]:
        """The contract's verifications, one for each line that checks the repair."""
        rows = []
        for place in self._places:
            line = self._lines[place]
            after = self._lines[place + 1 : place + 1 + _AFTER]
            odds = verification_outcome([line], after)
            if (well := plainly(line.tokens, line.breaks)) is not None:
                odds = _SURE if well else -_SURE
            line.judged([line], after)
            rows.append(
                VerificationRow(
                    text=line.understood.clean, outcome="fail" if odds < 0 else "pass", utterances=[line.id]
                )
            )
        return rows


def cautions(lines: list[Line]) -> list[CautionRow]:
    """Safety warnings as spoken."""
    return [CautionRow(text=n.understood.clean, utterance=n.id) for n in lines if n.does("caution")]
