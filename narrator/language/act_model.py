"""The trained act model: a small spaCy text categorizer for each of two passes, and a layer over word
meanings that both are averaged with (models/acts/card.md)."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
import spacy
from numpy.typing import NDArray
from spacy.language import Language
from spacy.tokens import Doc

from narrator.language.act_words import WordPass, word_pass
from narrator.paths import MODELS
from narrator.values import ACTS

FOLDER = MODELS / "acts"
_BATCH = 512
_MEANING = 0.3
"""Weight of the layer over word meanings; chosen by cross-validation on our own narrations."""

Scores = NDArray[np.float32]
"""Utterances × ``ACTS``, each 0 to 1."""


class Pass:
    """One text categorizer over feature strings; features it never saw are left out before it looks."""

    def __init__(self, nlp: Language, known: frozenset[str]) -> None:
        self.nlp = nlp
        self.known = known
        self._pipe = nlp.get_pipe("textcat_multilabel")
        self._order = [self._pipe.labels.index(act) for act in ACTS]  # type: ignore[attr-defined]

    def score(self, rows: Iterable[Sequence[str]]) -> Scores:
        """Scores of each row of features."""
        docs = [Doc(self.nlp.vocab, words=[f for f in row if f in self.known] or ["none"]) for row in rows]
        parts = [
            self._pipe.predict(docs[i : i + _BATCH])  # type: ignore[attr-defined]
            for i in range(0, len(docs), _BATCH)
        ]
        if not parts:
            return np.zeros((0, len(ACTS)), np.float32)
        table: Scores = np.concatenate([np.asarray(p, dtype=np.float32) for p in parts])[:, self._order]
        return table

    @classmethod
    def load(cls, folder: Path) -> Pass:
        """Load one pass as the training wrote it."""
        known = (folder / "features.txt").read_text(encoding="utf-8").splitlines()
        return cls(spacy.load(folder / "model"), frozenset(known))


def blend(scores: Scores, meaning: Scores | None) -> Scores:
    """Scores of a pass averaged with those of the layer over word meanings, where there is one."""
    if meaning is None:
        return scores
    table: Scores = (1 - _MEANING) * scores + _MEANING * meaning
    return table


@dataclass(frozen=True, slots=True)
class ActModel:
    """Both passes, and the layer over word meanings (None where its table was not installed)."""

    first: Pass
    second: Pass
    words: WordPass | None


@lru_cache(maxsize=1)
def act_model(folder: Path = FOLDER) -> ActModel | None:
    """The model as trained, or None where none was installed: rules then work alone."""
    if not (folder / "second" / "features.txt").is_file():
        return None
    return ActModel(Pass.load(folder / "first"), Pass.load(folder / "second"), word_pass(folder))
