"""Stages: functions over the workspace of one utterance, or of many at once, that spaCy can run too.

Stages read and fill ``Notes`` and never look at a Doc. Under their names they are spaCy components
(``narrator.language.pipeline.pipeline``); the reader runs them straight over the workspaces, since making
Docs and passing them on took a tenth of its time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import islice

from spacy.language import Language
from spacy.tokens import Doc

from narrator.language.tokens import Notes, make_doc

Each = Callable[[Notes], None]
Together = Callable[[Sequence[Notes]], None]

_TOGETHER: dict[str, Together] = {}


def stage(name: str) -> Callable[[Each], Each]:
    """Register a function over one workspace as the stage and spaCy component of this name."""

    def register(work: Each) -> Each:
        """Enter the function under the name and give it back as it is."""

        def all_of(batch: Sequence[Notes]) -> None:
            for notes in batch:
                work(notes)

        def component(doc: Doc) -> Doc:
            notes: Notes = doc._.notes
            before = notes.words[:]
            work(notes)
            return doc if notes.words == before else make_doc(doc.vocab, notes)

        _TOGETHER[name] = all_of
        Language.component(name, func=component)
        return work

    return register


def stage_together(name: str) -> Callable[[Together], Together]:
    """Register a function over the workspaces of many utterances; it changes none of their words."""

    def register(work: Together) -> Together:
        """Enter the function under the name and give it back as it is."""
        _TOGETHER[name] = work
        Language.factory(name, func=lambda nlp, name: _Batches(work))
        return work

    return register


def run(name: str, batch: Sequence[Notes]) -> None:
    """Run one stage over the workspaces of a batch.

    Raises:
        KeyError: when no module that was imported registered the stage.
    """
    _TOGETHER[name](batch)


class _Batches:
    """A stage over many utterances as a spaCy component."""

    def __init__(self, work: Together) -> None:
        self._work = work

    def __call__(self, doc: Doc) -> Doc:
        self._work([doc._.notes])
        return doc

    def pipe(self, docs: Iterable[Doc], batch_size: int = 128) -> Iterator[Doc]:
        """Work on ``batch_size`` Docs at a time."""
        source = iter(docs)
        while batch := list(islice(source, batch_size)):
            self._work([doc._.notes for doc in batch])
            yield from batch
