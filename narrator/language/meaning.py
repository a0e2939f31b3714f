"""Pipeline stage: what the network makes of each line by itself, kept in ``notes.scratch["read"]``.

Lines of a batch are read together, which takes half the time of one after the other.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator
from functools import lru_cache
from itertools import islice
from typing import Any

from spacy.language import Language
from spacy.tokens import Doc

from narrator.language.act_network import QUESTION, Read, act_network
from narrator.language.tokens import Notes
from narrator.paths import GRAMMARS


class Meaning:
    """The stage; does nothing where no network is installed."""

    def __call__(self, doc: Doc) -> Doc:
        """Read one line."""
        return next(self.pipe((doc,)))

    def pipe(self, docs: Iterable[Doc], batch_size: int = 128) -> Iterator[Doc]:
        """Read lines, ``batch_size`` at a time."""
        source = iter(docs)
        network = act_network()
        while batch := list(islice(source, batch_size)):
            if network is not None:
                notes = [doc._.notes for doc in batch]
                for one, read in zip(notes, network.read([said(n) for n in notes]), strict=True):
                    one.scratch["read"] = read
            yield from batch


def said(notes: Notes) -> list[str]:
    """The words of an utterance as the network reads them: a question mark counts as a word at the end."""
    return [*notes.words, QUESTION] if QUESTION in notes.marks.values() else notes.words


def read_of(notes: Notes) -> Read | None:
    """What the network made of a line, or None where there is none."""
    found = notes.scratch.get("read")
    return found if isinstance(found, Read) else None


@lru_cache(maxsize=1)
def meaning_table() -> dict[str, dict[str, Any]]:
    """``grammars/meaning.toml``: from which scores on the network's word counts."""
    return tomllib.loads((GRAMMARS / "meaning.toml").read_text(encoding="utf-8"))


@Language.factory("meaning")
def _make(nlp: Language, name: str) -> Meaning:
    return Meaning()
