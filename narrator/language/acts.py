"""What each utterance does: rules from ``grammars/acts.toml``, and the trained model where it is there.

Rules alone give an act where their cues and entities are met. With the model, rules are among what it has
learned to weigh, and a few that may not be overruled are applied after it.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import compress
from operator import ge
from typing import NamedTuple

import numpy as np

from narrator.convolution import Vectors
from narrator.language.act_model import Scores, act_model, blend
from narrator.language.act_network import Network, Read
from narrator.language.bare_identity import is_bare
from narrator.language.cues import MASKS
from narrator.language.features import Story, features
from narrator.language.meaning import has_amounts, read_of, said, tell_each
from narrator.language.opening_deed import opens_with_deed
from narrator.language.tokens import Notes
from narrator.paths import GRAMMARS
from narrator.values import ACTS, Act, Cue

_PLACE: dict[str, int] = {act: n for n, act in enumerate(ACTS)}
_ASIDE, _TEST, _RESULT = ACTS.index("aside"), ACTS.index("test"), ACTS.index("result")
_VERIFICATION = ACTS.index("verification")
_CONCERN, _SEEN = ACTS.index("concern"), ACTS.index("observation")
_OPENING: frozenset[str] = frozenset({"concern", "observation", "aside"})
"""What lines do before work on a job begins."""
_WORK = frozenset({"motion.on", "work.change"})
_LEADS = frozenset(
    ("the", "this", "that", "and", "but", "um", "uh", "er", "well", "yeah", "okay", "right", "look", "here")
)
_GIVES = frozenset(("polarity.good", "polarity.bad", "result.reads"))
"""Cues of what a check gave."""
_ENTITY = {kind: f"entity.{kind}" for kind in MASKS}
"""Type of an entity to the name that rules call it by."""
_FACTS = frozenset(
    {
        "entity.dtc",
        "entity.vehicle",
        "entity.vin",
        "entity.part_number",
        "entity.odometer",
        "entity.fastener",
        "entity.measurement",
    }
)


@dataclass(frozen=True, slots=True)
class ActRule:
    """An act is done where any cue or entity of ``any`` is met, all of ``every``, and none of ``none``.

    A ``final`` rule holds against the model, and takes away the acts that it ``drops``.
    """

    id: str
    act: Act
    any: frozenset[str]
    every: frozenset[str]
    none: frozenset[str]
    final: bool
    drops: frozenset[str] = frozenset()

    def applies(self, present: set[str]) -> bool:
        """Whether the utterance's cues and entity types (``entity.price``) meet the rule."""
        met = not self.any or not self.any.isdisjoint(present)
        return met and self.every <= present and self.none.isdisjoint(present)


@lru_cache(maxsize=1)
def act_rules() -> tuple[ActRule, ...]:
    """The rules of ``grammars/acts.toml``."""
    rows = tomllib.loads((GRAMMARS / "acts.toml").read_text(encoding="utf-8"))["rule"]
    return tuple(
        ActRule(
            row["id"],
            row["act"],
            frozenset(row.get("any", ())),
            frozenset(row.get("every", ())),
            frozenset(row.get("none", ())),
            row.get("final", False),
            frozenset(row.get("drops", ())),
        )
        for row in rows
    )


@lru_cache(maxsize=1)
def _final_rules() -> tuple[ActRule, ...]:
    """Those that hold against the model."""
    return tuple(rule for rule in act_rules() if rule.final)


@lru_cache(maxsize=1)
def _called_for() -> frozenset[str]:
    """Cues and entities of which a line has one where a final rule applies: most lines have none."""
    return frozenset().union(*[rule.every or rule.any for rule in _final_rules()])


@dataclass(frozen=True, slots=True)
class Bar:
    """An act the model may not give where ``any`` is met and ``none`` is not; ``instead`` fills in."""

    id: str
    act: Act
    any: frozenset[str]
    none: frozenset[str]
    instead: Act


@lru_cache(maxsize=1)
def bars() -> tuple[Bar, ...]:
    """The bars of ``grammars/acts.toml``."""
    rows = tomllib.loads((GRAMMARS / "acts.toml").read_text(encoding="utf-8"))["bar"]
    return tuple(
        Bar(row["id"], row["act"], frozenset(row["any"]), frozenset(row.get("none", ())), row["instead"])
        for row in rows
    )


@lru_cache(maxsize=1)
def _barred() -> frozenset[str]:
    """Acts that a bar may take away."""
    return frozenset([bar.act for bar in bars()])


