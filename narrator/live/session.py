"""The live session: owns the threads, their order, and their end.

Sound goes microphone → tape → feed → ears → store → brain, each arrow a queue or a disk, so that whatever
stops or crashes loses nothing to its left. ``run`` returns when the capture ends or ``stop`` was called and
everything that was heard is kept.
"""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass

from narrator.errors import NarratorError
from narrator.hearing.apart import TendedDecoder
from narrator.hearing.capture import Capture
from narrator.hearing.control import NoControl, SpokenControl
from narrator.hearing.recognizer import Decoder
from narrator.hearing.segmenter import Segmenter
from narrator.hearing.tape import Sealed, Tape, TapeOptions
from narrator.live.archiving import Archiving
from narrator.live.brain import Brain, Ended
from narrator.live.cues import Cue
from narrator.live.deeds import prepare_vehicles
from narrator.live.ears import Ears
from narrator.live.feed import Feed, Quiet
from narrator.live.job import Job
from narrator.live.own_sounds import Own
from narrator.live.taping import Taping
from narrator.live.understander import Understander
from narrator.live.view import State, View
from narrator.live.voice import OwnSound, Voice
from narrator.store import Writer
from narrator.store.erase import sound_folder
from narrator.store.rows import NewSession, wall_time
from narrator.values import SAMPLE_RATE, Utterance

_MESSAGE_S = 30.0
_OWN_TAIL_S = 0.25
"""So long a sound of ours may still come back from the walls."""

_OWN_MOST = 200
"""Sounds of ours that are remembered: text may be minutes behind."""


@dataclass(frozen=True, slots=True)
class LiveOptions:
    """``reserve_mb`` of disk are never filled with sound; ``show``: understand while listening; ``keep_up``:
    rather hear less well than fall behind; else a file waits for the text and for what is commanded in it.
    """

    vehicle: str | None = None
    reserve_mb: int = 200
    show: bool = True
    keep_up: bool = True
    tape: TapeOptions | None = None
    segmenter: Callable[[], Segmenter] = Segmenter
    wall: Callable[[], str] = wall_time
    help_text: str = ""


