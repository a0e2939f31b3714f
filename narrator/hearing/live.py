"""Hearing while it is being said: text early, and the final text soon after the last word.

``SegmentRecognizer`` would do, but its decoder starts when the pause has lasted long enough to end the piece.
Here the piece is decoded as soon as a pause begins; when the pause does end it, the words are there already.
They are the same words, because it is the same sound. Partial text comes from the last seconds only, so that
a long piece costs no more than a short one; what came before them is kept as it was read.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np

from narrator.hearing.recognizer import Decoder, Heard, SegmentRecognizer
from narrator.hearing.segmenter import Segment, Segmenter, split
from narrator.hearing.voice import FRAME
from narrator.values import SAMPLE_RATE, AudioChunk, Partial, Utterance, Word

PARTIAL_EVERY_S = 0.1
"""Sound between two partial results at least."""
_SHARE = 0.5
"""After a partial result half as much time again is left to others."""
_TAIL_S = 4.0
_PAUSE = 5
"""Quiet frames that are a pause and not a consonant."""
_FIRST_S = 0.2
"""Speech before which there is no word to read."""


class LiveRecognizer(SegmentRecognizer):
    """A ``Recognizer`` for sound as it comes. ``busy`` says whether more sound is waiting already: then it
    catches up first and gives no partial results.

    After a crash it is given the tape from a while before the last utterance that was kept: pieces whose
    middle lies before ``after`` seconds are known already and not decoded again.
    """

    def __init__(
        self,
        decoder: Decoder,
        segmenter: Segmenter | None = None,
        *,
        first_id: int = 1,
        after: float = 0.0,
        busy: Callable[[], bool] = lambda: False,
        clock: Callable[[], float] = time.perf_counter,
    ) -> None:
        super().__init__(decoder, segmenter, first_id=first_id, clock=clock)
        self._after, self._busy = after, busy
        self._known: tuple[int, int, list[Word]] | None = None
        self._head: list[Word] = []
        self._head_end = 0
        self._shown_to = 0
        self._rest_until = 0.0

    @property
    def speaking(self) -> bool:
        """Whether a piece is open."""
        return self._segmenter.open_seconds > 0

    def use(self, decoder: Decoder) -> None:
        """Go on with another decoder; nothing of the sound is lost."""
        self._decoder = decoder
        self._known = None

    def accept(self, chunk: AudioChunk) -> list[Heard]:
        """See ``Recognizer``."""
        heard: list[Heard] = list(self._finals(self._segmenter.accept(chunk)))
        if not self._busy() and (partial := self._early()):
            heard.append(partial)
        return heard

    def _final(self, segment: Segment) -> Utterance | None:
        self._head, self._head_end, self._shown_to = [], 0, 0
        if (segment.start + segment.end) / 2 < self._after:
            return None
        return super()._final(segment)

    def _decode(self, segment: Segment) -> list[Word]:
        if self._known is not None and self._known[:2] == (segment.first, len(segment.samples)):
            return self._known[2]
        return self._decoder.decode(segment)

    def _early(self) -> Partial | None:
        """What can be said before the piece has ended."""
        settled = self._segmenter.settled()
        if settled is not None:
            return self._foresee(settled)
        segment = self._segmenter.open()
        if segment is None or (segment.start + segment.end) / 2 < self._after:
            return None
        end = segment.first + len(segment.samples)
        due = max(self._shown_to + round(PARTIAL_EVERY_S * SAMPLE_RATE), segment.first)
        voiced = float(segment.voiced.sum()) * FRAME / SAMPLE_RATE
        if not segment.voiced[-_PAUSE:].any():
            return None  # the whole piece is read in a moment, when the pause has settled it
        if end < due or voiced < _FIRST_S or self._clock() < self._rest_until:
            return None
        return self._show(self._tail_words, segment)

    def _foresee(self, segment: Segment) -> Partial | None:
        """Decode a piece whose pause has begun, once."""
        key = (segment.first, len(segment.samples))
        if (self._known is not None and self._known[:2] == key) or segment.end < self._after:
            return None

        def decode(piece: Segment) -> list[Word]:
            words = self._decoder.decode(piece)
            self._known = (*key, words)
            return words

        return self._show(decode, segment)

    def _show(self, decode: Callable[[Segment], list[Word]], segment: Segment) -> Partial | None:
        began = self._clock()
        words = decode(segment)
        self._shown_to = segment.first + len(segment.samples)
        self._rest_until = self._clock() + _SHARE * (self._clock() - began)
        if not words:
            return None
        return Partial(" ".join(word.word for word in words), segment.start, segment.end)

    def _tail_words(self, segment: Segment) -> list[Word]:
        """Words of a piece of which only the last seconds are decoded anew."""
        tail = _from(segment, max(segment.first, self._head_end))
        if len(tail.samples) > _TAIL_S * SAMPLE_RATE:
            done, tail = split(tail)
            self._head += self._decoder.decode(done)
            self._head_end = tail.first
        return [*self._head, *self._decoder.decode(tail)]


def _from(segment: Segment, first: int) -> Segment:
    """The part of a piece from sample ``first`` on (a whole number of frames into it)."""
    skip = first - segment.first
    return Segment(first, segment.samples[skip:], np.asarray(segment.voiced[skip // FRAME :]))
