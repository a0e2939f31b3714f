"""The second ear listening for calls: the attention phrase with a command behind it.

A grammar of a few phrases hears them in anything, so it only tells where a call may be and which calls are
like it. Each of these is then fitted to the sound, and the best counts where it fits nearly as well as the
best free text does, and clearly better than every call that means something else. Some commands end in free
words (a vehicle, a new value), and other talk may run into any: there the phrase and then the free text's end
are fitted, and the more words that is the more it costs. Calls that would not do by themselves are told too,
by half as sure: the dictated text may second one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from narrator.hearing.acoustics import Floats
from narrator.hearing.control import AROUND_S
from narrator.hearing.orders import FARTHEST, distance
from narrator.hearing.pronounce import pronunciations
from narrator.hearing.second_ear import FOLDER, ShopEar
from narrator.hearing.segmenter import Segment
from narrator.hearing.voice import FRAME, FRAMES_A_SECOND
from narrator.hearing.vosk_engine import UNKNOWN, VoskDecoder
from narrator.values import Word

LONGEST_S = 8.0 + 2 * AROUND_S
"""What is longer, from where the call begins on, is no call."""
_LIKE_IT = 0.5
"""Calls of which no more of the words than this differ from what the grammar heard are fitted ..."""
_DIFFERS = 8.0
"""... each losing this, by the share of its words that differ, ..."""
_FREE_END = 5.0
_FREE_WORD = 2.0
"""... and these where it ends in free words, and for each of them, as they can follow any sound (all are log
weights), ..."""
_RUN_INTO = 3.0
"""... this too where other talk runs into a call behind which no free words belong ..."""
_CLEARLY = 1.0
"""... and the best must win by this over calls of another meaning (chosen by measurement,
docs/measurements/faults.md)."""
_SURE_BEFORE_FREE = 0.90
"""With free words or other talk behind it a call does by itself only if as sure, as they hide that the rest
is something else; or where it is plainly the one: ..."""
_PLAINLY = 3.0
"""... the grammar heard it word by word and it wins by this over every other meaning. ..."""
_PLAIN_MISFIT = 0.8
"""... Its misfit counts as so much of itself then: noise makes any call fit worse (chosen by measurement,
docs/measurements/faults.md)."""
_DOUBTED = 0.5
"""What a call that does not do by itself keeps of how sure it is."""
_WITHIN = 8.0
"""Calls that fit worse than the best by more than this (log weights) are not told."""
_FRAMES_A_PHONE = 3
"""How long a phrase is at most taken to last: free words after it do not make its misfit small."""


@dataclass(frozen=True, slots=True)
class _Call:
    """A way of calling; ``meaning`` numbers what it asks for, ``goes_on`` tells that free words follow."""

    words: list[str]
    goes_on: bool
    meaning: int

    def differs(self, heard: list[str]) -> float:
        """Share of its words that differ from what was heard; other talk may run into it."""
        count = len(self.words)
        if self.goes_on:
            return distance(self.words, heard[:count])
        return min(distance(self.words, heard[:n]) for n in (count - 1, count, len(heard)))

    def ways(self, free: list[str], *, into: bool = True) -> list[tuple[list[str], float]]:
        """Texts that are this call, where ``free`` is what the whole sound is like, and what each loses;
        ``into`` says that other talk may run into it."""
        count = len(self.words)
        if self.goes_on:
            ends = [free[at:] for at in range(max(0, count - 2), count + 3)]
            return [(self.words + end, _FREE_END + _FREE_WORD * len(end)) for end in ends if end]
        ends = [free[at:] for at in range(count - 1, count + 2)] if into else []
        loss = _FREE_END + _RUN_INTO
        return [(self.words, 0.0), *((self.words + end, loss + _FREE_WORD * len(end)) for end in ends if end)]

    def frames(self) -> int:
        """How many frames the phrase may last."""
        phones = sum(max(map(len, pronunciations(word)), default=1) for word in self.words)
        return _FRAMES_A_PHONE * phones


@dataclass(frozen=True, slots=True)
class _Fitted:
    """A call with what was fitted: its rank among calls, how sure it is, and the text that fits."""

    call: _Call
    rank: float
    sure: float
    text: list[str]

    @property
    def runs_on(self) -> bool:
        """Whether the text goes on behind the phrase."""
        return len(self.text) > len(self.call.words)


class CallEar:
    """A ``Decoder`` that gives the phrases that may have been called, the likeliest first, or nothing.

    ``calls`` holds for each meaning its phrases (lower case, blanks between words); one that ends in
    ``UNKNOWN`` goes on in free words. Each word's confidence is ``exp`` of how much worse the call fits than
    the best free text, a frame of 0.03 s: 1 at best; half of that where the call does not do by itself. The
    words of a call span the sound from just before it on to its end, ``other`` is that free text; ``each``
    parts them.
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
        heard, segment = self._from_phrase(self._grammar.decode(segment), segment)
        if not heard or segment.end - segment.start > LONGEST_S:
            return []
        apart = [(call.differs(heard), call) for call in self._calls]
        like = [(differs, call) for differs, call in apart if differs <= _LIKE_IT]
        if not like:
            return []
        free = [word.word for word in self._ear.hear(segment)]
        scores = self._ear.scores(segment.samples)
        found = self._fitted(like, scores, free)
        clear = _margin(found) >= _CLEARLY and self._nearest(heard) <= FARTHEST
        plain = _margin(found) >= _PLAINLY and _word_by_word(found, like)
        told = []
        for number, one in enumerate(found):
            alone = clear and not number and (plain or one.sure >= _SURE_BEFORE_FREE or not one.runs_on)
            sure = one.sure**_PLAIN_MISFIT if plain and not number else one.sure
            conf, end = sure if alone else _DOUBTED * sure, self._end(one, segment, scores)
            told += [Word(word, segment.start, end, conf, " ".join(free)) for word in one.call.words]
        return told

    def _end(self, one: _Fitted, segment: Segment, scores: Floats) -> float:
        """Where a call ends: free words belong to it, other talk does not."""
        if one.call.goes_on or not one.runs_on:
            return segment.end
        return min(segment.end, segment.start + self._ear.times(scores, one.text)[len(one.call.words) - 1][1])

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

    def _fitted(self, like: list[tuple[float, _Call]], scores: Floats, free: list[str]) -> list[_Fitted]:
        """The call of each meaning that fits best, the best first, as far as they come near to that."""
        ways = [(row, way, loss) for row in like for way, loss in row[1].ways(free, into=row[0] <= FARTHEST)]
        *fits, best = self._ear.fits(scores, [*(way for _, way, _ in ways), free])
        ranked: dict[int, _Fitted] = {}
        for ((differs, call), way, loss), fit in zip(ways, fits, strict=True):
            rank = fit - _DIFFERS * differs - loss
            if call.meaning not in ranked or rank > ranked[call.meaning].rank:
                sure = math.exp(min(0.0, fit - best) / max(1, min(len(scores), call.frames())))
                ranked[call.meaning] = _Fitted(call, rank, sure, way)
        found = sorted(ranked.values(), key=lambda one: -one.rank)
        return [one for one in found if one.rank >= found[0].rank - _WITHIN]


def _margin(found: Sequence[_Fitted]) -> float:
    """By how much the best wins over calls of another meaning."""
    return found[0].rank - found[1].rank if len(found) > 1 else _WITHIN


def _word_by_word(found: Sequence[_Fitted], like: Sequence[tuple[float, _Call]]) -> bool:
    """Whether what the grammar heard is a way of calling for what the best calls for."""
    best = found[0].call.meaning if found else None
    return any(not differs and call.meaning == best for differs, call in like)


def each(words: Sequence[Word]) -> list[list[Word]]:
    """The calls that a ``CallEar`` told, each by itself: all open with the same word."""
    opens = [i for i, word in enumerate(words) if word.word == words[0].word]
    return [list(words[a:b]) for a, b in pairwise([*opens, len(words)])]
