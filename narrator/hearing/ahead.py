"""The second ear hears a piece while the dictation still does: on two cores the words are there sooner."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from typing import Literal

from narrator.hearing.recognizer import Decoder
from narrator.hearing.second_ear import ShopEar
from narrator.hearing.segmenter import Segment
from narrator.values import Word


class AheadEar(ShopEar):
    """A second ear that has begun with a piece before it is asked for its words."""

    def __init__(self) -> None:
        super().__init__()
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
    """A ``Decoder`` of both ears, made of the dictation and of an ear that hears ahead. ``first`` alone
    is quicker.
    """

    def __init__(self, first: Decoder, both: Callable[[Decoder, ShopEar], Decoder]) -> None:
        self.first = first
        self._ear = AheadEar()
        self._both = both(first, self._ear)
        self.name = self._both.name
        self.timing: Literal["aligned", "estimated"] = self._both.timing

    def decode(self, segment: Segment) -> list[Word]:
        """See ``Decoder``."""
        self._ear.begin(segment)
        return self._both.decode(segment)
