"""The second thread: what is on the tape becomes utterances, each committed before it is understood."""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

from narrator.errors import NarratorError
from narrator.hearing.apart import TendedDecoder
from narrator.hearing.live import LiveRecognizer
from narrator.hearing.recognizer import Decoder
from narrator.hearing.segmenter import Segmenter
from narrator.live.feed import Begin, End, Feed, Quiet
from narrator.live.job import Job
from narrator.live.own_sounds import without_own
from narrator.store import Writer
from narrator.values import SAMPLE_RATE, AudioChunk, Gap, Partial, Utterance

TEND_EVERY_S = 30.0
RETRY_S = 5.0
_BEHIND_S = 20.0
"""From so far behind on the screen says so, and one ear has to do ..."""
_CAUGHT_UP_S = 5.0
"""... until it is so near again."""


class Ears:
    """Takes items from the feed until it is done.

    ``heard`` gets (job, utterance) when it is committed, ``ended`` a job whose last utterance was. When the
    store refuses, utterances are held and tried again: the sound goes on meanwhile. Where they need not
    ``keep_up``, the sound waits for each piece's words, and there is no text before that.
    """

    def __init__(
        self,
        feed: Feed,
        writer: Writer,
        opener: Callable[[], TendedDecoder],
        *,
        heard: Callable[[Job, Utterance], None],
        ended: Callable[[Job], None],
        told: Callable[[str, bool], None],
        paused: Callable[[], bool],
        wall: Callable[[], str],
        early: Callable[[], TendedDecoder | None] = lambda: None,
        calls: Decoder | None = None,
        whole: Callable[[str], bool] = lambda _: False,
        segmenter: Callable[[], Segmenter] = Segmenter,
        keep_up: bool = True,
    ) -> None:
        self._feed, self._writer, self._opener, self._segmenter = feed, writer, opener, segmenter
        self._heard, self._ended, self._told, self._paused = heard, ended, told, paused
        self._wall, self._open_early = wall, early
        self._keep_up, self._calls, self._whole = keep_up, calls, whole
        self._early: TendedDecoder | None = None
        self._closed = False
        self._pool = ThreadPoolExecutor(1, "decode")
        self._job: Job | None = None
        self._decoder: TendedDecoder | None = None
        self._recognizer: LiveRecognizer | None = None
        self._held: queue.SimpleQueue[tuple[Job, Utterance | Gap]] = queue.SimpleQueue()
        self._refused: tuple[Job, Utterance | Gap] | None = None
        self._next_try = self._next_tend = 0.0
        self.partial = ""
        self.gaps = self.utterances = 0
        self.unheard = threading.Event()
        self.last_commit = 0.0

    @property
    def speaking(self) -> bool:
        """Whether someone is."""
        return self._recognizer is not None and self._recognizer.speaking

    @property
    def memory(self) -> int:
        """Bytes of the recognizers' processes."""
        return sum(one.memory() for one in (self._decoder, self._early) if one is not None)

    def run(self) -> None:
        """Work until the feed is done."""
        try:
            while not self._feed.done:
                item = self._feed.get(0.2)
                if item is not None:
                    self._take(item)
                self._commit()
            self._commit(last=True)
        finally:
            self._pool.shutdown()
            self._closed = True
            for one in (self._decoder, self._early):
                if one is not None:
                    one.close()

    @property
    def unsaved(self) -> list[Utterance]:
        """What the store never took."""
        left = [self._refused] if self._refused else []
        while not self._held.empty():
            left.append(self._held.get())
        return [one for _, one in left if isinstance(one, Utterance)]

    # ------------------------------------------------------------ items

    def _take(self, item: object) -> None:
        if isinstance(item, Begin):
            self._begin(item.job)
        elif isinstance(item, AudioChunk):
            self._sound(item)
        elif self._job is not None and self._recognizer is not None:
            self._give(self._recognizer.finish())
            if isinstance(item, Gap):
                self.gaps += 1
                self._held.put((self._job, item))
            elif isinstance(item, End):
                self._end(item)
            else:
                assert isinstance(item, Quiet)

    def _begin(self, job: Job) -> None:
        if self._decoder is None:
            self._decoder = self._opener()
            if self._keep_up:
                threading.Thread(target=self._open, name="early", daemon=True).start()
        self._job = job
        self._recognizer = LiveRecognizer(
            self._decoder, self._segmenter(), calls=self._calls, run=self._pool.submit, whole=self._whole,
            busy=lambda: self._keep_up and self._feed.busy and self._feed.behind > 0.3,
            partials=self._keep_up,
        )  # fmt: skip

    def _open(self) -> None:
        """Get the reader of partial text, which nobody waits for."""
        self._early = self._open_early()
        if self._closed and self._early is not None:
            self._early.close()

    def _sound(self, chunk: AudioChunk) -> None:
        assert self._recognizer is not None
        assert self._job is not None
        assert self._decoder is not None
        self._hasten()
        self._recognizer.early = self._early
        chunk = replace(chunk, samples=without_own(chunk.samples, chunk.first, self._job.own))
        before = self._recognizer.unheard
        self._give(self._recognizer.accept(chunk))
        if self._recognizer.unheard > before:
            self.unheard.set()
        if self._recognizer.speaking:
            return
        self.partial = ""
        now = time.monotonic()
        if now > self._next_tend and self._recognizer.idle:
            self._next_tend = now + TEND_EVERY_S
            tended = [one.tend() for one in (self._decoder, self._early) if one is not None]
            if any(tended):
                self._told("the recognizer was started afresh to save memory", False)

    def _hasten(self) -> None:
        """Text that has fallen behind is heard in haste until it has caught up."""
        assert self._decoder is not None
        behind = self._feed.behind
        if not self._decoder.haste and behind > _BEHIND_S and self._keep_up:
            self._decoder.haste = True
            self._told(f"text is {behind:.0f} s behind; the sound is kept; one ear hears until then", True)
        elif self._decoder.haste and behind < _CAUGHT_UP_S:
            self._decoder.haste = False
            self._told("text has caught up", False)

    def _give(self, heard: list[Partial | Utterance]) -> None:
        assert self._job is not None
        for one in heard:
            if isinstance(one, Partial):
                self.partial = one.text
                continue
            self.partial = ""
            if self._paused():
                self._heard(self._job, one)  # only to see whether it is a command
            else:
                self._held.put((self._job, one))
        self._commit()

    def _end(self, item: End) -> None:
        assert self._recognizer is not None
        assert self._decoder is not None
        job = item.job
        job.unheard, job.failed = self._recognizer.unheard, self._decoder.failures
        self._commit(last=True)
        try:
            self._writer.end_session(job.session, self._wall(), item.samples / SAMPLE_RATE)
        except NarratorError as error:
            self._told(error.message, True)  # the next start ends it
        else:
            self._ended(job)
        self._job = self._recognizer = None

    # ------------------------------------------------------------ the store

    def _commit(self, last: bool = False) -> None:
        """Keep what was heard, in order; what the store refuses waits."""
        while self._refused is not None or not self._held.empty():
            if self._refused is not None and not last and time.monotonic() < self._next_try:
                return
            job, one = self._refused or self._held.get()
            self._refused = (job, one)
            try:
                self._keep(job, one)
            except NarratorError as error:
                if error.code in ("E305", "E310", "E314"):  # forgotten meanwhile, or never to be kept
                    self._told(error.message, True)
                else:
                    self._told(f"text waits to be kept: {error.message}", True)
                    self._next_try = time.monotonic() + RETRY_S
                    return
            self._refused = None

    def _keep(self, job: Job, one: Utterance | Gap) -> None:
        if isinstance(one, Gap):
            self._writer.add_gaps(job.session, [one])
            return
        try:
            job.tape.sync()
        except NarratorError as error:  # the text goes on where the sound cannot
            self._told(error.message, True)
        self._writer.add_utterances(job.session, [one])
        self.utterances += 1
        self.last_commit = time.monotonic()
        self._heard(job, one)