@lru_cache(maxsize=1)
def thresholds() -> tuple[float, ...]:
    """From which score on each act counts, in the order of ``ACTS`` (grammars/acts.toml)."""
    table = tomllib.loads((GRAMMARS / "acts.toml").read_text(encoding="utf-8"))["threshold"]
    return tuple(float(table[act]) for act in ACTS)


@dataclass(frozen=True, slots=True)
class Companions:
    """Which acts one line may do at once (grammars/acts.toml, ``together``)."""

    second: float
    pairs: frozenset[frozenset[str]]
    result: float
    told: float


@lru_cache(maxsize=1)
def companions() -> Companions:
    """The ``together`` table of ``grammars/acts.toml``."""
    table = tomllib.loads((GRAMMARS / "acts.toml").read_text(encoding="utf-8"))["together"]
    return Companions(
        table["second"], frozenset(map(frozenset, table["pairs"])), table["result"], table["told"]
    )


def present(notes: Notes) -> set[str]:
    """Names of the cues met, ``entity.<type>`` of each type found, ``opens.deed``, and ``state.whole`` or
    ``clock.whole`` where a thing and its state (*the strap is loose*) or the clock is all that is told of.
    """
    found = {c.name for c in notes.cues}
    found.update(_ENTITY[e.type] for e in notes.entities)
    if opens_with_deed(notes):
        found.add("opens.deed")
    if "confirm.state" in found and any(_is_whole(c, notes.words) for c in notes.cues):
        found.add("state.whole")
    if "entity.odometer" in found and is_bare(notes, "odometer", "vin"):
        found.add("clock.whole")
    return found


def _is_whole(cue: Cue, words: Sequence[str]) -> bool:
    said_all = cue.name == "confirm.state" and cue.at[1] == len(words)
    return said_all and _LEADS.issuperset(words[: cue.at[0]])


class Decision(NamedTuple):
    """The acts of one utterance, for each the rules or the model's score behind it, and the scores of all."""

    acts: tuple[Act, ...]
    why: dict[str, str]
    scores: tuple[float, ...] = ()


class Looked(NamedTuple):
    """What the model looked at: the categorizer's features and the network's words."""

    features: list[str]
    words: list[str]


class ActReader:
    """Decides acts for the utterances of one session, in order, batch by batch."""

    def __init__(self, use_model: bool = True) -> None:
        self._model = act_model() if use_model else None
        self._story = Story()
        self._told: Vectors | None = None
        self._before: tuple[str, ...] = ()
        self._worked = self._begun = False
        self.looked_at: list[Looked] | None = None
        """Where a list is put here, it gets what the model looked at, one row an utterance."""

    def decide(self, batch: Sequence[Notes]) -> list[Decision]:
        """Decisions for the next utterances."""
        if self._model is None:
            return [by_rules(notes) for notes in batch]
        rows = []
        for notes in batch:
            row, self._before = features(notes, self._story, self._before)
            rows.append(row)
        if self.looked_at is not None:
            self.looked_at += [Looked(row.names(), said(n)) for row, n in zip(rows, batch, strict=True)]
        table = blend(self._model.bag.judge(rows), self._meaning(batch))
        return [self._in_order(notes, row) for notes, row in zip(batch, table.tolist(), strict=True)]

    def _in_order(self, notes: Notes, scores: Sequence[float]) -> Decision:
        """What a line does after those before it.

        A check verifies a repair only after something was put on or changed; before that it is a test. What
        is told beside the odometer before work begins is the concern.
        """
        if not self._worked:
            scores = list(scores)
            share = scores[_VERIFICATION]
            if share > max(scores[_TEST], scores[_RESULT]):
                reading = any(e.type == "measurement" for e in notes.entities)
                scores[_RESULT if reading or scores[_RESULT] >= scores[_TEST] else _TEST] = share
            scores[_VERIFICATION] = 0.0
        if not self._begun and any(e.type == "odometer" for e in notes.entities):
            # "eighty one thousand on the clock and it pulls left": nothing was looked at that could have told
            scores = list(scores)
            scores[_CONCERN] = max(scores[_CONCERN], scores[_RESULT], scores[_SEEN])
            scores[_RESULT] = scores[_SEEN] = 0.0
        decision = by_model(notes, scores)
        self._begun = self._begun or not _OPENING.issuperset(decision.acts)
        if not self._worked:
            self._worked = "step" in decision.acts and any(cue.name in _WORK for cue in notes.cues)
        return decision

    def tell(self, batch: Sequence[Notes], after: Sequence[Notes] = ()) -> None:
        """Carry the story on over the next utterances; ``told_of`` then tells what it says of their words.

        ``after`` are some of those that follow: what they say bears on what is done here.
        """
        if self._model is None or self._model.network is None:
            return
        network = self._model.network
        story = network.start() if self._told is None else self._told
        reads = [_read(network, notes) for notes in batch]
        lines = np.array([read.line for read in (*reads, *(_read(network, notes) for notes in after))])
        stories = network.stories(lines[: len(batch)], story)
        laters = network.laters(lines, network.start())[: len(batch)]
        meaning = network.acts(lines[: len(batch)], stories, laters)
        for notes, row, scores in zip(batch, stories, meaning, strict=True):
            notes.scratch["story"] = self._told = row
            notes.scratch["meaning"] = scores
        tell_each([notes for notes in batch if has_amounts(notes)])

    def _meaning(self, batch: Sequence[Notes]) -> Scores | None:
        """Scores of the network."""
        if self._model is None or self._model.network is None or not batch:
            return None
        if "meaning" not in batch[0].scratch:
            self.tell(batch)
        return np.array([notes.scratch["meaning"] for notes in batch])


