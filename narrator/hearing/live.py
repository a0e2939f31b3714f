"""Hearing while it is being said: text early, and the final text soon after the last word.

``SegmentRecognizer`` would do, but its decoder starts when the pause has lasted long enough to end the piece.
Here the piece is decoded as soon as a pause begins, beside everything else; when the pause does end it, the
words are there already. They are the same words, because it is the same sound. Partial text comes from a
quicker decoder and from the last seconds only, so that a long piece costs no more than a short one; what came
before them is kept as it was read.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass, replace

import numpy as np

from narrator.errors import NarratorError
from narrator.hearing.calls import each
from narrator.hearing.control import SURE_ALONE
from narrator.hearing.recognizer import Decoder, Heard, SegmentRecognizer, Timing
from narrator.hearing.segmenter import Segment, Segmenter, split
from narrator.hearing.voice import FRAME
from narrator.values import SAMPLE_RATE, AudioChunk, Partial, Utterance, Word

PARTIAL_EVERY_S = 0.1
"""Sound between two partial results at least."""
_SHARE = 0.25
"""After a partial result a quarter as much time again is left to others."""
_TAIL_S = 4.0
_FIRST_S = 0.2
"""Speech before which there is no word to read."""
_REMARK_S = 0.3
"""So much more speech than is known may hold a remark that is not."""
_MOST_WAITING = 4
"""Pieces that may wait for their words while more sound is taken in."""


@dataclass(frozen=True, slots=True)
class Reading:
    """Words of a piece and who made them."""

    words: list[Word]
    engine: str
    timing: Timing


Run = Callable[[Callable[[], Reading]], Future[Reading]]


def at_once(work: Callable[[], Reading]) -> Future[Reading]:
    """Do it now, in this thread."""
    future: Future[Reading] = Future()
    future.set_result(work())
    return future


class LiveRecognizer(SegmentRecognizer):
    """A ``Recognizer`` for sound as it comes. ``busy`` says whether more sound is waiting already: then it
    catches up first, gives no partial results and does not wait for the words of a piece that has ended.
    Without ``partials`` there are none at any time.

    ``early``, which may be set later, reads partial text; ``decoder`` does where it is None. ``calls``, an
    ear of commands, hears pieces in which ``decoder`` finds no words: a command that it is sure of becomes
    the utterance. ``run`` decodes pieces one after the other, elsewhere if it likes. After a crash the
    recognizer is given the tape from a while before the last utterance that was kept, and what lies before
    ``after`` seconds is known already: pieces of which nothing else can be left are not decoded again.
    """

    def __init__(
        self,
        decoder: Decoder,
        segmenter: Segmenter | None = None,
        *,
        early: Decoder | None = None,
        calls: Decoder | None = None,
        run: Run = at_once,
        first_id: int = 1,
        after: float = 0.0,
        whole: Callable[[str], bool] = lambda _: False,
        busy: Callable[[], bool] = lambda: False,
        partials: bool = True,
        clock: Callable[[], float] = time.perf_counter,
    ) -> None:
        super().__init__(decoder, segmenter, first_id=first_id, after=after, whole=whole, clock=clock)
        self._busy, self._run, self.early = busy, run, early
        self._partials = partials
        self._calls = calls
        self._known: tuple[int, int, Future[Reading]] | None = None
        self._ended: deque[tuple[Segment, Future[Reading]]] = deque()
        self._reading: Reading | None = None
        self._head: list[Word] = []
        self._head_end = 0
        self._shown_to = 0
        self._shown: Future[Reading] | None = None
        self._rest_until = 0.0

    @property
    def speaking(self) -> bool:
        """Whether a piece is open."""
        return self._segmenter.open_seconds > 0

    @property
    def idle(self) -> bool:
        """Whether no piece is open and none is being decoded."""
        return not self.speaking and not self._ended and (self._known is None or self._known[2].done())

    def use(self, decoder: Decoder) -> None:
        """Go on with another decoder; nothing of the sound is lost."""
        self._decoder = decoder
        self._known = None

    def accept(self, chunk: AudioChunk) -> list[Heard]:
        """See ``Recognizer``."""
        for segment in self._segmenter.accept(chunk):
            self._end(segment)
        heard: list[Heard] = list(self._words_of_ended(wait=not self._busy()))
        settled = self._segmenter.settled()
        if settled is not None:
            self._foresee(settled)
        if self._partials and not self._busy() and (partial := self._early()):
            heard.append(partial)
        return heard

    def finish(self) -> list[Heard]:
        """See ``Recognizer``."""
        for segment in self._segmenter.finish():
            self._end(segment)
        return list(self._words_of_ended(wait=True))

    # ------------------------------------------------------------ pieces that have ended

    def _end(self, segment: Segment) -> None:
        self._head, self._head_end, self._shown_to = [], 0, 0
        more = segment.spoken()[1] - self._after
        if (segment.start + segment.end) / 2 < self._after and more < _REMARK_S:
            return
        if self._known is not None and self._known[:2] == (segment.first, len(segment.samples)):
            future = self._known[2]
        else:
            future = self._start(segment)
        self._ended.append((segment, future))

    def _start(self, segment: Segment) -> Future[Reading]:
        decoder, calls = self._decoder, self._calls

        def read() -> Reading:
            words = decoder.decode(segment)
            if not words and calls is not None and (called := _called(calls, segment)):
                return Reading(called, calls.name, calls.timing)
            return Reading(words, decoder.name, decoder.timing)  # it may have changed with this piece

        return self._run(read)

    def _words_of_ended(self, *, wait: bool) -> list[Utterance]:
        """Utterances of the pieces that have ended, in order, as far as their words are there."""
        found = []
        while self._ended and (wait or self._ended[0][1].done() or len(self._ended) > _MOST_WAITING):
            segment, future = self._ended.popleft()
            self._reading = future.result()
            found += self._final(segment)
        return found

    def _decode(self, segment: Segment) -> list[Word]:
        assert self._reading is not None
        return self._reading.words

    def _made_by(self) -> tuple[str, Timing]:
        assert self._reading is not None
        return self._reading.engine, self._reading.timing

    def _foresee(self, segment: Segment) -> None:
        """Have a piece whose pause has begun decoded, once."""
        key = (segment.first, len(segment.samples))
        if (self._known is None or self._known[:2] != key) and segment.end >= self._after:
            self._known = (*key, self._start(segment))

    # ------------------------------------------------------------ text before that

    def _early(self) -> Partial | None:
        """What can be said before the piece has ended."""
        segment = self._segmenter.open()
        if segment is None or (segment.start + segment.end) / 2 < self._after:
            return None
        if (foreseen := self._foreseen(segment)) is not None:
            return foreseen
        end = segment.first + len(segment.samples)
        due = max(self._shown_to + round(PARTIAL_EVERY_S * SAMPLE_RATE), segment.first)
        voiced = float(segment.voiced.sum()) * FRAME / SAMPLE_RATE
        if end < due or voiced < _FIRST_S or self._clock() < self._rest_until:
            return None
        if not segment.voiced[max(0, self._shown_to - segment.first) // FRAME :].any():
            return None  # nothing was said since
        began = self._clock()
        words = self._tail_words(segment)
        self._shown_to = end
        self._rest_until = self._clock() + _SHARE * (self._clock() - began)
        return _partial(words, segment.start, segment.end)

    def _foreseen(self, segment: Segment) -> Partial | None:
        """The final text, when it is there before the pause has ended the piece and was not shown yet."""
        if self._known is None or self._known[0] != segment.first or not self._known[2].done():
            return None
        first, length, future = self._known
        end = first + length
        if future is self._shown or segment.voiced[length // FRAME :].any():
            return None
        self._shown, self._shown_to = future, max(self._shown_to, end)
        return _partial(future.result().words, segment.start, end / SAMPLE_RATE)

    def _tail_words(self, segment: Segment) -> list[Word]:
        """Words of a piece of which only the last seconds are decoded anew."""
        tail = _from(segment, max(segment.first, self._head_end))
        if len(tail.samples) > _TAIL_S * SAMPLE_RATE:
            done, tail = split(tail)
            self._head += self._read(done)
            self._head_end = tail.first
        return [*self._head, *self._read(tail)]

    def _read(self, segment: Segment) -> list[Word]:
        return self.early.decode(segment) if self.early is not None else self._start(segment).result().words


def _called(calls: Decoder, segment: Segment) -> list[Word]:
    """Words of a command that the ear of commands is sure of, or none."""
    try:
        words = calls.decode(segment)
    except NarratorError:
        return []
    first = each(words)[0] if words else []
    sure = bool(first) and (first[0].conf or 0.0) >= SURE_ALONE
    return [replace(word, other=None) for word in first] if sure else []


def _partial(words: list[Word], start: float, end: float) -> Partial | None:
    return Partial(" ".join(word.word for word in words), start, end) if words else None


def _from(segment: Segment, first: int) -> Segment:
    """The part of a piece from sample ``first`` on (a whole number of frames into it)."""
    skip = first - segment.first
    return Segment(first, segment.samples[skip:], np.asarray(segment.voiced[skip // FRAME :]))
