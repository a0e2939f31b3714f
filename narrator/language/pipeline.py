"""The understanding pipeline: blank English, our tokenizer, and small components Doc → Doc in order.

A component is a function registered with ``@Language.component`` in the module that owns it, or a class with
``@Language.factory`` that takes a batch at once; it reads and fills ``doc._.notes``. ``STAGES`` is the order
in which they run.
"""

from __future__ import annotations

import importlib
from functools import lru_cache

import spacy
from spacy.language import Language

from narrator.language.tokens import ShopTokenizer

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


@lru_cache(maxsize=1)
def pipeline() -> Language:
    """The shared pipeline; loading takes well under a second and happens once a process."""
    nlp = spacy.blank("en")
    nlp.tokenizer = ShopTokenizer(nlp.vocab)
    for name, module in STAGES:
        importlib.import_module(module)
        nlp.add_pipe(name)
    return nlp