def _read(network: Network, notes: Notes) -> Read:
    """What the network made of a line, which it reads now if the stage did not run."""
    return read_of(notes) or network.read([said(notes)])[0]


def by_rules(notes: Notes) -> Decision:
    """Rules alone: every act whose rule applies; talk that names nothing and does nothing is an aside."""
    found = present(notes)
    why: dict[str, str] = {}
    for rule in act_rules():
        if rule.act not in why and rule.applies(found):
            why[rule.act] = rule.id
    if "aside" in why and len(why) > 1:
        del why["aside"]
    return Decision(tuple(a for a in ACTS if a in why), why)


def together(chosen: set[Act], row: Sequence[float]) -> set[Act]:
    """The acts that one line may do at once, from those above their thresholds; ``row`` has a score an act.

    A line mostly does one thing: a second act has to be likely by itself, or be one that the first is
    commonly told with. A check told with what it gave is a result too, at a lower score than alone.
    """
    if len(chosen) == 1 and "test" not in chosen:
        return chosen
    company = companions()
    ranked = sorted(chosen, key=lambda a: -row[_PLACE[a]]) if len(chosen) > 1 else [*chosen]
    out = set(ranked[:1])
    for act in ranked[1:]:
        score = row[_PLACE[act]]
        if "aside" not in (act, ranked[0]) and (
            score >= company.second or any(frozenset((act, other)) in company.pairs for other in out)
        ):
            out.add(act)
    if "test" in out and row[_RESULT] >= company.result:
        out.add("result")
    return out


def by_model(notes: Notes, scores: Iterable[float]) -> Decision:
    """The model's acts above their thresholds (at least the likeliest), then the rules that are final."""
    row = list(scores)
    if is_bare(notes, "vin"):
        return Decision((), {}, tuple(row))
    found = present(notes)
    if not _FACTS.isdisjoint(found):  # a machine, a code, a number or a size is never lost as talk aside
        row[_ASIDE] = 0.0
    chosen = {*compress(ACTS, map(ge, row, thresholds()))}
    if not chosen:
        chosen = {ACTS[max(range(len(ACTS)), key=row.__getitem__)]}
    chosen = together(chosen, row)
    if "test" in chosen and not _GIVES.isdisjoint(found) and row[_RESULT] >= companions().told:
        chosen.add("result")  # "i work the arm by hand, it moves free and the spring is good"
    if "ruled_out" in chosen and "confirmed" in chosen and _things(notes) < 2:  # it is one or the other
        chosen.discard(min(("ruled_out", "confirmed"), key=lambda a: row[_PLACE[a]]))
    why: dict[str, str] = {a: f"model {row[_PLACE[a]]:.2f}" for a in chosen}
    why = enforce(why, found)
    acts = sorted(why, key=_PLACE.__getitem__) if len(why) > 1 else why
    return Decision(tuple(acts), why, tuple(row))  # type: ignore[arg-type]


def _things(notes: Notes) -> int:
    return sum(e.type == "component" for e in notes.entities)


def enforce(why: dict[str, str], found: set[str]) -> dict[str, str]:
    """Acts with their reasons after the bars and the final rules; ``found`` as ``present`` gives it."""
    for bar in () if _barred().isdisjoint(why) else bars():
        if bar.act in why and not bar.any.isdisjoint(found) and bar.none.isdisjoint(found):
            del why[bar.act]
            if not why:
                why[bar.instead] = bar.id
    for rule in () if _called_for().isdisjoint(found) else _final_rules():
        if rule.applies(found):
            why = {a: w for a, w in why.items() if a != "aside" and a not in rule.drops}
            why.setdefault(rule.act, rule.id)
    return why
