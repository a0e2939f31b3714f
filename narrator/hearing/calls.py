"""The second ear listening for calls: the attention phrase with a command behind it.

A grammar of a few phrases hears them in anything, so it only tells where a call may be and which calls are
like it. Each of these is then fitted to the sound, and the best counts where it fits nearly as well as the
best free text does, and clearly better than every call that means something else. Some commands end in free
words (a vehicle, a new value): there the phrase and then the free text's end are fitted, and the more words
that is the more it costs.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from narrator.hearing.control import AROUND_S
from narrator.hearing.orders import FARTHEST, distance
from narrator.hearing.pronounce import pronunciations
from narrator.hearing.second_ear import FOLDER, ShopEar
from narrator.hearing.segmenter import Segment
from narrator.hearing.voice import FRAME, FRAMES_A_SECOND
from narrator.hearing.vosk_engine import UNKNOWN, VoskDecoder
from narrator.values import Word

LONGEST_S = 8.0 + 2 * AROUND_S
"""A longer piece is no call."""
_LIKE_IT = 0.5
"""Calls of which no more of the words than this differ from what the grammar heard are fitted ..."""
_DIFFERS = 8.0
"""... each losing this, by the share of its words that differ, ..."""
_FREE_END = 5.0
_FREE_WORD = 2.0
"""... and these where it ends in free words, and for each of them, as they can follow any sound (all are log
weights) ..."""
_CLEARLY = 1.0
"""... and the best must win by this over calls of another meaning (chosen by measurement, docs/faults.md)."""
_SURE_BEFORE_FREE = 0.90
"""A call is given with free words behind it only if as sure: they hide that the rest is something else."""
_FRAMES_A_PHONE = 3
"""How long a phrase is at most taken to last: free words after it do not make its misfit small."""


@dataclass(frozen=True, slots=True)
class _Call:
    """A way of calling; ``meaning`` numbers what it asks for, ``goes_on`` tells that free words follow."""

    words: list[str]
    goes_on: bool
    meaning: int

    def differs(self, heard: list[str]) -> float:
        """Share of its words that differ from what was heard."""
        return distance(self.words, heard[: len(self.words)] if self.goes_on else heard)

    def ways(self, free: list[str]) -> list[tuple[list[str], float]]:
        """Texts that are this call, where ``free`` is what the whole sound is like, and what each loses."""
        if not self.goes_on:
            return [(self.words, 0.0)]
        count = len(self.words)
        ends = [free[at:] for at in range(max(0, count - 2), count + 3)]
        return [(self.words + end, _FREE_END + _FREE_WORD * len(end)) for end in ends if end]

    def frames(self) -> int:
        """How many frames the phrase may last."""
        phones = sum(max(map(len, pronunciations(word)), default=1) for word in self.words)
        return _FRAMES_A_PHONE * phones


class CallEar:
    """A ``Decoder`` that gives the phrase that was called, or nothing.

    ``calls`` holds for each meaning its phrases (lower case, blanks between words); one that ends in
    ``UNKNOWN`` goes on in free words. Each word's confidence is ``exp`` of how much worse the call fits than
    the best free text, a frame of 0.03 s: 1 at best. The words span the sound from just before the call on,
    ``other`` is that free text.
    Calls with words that the model lacks are not heard.
    """

    name = "shop-calls"
    timing: Literal["aligned", "estimated"] = "aligned"

    def __init__(self, calls: Sequence[Sequence[str]]) -> None:
        self._grammar = VoskDecoder(FOLDER)
        phrases = [phrase for ways in calls for phrase in ways]
        left_out = set(self._grammar.set_grammar([*phrases, UNKNOWN], skip_unknown=True))
        self._ear = ShopEar()
        self._calls = [
            _Call([w for w in phrase.split() if w != UNKNOWN], phrase.endswith(UNKNOWN), meaning)
            for meaning, ways in enumerate(calls)
            for phrase in ways
            if phrase not in left_out
        ]
        self._first = {call.words[0] for call in self._calls}

    def decode(self, segment: Segment) -> list[Word]:
        """See ``Decoder``."""
        if segment.end - segment.start > LONGEST_S:
            return []
        heard, segment = self._from_phrase(self._grammar.decode(segment), segment)
        if not heard:
            return []
        if self._nearest(heard) > FARTHEST:
            return []
        apart = [(call.differs(heard), call) for call in self._calls]
        found = self._best(segment, [(differs, call) for differs, call in apart if differs <= _LIKE_IT])
        if found is None:
            return []
        call, worse, frames, free = found
        sure = math.exp(min(0.0, worse) / max(1, min(frames, call.frames())))
        if call.goes_on and sure < _SURE_BEFORE_FREE:
            return []
        return [Word(word, segment.start, segment.end, sure, free) for word in call.words]

    def _nearest(self, heard: list[str]) -> float:
        """Share of its words by which the call differs that is most like what was heard."""
        return min(call.differs(heard) for call in self._calls)

    def _from_phrase(self, heard: list[Word], segment: Segment) -> tuple[list[str], Segment]:
        """What the grammar heard, and the sound, from the word on that opens the likeliest call: what was
        said or rang before it is none of the call's."""
        words = [word.word for word in heard]
        opens = [i for i, word in enumerate(words) if word in self._first]
        at = min(reversed(opens), key=lambda i: self._nearest(words[i:]), default=0)
        words = words[at:]
        skip = int((heard[at].start - segment.start - AROUND_S) * FRAMES_A_SECOND) if heard else 0
        if skip <= 0:
            return words, segment
        first = segment.first + skip * FRAME
        return words, Segment(first, segment.samples[skip * FRAME :], segment.voiced[skip:])

    def _best(
        self, segment: Segment, apart: list[tuple[float, _Call]]
    ) -> tuple[_Call, float, int, str] | None:
        """The call that fits best, if clearly; how much better than free text it fits; frames of sound; that
        free text."""
        free = [word.word for word in self._ear.hear(segment)]
        scores = self._ear.scores(segment.samples)
        ways = [(row, way, loss) for row in apart for way, loss in row[1].ways(free)]
        *fits, best = self._ear.fits(scores, [*(way for _, way, _ in ways), free])
        ranked: dict[int, tuple[float, float, _Call]] = {}
        for ((differs, call), _, loss), fit in zip(ways, fits, strict=True):
            rank = fit - _DIFFERS * differs - loss
            if call.meaning not in ranked or rank > ranked[call.meaning][0]:
                ranked[call.meaning] = (rank, fit, call)
        if not ranked:
            return None
        first, *others = sorted(ranked.values(), key=lambda row: -row[0])
        if others and first[0] - others[0][0] < _CLEARLY:
            return None
        return first[2], first[1] - best, len(scores), " ".join(free)
