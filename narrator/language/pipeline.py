"""The understanding pipeline: our tokenizer and small stages, over workspaces or as a spaCy pipeline.

A stage is a function registered with ``@stage`` in the module that owns it, or with ``@stage_together`` where
it takes a batch at once (narrator.language.stage). ``STAGES`` is the order in which they run.
"""

from __future__ import annotations

import importlib
from collections.abc import Iterable, Sequence
from functools import cache, lru_cache

import spacy
from spacy.language import Language

from narrator.language.stage import run
from narrator.language.tokens import Notes, ShopTokenizer, split_words

STAGES: tuple[tuple[str, str], ...] = (
    ("repair", "narrator.language.repair"),
    ("numbers", "narrator.language.numbers"),
    ("terms", "narrator.language.terms"),
    ("codes", "narrator.language.codes"),
    ("vehicle", "narrator.language.vehicle"),
    ("money", "narrator.language.money"),
    ("fasteners", "narrator.language.fasteners"),
    ("measurements", "narrator.language.measurements"),
    ("meaning", "narrator.language.meaning"),
    ("components", "narrator.language.components"),
    ("named", "narrator.language.named"),
    ("cues", "narrator.language.cues"),
)
"""(component name, module that registers it), in running order."""
UNCUED = STAGES[:-1]
"""All but the last: a session supplies what was left unsaid before cues are looked for."""


@cache
def load_stages() -> None:
    """Import every stage, which reads its rules; happens once."""
    for _, module in STAGES:
        importlib.import_module(module)


def workspaces(texts: Iterable[str], stages: Sequence[tuple[str, str]] = STAGES) -> list[Notes]:
    """The workspace of each text after the stages, as ``pipeline`` leaves it in ``doc._.notes``."""
    load_stages()
    batch = [split_words(text) for text in texts]
    for name, _ in stages:
        run(name, batch)
    return batch


@lru_cache(maxsize=1)
def pipeline() -> Language:
    """The shared spaCy pipeline: blank English and the stages as components, Doc → Doc."""
    load_stages()
    nlp = spacy.blank("en")
    nlp.tokenizer = ShopTokenizer(nlp.vocab)
    for name, _ in STAGES:
        nlp.add_pipe(name)
    return nlp
