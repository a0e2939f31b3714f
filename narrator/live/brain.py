"""The third thread: what was kept is understood, commands are carried out, ended jobs get their record."""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from narrator.errors import NarratorError
from narrator.hearing.archive import read_samples
from narrator.hearing.control import AROUND_S, Command, SpokenControl
from narrator.live.cues import Cue
from narrator.live.deeds import Deeds, Listening
from narrator.live.job import Job
from narrator.live.understander import Here, Understander
from narrator.live.view import LAST_LINES, Understanding
from narrator.session import derive
from narrator.store import Reader, Writer
from narrator.values import SAMPLE_RATE, Utterance

_SHARE = 12.0
"""Understanding the whole job again waits this many times as long as it took: it may take a twelfth,
or more where the wait would be longer than ``_LATEST_S``."""
_SOONEST_S = 0.3
_LATEST_S = 20.0


@dataclass(frozen=True, slots=True)
class Ended:
    """A job whose last utterance is kept."""

    job: Job


class Brain:
    """Takes utterances and ended jobs until None comes.

    ``said`` gets the answers that are to be spoken or shown, ``cue`` the name of a sound.
    """

    def __init__(
        self,
        writer: Writer,
        control: SpokenControl,
        listening: Listening,
        *,
        said: Callable[[str], None],
        cue: Callable[[Cue], None],
        told: Callable[[str, bool], None],
        paused: Callable[[], bool],
        wall: Callable[[], str],
        help_text: str = "",
        understander: Understander | None = None,
        forget: Callable[[str], None] | None = None,
    ) -> None:
        self._forget = forget or writer.forget
        self._writer, self._control, self._listening = writer, control, listening
        self._said, self._cue, self._told, self._paused = said, cue, told, paused
        self._wall, self._help = wall, help_text
        self._understander = understander or Here(writer.home)
        self.inbox: queue.Queue[tuple[Job, Utterance] | Ended | None] = queue.Queue()
        self._job: Job | None = None
        self._deeds: Deeds | None = None
        self._dirty = threading.Event()
        self._closed = False
        self._rest = threading.Event()
        self._understood = (0, Understanding())
        self._judged = 0
        self._since: list[Utterance] = []
        self.finished: list[str] = []

    @property
    def understanding(self) -> Understanding:
        """What was understood last, and what was said since as it was heard."""
        upto, shown = self._understood
        since = [one.text for one in self._since if one.id > upto]
        return replace(shown, lines=(*shown.lines, *since)[-LAST_LINES:])

    @property
    def question(self) -> str:
        """What waits for a spoken yes or no."""
        return self._deeds.question if self._deeds else ""

    def run(self) -> None:
        """Work until None comes."""
        while (item := self.inbox.get()) is not None:
            try:
                if isinstance(item, Ended):
                    self._ended(item.job)
                else:
                    self._heard(*item)
            except NarratorError as error:
                self._told(error.message, True)
            finally:
                self.inbox.task_done()

    @property
    def busy(self) -> bool:
        """Whether something that was heard is not dealt with yet."""
        return self.inbox.unfinished_tasks > 0

    # ------------------------------------------------------------ one each

    def _heard(self, job: Job, utterance: Utterance) -> None:
        deeds = self._deeds_of(job)
        command = self._control.take(
            utterance, lambda: _sound(job, utterance), asked=deeds.asks(utterance.start)
        )
        if self._paused():
            if command is not None and command.name == "go_on":
                self._listening.go_on()
                self._answer("Listening.")
            return
        if command is not None:
            self._answer(self._done(deeds, command, utterance))
            self._cue("not_understood" if command.name == "not_understood" else "listening")
        else:
            job.narrated += 1
            deeds.narrated(utterance)
            self._since = [*self._since[-LAST_LINES:], utterance]
            self._cue("kept")
        self._judged = utterance.id
        self._dirty.set()

    def _done(self, deeds: Deeds, command: Command, utterance: Utterance) -> str:
        try:
            return deeds.do(command, utterance)
        except NarratorError as error:
            self._told(error.message, True)
            return "That could not be done."

    def _answer(self, text: str) -> None:
        if text:
            self._said(text)

    def _ended(self, job: Job) -> None:
        """Derive the job's record; a job in which nothing was said or could have been is not kept."""
        empty = not job.narrated and not job.failed and job.unheard == 0.0
        if empty and not self._has_words(job):
            self._forget(job.session)
            return
        derive(self._writer, job.session)
        self.finished.append(job.session)

    def _has_words(self, job: Job) -> bool:
        with Reader(self._writer.home) as reader:
            facts = reader.facts(job.session)
        struck = {one.utterance for one in facts.strikes}
        return any(one.id not in struck for one in facts.utterances)

    # ------------------------------------------------------------ the record so far

    def _deeds_of(self, job: Job) -> Deeds:
        if self._deeds is None or job is not self._job:
            self._job = job
            self._deeds = Deeds(
                self._writer, job.session, self._listening,
                answered=lambda name: self._understander.answer(job.session, name, self._help),
                wall=self._wall,
            )  # fmt: skip
            self._understood, self._since, self._judged = (0, Understanding()), [], 0
        return self._deeds

    def watch(self) -> None:
        """Bring what the screen shows up to date, as often as its cost allows, until ``close``.

        In a thread of its own: understanding a long job again takes a second or two, and a command must not
        wait for that.
        """
        self._understander.prepare()
        while not self._closed:
            if not self._dirty.wait(0.2):
                continue
            self._dirty.clear()
            began = time.monotonic()
            try:
                if self._job is not None:
                    self._show(self._job)
            except NarratorError as error:
                if error.code != "E305":  # the job was forgotten meanwhile
                    self._told(error.message, True)
            spent = time.monotonic() - began
            self._rest.wait(min(_LATEST_S, max(_SOONEST_S, _SHARE * spent)))

    def _show(self, job: Job) -> None:
        upto = self._judged  # what is kept beyond may be a command that nobody has looked at yet
        shown = self._understander.show(job.session, upto)
        if job is self._job:
            self._understood = (upto, shown)

    def ended(self) -> None:
        """Let go of what was needed, when both threads have ended."""
        self._understander.close()

    def close(self) -> None:
        """End ``watch``."""
        self._closed = True
        self._rest.set()


def _sound(job: Job, utterance: Utterance) -> NDArray[np.float32]:
    """The utterance's sound and a little around it, from the tape."""
    first, last = max(0.0, utterance.start - AROUND_S), utterance.end + AROUND_S
    return read_samples(job.folder, round(first * SAMPLE_RATE), round(last * SAMPLE_RATE))