class LiveSession:
    """One run of listening over one ``capture``; jobs begin and end inside it."""

    def __init__(
        self,
        writer: Writer,
        capture: Capture,
        decoder: Callable[[Callable[[str, bool], None]], TendedDecoder],
        *,
        early: Callable[[], TendedDecoder | None] = lambda: None,
        calls: Decoder | None = None,
        control: SpokenControl | None = None,
        voice: Callable[[OwnSound, Callable[[], bool]], Voice] | None = None,
        understander: Understander | None = None,
        options: LiveOptions | None = None,
    ) -> None:
        self._options = options or LiveOptions()
        self._writer, self._capture = writer, capture
        self._message, self._trouble, self._told_at = "", False, 0.0
        self._stopping = False
        self.log: list[str] = []
        self._news: deque[str] = deque(maxlen=200)
        self._own_from: int | None = None
        self._feed = Feed()
        self._archive = Archiving(writer, self.told)
        self._taping = Taping(
            capture, self._feed, self._new_job, reserve_mb=self._options.reserve_mb, told=self.told,
            speaking=lambda: self._ears.speaking,
            judging=None if self._options.keep_up else lambda: self._brain.busy,
        )  # fmt: skip
        self._opener = decoder
        self._decoder: TendedDecoder
        made = voice or (lambda own, may: Voice(cues=False, own=own, may_play=may))
        self._voice = made(self._own_sound, lambda: not self._ears.speaking)
        control = control or NoControl()
        self._brain = Brain(
            writer, control, self, said=self._say, cue=self._voice.cue,
            told=self.told, paused=lambda: self._taping.paused, wall=self._options.wall,
            help_text=self._options.help_text, understander=understander, forget=self._archive.inbox.put,
        )  # fmt: skip
        self._ears = Ears(
            self._feed, writer, lambda: self._decoder,
            heard=lambda job, one: self._brain.inbox.put((job, one)),
            ended=lambda job: self._brain.inbox.put(Ended(job)),
            told=self.told, paused=lambda: self._taping.paused, wall=self._options.wall,
            early=early, calls=calls, whole=control.may_call,
            segmenter=self._options.segmenter, keep_up=self._options.keep_up,
        )  # fmt: skip
        self._crashed: list[BaseException] = []

    # ------------------------------------------------------------ running

    def run(self, tick: Callable[[View], None] = lambda view: None, every: float = 0.2) -> list[str]:
        """Listen until the end; gives the ids of the sessions kept.

        Raises:
            NarratorError: what ended a replayed file early, after everything was kept; E309 when a thread
                failed in a way nobody foresaw.
        """
        tick(self.view())
        # Before anything is kept: without an engine there is no session. The microphone's queue holds the
        # sound until then.
        vehicles = self._thread("vehicles", prepare_vehicles)
        try:
            self._decoder = self._opener(self.told)
        except NarratorError:
            self._capture.close()
            raise
        vehicles.join()
        taping = self._thread("tape", lambda: self._taping.run(self._options.vehicle))
        ears = self._thread("ears", self._ears.run)
        brain = self._thread("brain", self._brain.run)
        archive = self._thread("archive", self._archive.run)
        watch = self._thread("watch", self._brain.watch) if self._options.show else None
        greeted = False
        while taping.is_alive() or ears.is_alive():
            if not greeted and self._taping.job is not None:  # before, nobody would know it for our own
                greeted = True
                self._voice.cue("listening")
            tick(self.view())
            taping.join(every) if taping.is_alive() else ears.join(every)
            if self._crashed:
                self._capture.stop()
        self._voice.close()
        self._brain.inbox.put(None)
        self._brain.close()
        if watch is not None:
            watch.join()
        brain.join()
        self._brain.ended()
        self._archive.inbox.put(None)
        archive.join()
        tick(self.view())
        if self._crashed:
            raise self._crashed[0]
        if self._taping.failure is not None:
            raise self._taping.failure
        return self._brain.finished

    def stop(self) -> None:
        """End listening; what has been said is still heard and kept."""
        self._stopping = True
        self._capture.stop()

    @property
    def kept(self) -> list[str]:
        """Ids of the jobs that ended and are kept, also where ``run`` raised an error."""
        return self._brain.finished

    @property
    def unsaved(self) -> list[Utterance]:
        """Utterances that the store never took, for whoever called to save elsewhere."""
        return self._ears.unsaved

    def _thread(self, name: str, work: Callable[[], None]) -> threading.Thread:
        def guarded() -> None:
            try:
                work()
            except BaseException as error:  # shown by ``run``; the other threads end in order
                self._crashed.append(error)
                self._feed.close()

        thread = threading.Thread(target=guarded, name=name, daemon=True)
        thread.start()
        return thread

    def _new_job(self, offset: int, vehicle: str | None) -> Job:
        new = NewSession(self._options.wall(), self._capture.name, self._decoder.name, vehicle)
        job: Job

        def sealed(segment: Sealed) -> None:
            self._archive.inbox.put((job, segment))

        with self._writer.transaction():  # a session without its tape could not be told from other programs'
            session = self._writer.start_session(new)
            folder = sound_folder(self._writer.home, session)
            try:
                tape = Tape(folder, wall=self._options.wall, sealed=sealed, options=self._options.tape)
            except OSError as error:
                raise NarratorError("E605", path=folder, why=error.strerror or error) from error
        job = Job(session, folder, tape, offset, vehicle)
        return job

    # ------------------------------------------------------------ what commands may do

    def pause(self) -> None:
        """See ``Listening``."""
        self._taping.pause()

    def go_on(self) -> None:
        """See ``Listening``."""
        self._taping.go_on()

    def next_job(self, vehicle: str | None) -> None:
        """See ``Listening``."""
        self._taping.next_job(vehicle)

    # ------------------------------------------------------------ telling

    def told(self, text: str, trouble: bool) -> None:
        """Something happened that the mechanic should know."""
        self._message, self._trouble, self._told_at = text, trouble, time.monotonic()
        self.log.append(text)
        self._news.append(text)
        del self.log[:-200]
        if trouble:
            self._voice.cue("trouble")

    def news(self) -> list[str]:
        """What was told since this was asked last."""
        return [self._news.popleft() for _ in range(len(self._news))]

    def lost(self, text: str, trouble: bool) -> None:
        """The microphone went or came back."""
        if trouble:
            self._feed.put(Quiet())
        self.told(text, trouble)

    def _say(self, text: str) -> None:
        self.told(text, False)
        self._voice.say(text)

    def _own_sound(self, begins: bool, cue: Cue | None) -> None:
        """Note where we make a sound ourselves, so that it is not heard as speech, now or after a crash."""
        job = self._taping.job
        if job is None:
            return
        if begins:
            job.own.append(Own(self._taping.position, 2**62, cue))
            return
        if job.own:
            began = job.own.pop()
            last = self._taping.position + round(_OWN_TAIL_S * SAMPLE_RATE)
            ended = Own(began.first, last, began.cue)
            job.own[-_OWN_MOST:] = [*job.own[-_OWN_MOST:], ended]
            job.tape.note(own=ended.row())

    def view(self) -> View:
        """How things stand now."""
        if self._ears.unheard.is_set():
            self._ears.unheard.clear()
            self._voice.cue("not_understood")
        recent = time.monotonic() - self._told_at < _MESSAGE_S
        job = self._taping.job
        return View(
            self._state(recent), self._capture.name, max(0, self._taping.position) / SAMPLE_RATE,
            self._capture.meter.level, "" if self._taping.paused else self._ears.partial,
            self._brain.understanding, (job.vehicle or "") if job else "",
            self._message if recent or self._trouble else "", self._brain.question,
            self._ears.utterances, self._ears.gaps, self._feed.behind,
            self._taping.taping and not self._taping.paused, self._taping.minutes,
        )  # fmt: skip

    def _state(self, recent: bool) -> State:
        if self._stopping:
            return "stopping"
        if (self._trouble and recent) or not self._taping.taping or self._capture.absent:
            return "trouble"
        if self._taping.paused:
            return "paused"
        return "listening" if self._taping.job is not None else "starting"
