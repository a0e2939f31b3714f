"""From sound to utterances: the one path that a file, a microphone and a replay take."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from narrator.errors import NarratorError
from narrator.hearing.recognizer import Heard, Recognizer
from narrator.values import AudioChunk, Gap


def hear(source: Iterable[AudioChunk | Gap], recognizer: Recognizer) -> Iterator[Heard]:
    """Give partial and final results as they become known.

    A gap ends the open utterance. When the source fails with a coded error, what was heard until then is
    given first, and the error is raised after it.
    """
    try:
        for block in source:
            if isinstance(block, Gap):
                yield from recognizer.finish()
            else:
                yield from recognizer.accept(block)
    except NarratorError:
        yield from recognizer.finish()
        raise
    yield from recognizer.finish()
