"""Cuts running sound into utterances at pauses, on the sample clock.

Segments never overlap, come in order, and every frame that was taken for speech lies in exactly one of
them (save lone clicks shorter than ``trigger``). Where a piece has to be cut before a pause came, the two
parts touch: no sample is lost and none is heard twice.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from narrator.hearing.voice import FRAME, FRAMES_A_SECOND, GatedVad, VoiceDetector, band_level
from narrator.values import SAMPLE_RATE, AudioChunk


@dataclass(frozen=True, slots=True)
class SegmentOptions:
    """All in seconds; the values were chosen by measurement, see docs/measurements/hearing.md."""

    pause: float = 0.7
    """A pause as long as this ends an utterance ..."""
    short_pause: float = 0.2
    """... and one as short as this does, when the piece is nearly as long as ``cap``."""
    relax_from: float = 5.0
    """From this length on the wanted pause shrinks."""
    cap: float = 15.0
    """No piece is longer; cut at the best place of its second half when no pause came."""
    before: float = 0.25
    after: float = 0.25
    trigger: float = 0.08
    """Speech within any 0.2 s that begins an utterance."""


@dataclass(frozen=True, slots=True, eq=False)
class Segment:
    """One piece of sound to be recognized.

    ``first`` numbers its first sample; ``samples`` are float32 mono at ``SAMPLE_RATE``; ``voiced`` tells for
    each of its frames of ``FRAME`` samples whether it was taken for speech.
    """

    first: int
    samples: NDArray[np.float32]
    voiced: NDArray[np.bool_]

    @property
    def start(self) -> float:
        """Seconds from the start of the session."""
        return self.first / SAMPLE_RATE

    @property
    def end(self) -> float:
        """Seconds from the start of the session."""
        return (self.first + len(self.samples)) / SAMPLE_RATE

    def spoken(self) -> tuple[float, float]:
        """Start and end of what was taken for speech, in seconds from the start of the session."""
        frames = np.flatnonzero(self.voiced)
        if not len(frames):
            return self.start, self.end
        to = self.start + (int(frames[-1]) + 1) * FRAME / SAMPLE_RATE
        return self.start + int(frames[0]) * FRAME / SAMPLE_RATE, min(self.end, to)


_WINDOW = FRAMES_A_SECOND // 5


class Segmenter:
    """Takes chunks of any length and gives segments as they end. Holds ``cap`` seconds at most."""

    def __init__(self, options: SegmentOptions | None = None, detector: VoiceDetector | None = None) -> None:
        self._options = options or SegmentOptions()
        self._detector = detector or GatedVad()
        self._before = _frames(self._options.before)
        self._rest = np.zeros(0, np.float32)
        self._next: int | None = None
        self._first = 0
        self._frames: list[NDArray[np.float32]] = []
        self._voiced: list[bool] = []
        self._levels: list[float] = []
        self._speaking = False

    def accept(self, chunk: AudioChunk) -> list[Segment]:
        """Take the next chunk; a jump of the sample clock ends the piece that is open. NaN is sound that is
        none of the speaker's."""
        ended: list[Segment] = []
        if chunk.first != self._next:
            ended += self.finish()
            self._first = chunk.first
        self._next = chunk.first + len(chunk.samples)
        sound = np.concatenate([self._rest, chunk.samples.astype(np.float32, copy=False)])
        whole = len(sound) // FRAME * FRAME
        self._rest = sound[whole:]
        if not whole:
            return ended
        frames = sound[:whole].reshape(-1, FRAME)
        voiced, levels = self._detector.detect(frames)
        frames = np.nan_to_num(frames)
        for frame, speech, level in zip(frames, voiced, levels, strict=True):
            self._frames.append(frame)
            self._voiced.append(bool(speech))
            self._levels.append(float(level))
            ended += self._step()
        return ended

    def finish(self) -> list[Segment]:
        """End the open piece, if any; the next chunk may begin anywhere."""
        ended: list[Segment] = []
        if self._speaking:
            rest = self._rest if self._quiet_run() < _frames(self._options.after) else None
            ended.append(self._take(self._padded_end(), rest))
        self._frames.clear()
        self._voiced.clear()
        self._levels.clear()
        self._rest = np.zeros(0, np.float32)
        self._next = None
        self._speaking = False
        return ended

    def open(self) -> Segment | None:
        """The piece being spoken, as far as it has come, or None in a pause."""
        if not self._speaking:
            return None
        return Segment(self._first, np.concatenate(self._frames), np.array(self._voiced, np.bool_))

    def settled(self) -> Segment | None:
        """The piece being spoken, exactly as it will end if the pause that has begun goes on."""
        quiet = self._quiet_run()
        if not self._speaking or quiet < _frames(self._options.after):
            return None
        count = self._padded_end()
        return Segment(
            self._first, np.concatenate(self._frames[:count]), np.array(self._voiced[:count], np.bool_)
        )

    @property
    def open_seconds(self) -> float:
        """Length of the piece being spoken, 0 in a pause."""
        return len(self._frames) / FRAMES_A_SECOND if self._speaking else 0.0

    def _step(self) -> list[Segment]:
        if not self._speaking:
            if sum(self._voiced[-_WINDOW:]) >= _frames(self._options.trigger):
                self._begin()
            elif len(self._frames) > self._before + _WINDOW:
                self._drop(1)
            return []
        if self._quiet_run() >= self._wanted_pause():
            self._speaking = False
            return [self._take(self._padded_end())]
        if len(self._frames) >= _frames(self._options.cap):
            return self._cut()
        return []

    def _begin(self) -> None:
        window = self._voiced[-_WINDOW:]
        onset = len(self._voiced) - len(window) + window.index(True)
        self._drop(max(0, onset - self._before))
        self._speaking = True

    def _wanted_pause(self) -> int:
        """Frames of quiet that end the piece: fewer the longer it has become."""
        o = self._options
        length = len(self._frames) / FRAMES_A_SECOND
        share = min(1.0, max(0.0, (length - o.relax_from) / (o.cap - o.relax_from)))
        return _frames(o.pause + share * (o.short_pause - o.pause))

    def _quiet_run(self) -> int:
        run = 0
        for speech in reversed(self._voiced):
            if speech:
                break
            run += 1
        return run

    def _padded_end(self) -> int:
        return min(len(self._frames), len(self._frames) - self._quiet_run() + _frames(self._options.after))

    def _cut(self) -> list[Segment]:
        """Cut an over-long piece at the middle of its longest quiet run, else where it is quietest."""
        middle = len(self._frames) // 2
        at = middle + _best_cut(self._voiced[middle:], self._levels[middle:])
        piece = self._take(at)
        self._speaking = any(self._voiced)
        return [piece]

    def _take(self, count: int, rest: NDArray[np.float32] | None = None) -> Segment:
        parts = self._frames[:count] if rest is None else [*self._frames[:count], np.nan_to_num(rest)]
        segment = Segment(self._first, np.concatenate(parts), np.array(self._voiced[:count], np.bool_))
        self._drop(count)
        return segment

    def _drop(self, count: int) -> None:
        del self._frames[:count], self._voiced[:count], self._levels[:count]
        self._first += count * FRAME


