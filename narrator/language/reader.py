"""Utterances to what was understood of them, in order, keeping what earlier ones set up.

``Reader`` reads causally: what it makes of an utterance depends on that one and those before it, so
reading live and reading a file give the same.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from narrator.language.pipeline import pipeline
from narrator.language.tokens import Notes
from narrator.values import ACTS, Act, Understood, Utterance

BATCH = 256


class Reader:
    """Understands the utterances of one session."""

    def __init__(self) -> None:
        self._nlp = pipeline()

    def read(self, utterances: Iterable[Utterance]) -> Iterator[Understood]:
        """Yield one ``Understood`` for each utterance, in order."""
        pairs = ((u.text, u) for u in utterances)
        for doc, utterance in self._nlp.pipe(pairs, as_tuples=True, batch_size=BATCH):
            yield self._understood(utterance, doc._.notes)

    def _understood(self, utterance: Utterance, notes: Notes) -> Understood:
        acts: tuple[Act, ...] = tuple(a for a in ACTS if False)
        return Understood(
            utterance=utterance,
            clean=utterance.text,
            tokens=tuple(notes.words),
            acts=acts,
            entities=tuple(sorted(notes.entities, key=lambda e: e.at)),
            cues=tuple(notes.cues),
            repairs=tuple(notes.repairs),
            looks=tuple(notes.looks),
            breaks=tuple(sorted(notes.marks)),
        )
