"""Utterances to what was understood of them, in order, keeping what earlier ones set up.

What things and values an utterance names depends on it and those before it; what it does, on those that
follow too, as far as they are there: a session that goes on is read again from its beginning.
"""

from __future__ import annotations

import gc
from collections.abc import Iterable, Iterator
from dataclasses import replace
from functools import cache
from itertools import islice
from operator import attrgetter

from narrator.language.act_model import act_model
from narrator.language.acts import ActReader, Decision, Looked
from narrator.language.clean import clean_text
from narrator.language.cues import find_cues
from narrator.language.listed import Named, unlisted
from narrator.language.meaning import has_amounts, read_of, tell_each, told_of
from narrator.language.passing import passes
from narrator.language.pipeline import UNCUED, load_stages, workspaces
from narrator.language.repair import repairer
from narrator.language.tokens import Notes
from narrator.language.two_ears import ear_looks
from narrator.language.unsaid import Memory, units_told
from narrator.settings import Settings, load_settings
from narrator.values import Act, Entity, Measurement, Understood, Utterance

BATCH = 256
_at = attrgetter("at")
AHEAD = 64
"""So many lines past a batch are looked at for what its lines do."""
_COLLECT = (500_000, 20, 50)
"""When the collector of unused objects looks: what is understood stays, and none of it is cyclic. So many are
what some ten thousand lines leave."""


@cache
def _load() -> None:
    """Read rules, words and models, once a process.

    They stay to its end, so that the collector of unused objects need not go through them time and again,
    which took a tenth of the time; going through what has been understood so far as often as by default took
    another fifth in long sessions.
    """
    load_stages()
    repairer()
    act_model()
    gc.freeze()
    gc.set_threshold(*_COLLECT)


class Reader:
    """Understands the utterances of one session; ``use_model=False`` leaves acts to the rules alone.

    ``settings`` (those in force unless given) tell the shop's currency and unit of temperature.
    """

    def __init__(self, use_model: bool = True, settings: Settings | None = None) -> None:
        _load()
        self._acts = ActReader(use_model)
        self._settings = settings or load_settings()

    def watch(self) -> list[Looked]:
        """A list that fills, line by line, with what the act model looks at; empty without a model."""
        self._acts.looked_at = []
        return self._acts.looked_at

    def read(self, utterances: Iterable[Utterance], memory: Memory | None = None) -> Iterator[Understood]:
        """Yield one ``Understood`` for each utterance, in order; ``memory`` is a new one unless given."""
        memory = memory or Memory(self._settings.currency, self._settings.temperature)
        named = Named()
        source = iter(utterances)
        following = list(islice(source, BATCH))
        ahead = workspaces((u.text for u in following), UNCUED)
        while batch := following:
            notes = ahead
            following = list(islice(source, BATCH))
            ahead = workspaces((u.text for u in following), UNCUED)
            self._acts.tell(notes, ahead[:AHEAD])
            heard = [workspace.entities[:] for workspace in notes]
            added = [memory.supply(workspace) for workspace in notes]
            for workspace, entities, more in zip(notes, heard, added, strict=True):
                workspace.cues = find_cues(workspace, None if more else entities)
            decisions = self._acts.decide(notes)
            tell_each([n for n, one in zip(notes, decisions, strict=True) if _has_moves(n, one.acts)])
            for utterance, workspace, decision in zip(batch, notes, decisions, strict=True):
                yield self._understood(utterance, workspace, decision, named)

    def _understood(self, utterance: Utterance, notes: Notes, decision: Decision, named: Named) -> Understood:
        aside = decision.acts == ("aside",)
        entities = () if aside else tuple(sorted(_kept(notes), key=_at))
        read, units = read_of(notes), units_told(notes)
        return Understood(
            utterance=utterance,
            clean=clean_text(notes),
            tokens=tuple(notes.words),
            acts=decision.acts,
            entities=entities,
            unlisted=unlisted(notes, entities, decision.acts, named),
            cues=tuple(notes.cues),
            repairs=tuple(notes.repairs),
            looks=(
                *[replace(look, utterance=utterance.id) for look in notes.looks],
                *(() if aside or not utterance.words else ear_looks(utterance)),
            ),
            breaks=tuple(sorted(notes.marks)) if notes.marks else (),
            act_rules=decision.why,
            likely=decision.scores,
            moves=_moves(notes, decision.acts),
            meant=tuple(read.meant[: len(notes.words)]) if read else (),
            degrees=units.degrees,
            dollars=units.dollars,
            money=units.money,
            distance=units.distance,
            torque=units.torque,
        )


def _has_moves(notes: Notes, acts: tuple[Act, ...]) -> bool:
    return "step" in acts or has_amounts(notes)


def _moves(notes: Notes, acts: tuple[Act, ...]) -> tuple[tuple[float, float], ...]:
    """Off and on for each word; a line without work, fasteners or numbers is not worth the time."""
    told = told_of(notes) if _has_moves(notes, acts) else None
    return () if told is None else tuple(told.moves[: len(notes.words)])


def _kept(notes: Notes) -> list[Entity]:
    return [e for e in notes.entities if not (isinstance(e, Measurement) and passes(notes, e))]