def split(segment: Segment) -> tuple[Segment, Segment]:
    """Two touching parts of a segment, cut at the best place of its middle half."""
    count = len(segment.voiced)
    levels = band_level(segment.samples[: count * FRAME].reshape(-1, FRAME))
    quarter = count // 4
    middle = slice(quarter, count - quarter)
    at = quarter + _best_cut(segment.voiced[middle].tolist(), levels[middle].tolist())
    left = Segment(segment.first, segment.samples[: at * FRAME], segment.voiced[:at])
    right = Segment(segment.first + at * FRAME, segment.samples[at * FRAME :], segment.voiced[at:])
    return left, right


def _best_cut(voiced: list[bool], levels: list[float]) -> int:
    """Index to cut at: the middle of the longest run of three quiet frames or more, or the quietest 0.1 s."""
    best, run = (0, 0), 0
    for i, speech in enumerate([*voiced, True]):
        if not speech:
            run += 1
            continue
        best, run = max(best, (run, i)), 0
    length, end = best
    if length >= 3:
        return end - length // 2
    smooth = np.convolve(levels, np.ones(5) / 5, mode="valid")
    return int(np.argmin(smooth)) + 2


def _frames(seconds: float) -> int:
    return max(1, round(seconds * FRAMES_A_SECOND))
