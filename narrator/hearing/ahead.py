"""The second ear hears a piece while the dictation still does: on two cores the words are there sooner."""

from __future__ import annotations

from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path
from typing import Literal

from narrator.errors import NarratorError
from narrator.hearing.both_ears import BothEars, Dictation
from narrator.hearing.memory import give_back
from narrator.hearing.second_ear import FOLDER, ShopEar
from narrator.hearing.segmenter import Segment
from narrator.values import Word


class AheadEar(ShopEar):
    """A second ear that has begun with a piece before it is asked for its words."""

    def __init__(self, folder: Path = FOLDER, own: Path | None = None) -> None:
        super().__init__(folder, own)
        self._pool = ThreadPoolExecutor(1, "second ear")
        self._begun: tuple[Segment, Future[list[Word]]] | None = None

    def begin(self, segment: Segment) -> None:
        """Start hearing a piece, in a thread."""
        self._begun = (segment, self._pool.submit(super().hear, segment))

    def hear(self, segment: Segment) -> list[Word]:
        """See ``ShopEar``."""
        begun, self._begun = self._begun, None
        return begun[1].result() if begun is not None and begun[0] is segment else super().hear(segment)


class Ahead:
    """A ``Decoder`` of both ears, the second of which hears ahead. ``first``, the dictation, is quicker.
    ``own`` is the file of the shop's own words.

    Raises:
        NarratorError: E203 or E205 when the second ear's engine or model is missing.
        OSError: when a file of its model cannot be read.
    """

    def __init__(self, first: Dictation, own: Path | None = None) -> None:
        self.first = first
        self._ear = AheadEar(own=own)
        self._both = BothEars(first, self._ear)
        self.name = self._both.name
        self.timing: Literal["aligned", "estimated"] = self._both.timing

    def decode(self, segment: Segment) -> list[Word]:
        """See ``Decoder``."""
        self._ear.begin(segment)
        words = self._both.decode(segment)
        give_back()
        return words


def with_second_ear(first: Dictation, own: Path | None = None) -> Ahead | None:
    """Both ears, or None where the second one's model or engine is missing; ``own`` is the file of the shop's
    own words."""
    try:
        return Ahead(first, own)
    except (NarratorError, OSError):
        return None
