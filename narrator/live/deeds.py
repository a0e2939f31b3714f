"""What spoken commands do: each a method, none of which takes anything out of the facts."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from narrator.errors import NarratorError
from narrator.hearing.control import DESTRUCTIVE, Command, Name
from narrator.language import Reader
from narrator.live.mending import mended
from narrator.session import COMMAND
from narrator.store import Writer
from narrator.store.rows import Mark, Strike
from narrator.values import Correction, Utterance, Vehicle

VOICE = "by voice"
"""Who struck or corrected, where it was said."""
ANSWER_WITHIN_S = 20.0
_BACK = 6
"""A value is corrected in the last five remarks."""


class Listening(Protocol):
    """What commands may do to the session as a whole."""

    def pause(self) -> None:
        """Keep no sound and no text until ``go_on``."""
        ...

    def go_on(self) -> None:
        """Listen again after ``pause``."""
        ...

    def next_job(self, vehicle: str | None) -> None:
        """End the job at the next pause in speech, and begin another."""
        ...


def file_command(writer: Writer, session: str, utterance: Utterance, command: Command, when: str) -> None:
    """Keep a command off the sheet: what was narration in it stays narration, and all of it stays a fact."""
    reason = f"{COMMAND}: {command.name}"
    if command.narration:
        writer.add_correction(session, Correction(utterance.id, command.narration, "narrator", when, reason))
    else:
        writer.add_strike(session, Strike(utterance.id, "narrator", when, reason))


@dataclass(frozen=True, slots=True)
class _Asked:
    """A question to be answered with yes or no: what would be done, and to which remark."""

    command: Command
    remark: Utterance | None
    text: str
    at: float
    shown_until: float


class Deeds:
    """Carries out the commands of one job, in order; gives what is to be said to the mechanic."""

    def __init__(
        self,
        writer: Writer,
        session: str,
        listening: Listening,
        *,
        answered: Callable[[Name], str],
        wall: Callable[[], str],
    ) -> None:
        self._writer, self._session, self._listening = writer, session, listening
        self._answered, self._wall = answered, wall
        self._remarks: list[Utterance] = []
        self._wording: dict[int, str] = {}
        self._asked: _Asked | None = None

    @property
    def question(self) -> str:
        """What waits to be answered with yes or no, for the screen: it goes when the time is up."""
        asked = self._asked
        return asked.text if asked is not None and time.monotonic() < asked.shown_until else ""

    def asks(self, at: float) -> bool:
        """Whether a yes or no said at second ``at`` is an answer; one that comes too late is not."""
        if self._asked is not None and at - self._asked.at > ANSWER_WITHIN_S:
            self._asked = None
        return self._asked is not None

    def narrated(self, utterance: Utterance, wording: str | None = None) -> None:
        """A remark that was no command: the one that *the last* means from now on."""
        self._remarks = [*self._remarks[-9:], utterance]
        self._wording[utterance.id] = utterance.text if wording is None else wording

    def do(self, command: Command, utterance: Utterance) -> str:
        """Carry out a command, or ask first."""
        if command.name == "not_understood":
            self.narrated(utterance)
            return f"Not understood: {command.text}."
        file_command(self._writer, self._session, utterance, command, self._wall())
        if command.name == "attention":
            return "Yes?"
        if command.narration:
            self.narrated(utterance, command.narration)
        asked, self._asked = self._asked if self.asks(utterance.start) else None, None
        if asked is not None and command.name in ("yes", "no"):
            if command.name == "no":
                return "Left as it was."
            return self._really(asked.command, utterance, asked.remark)
        if command.name in DESTRUCTIVE:
            return self._ask(command, utterance)
        return self._really(command, utterance)

    def _ask(self, command: Command, utterance: Utterance) -> str:
        """Ask before it is done; what is asked about is settled now, whatever is said meanwhile."""
        text, last = "End this job? Say yes or no.", None
        if command.name == "strike_last":
            last = self._last()
            if last is None:
                return "There is no remark to strike."
            text = f"Strike '{self._wording[last.id].rstrip('.')}'? Say yes or no."
        self._asked = _Asked(command, last, text, utterance.end, time.monotonic() + ANSWER_WITHIN_S)
        return text

    def _really(self, command: Command, utterance: Utterance, remark: Utterance | None = None) -> str:
        deeds: dict[str, Callable[[], str]] = {
            "begin_job": lambda: self.begin(command.text),
            "end_job": self.end,
            "pause": self.pause,
            "go_on": self.go_on,
            "strike_last": lambda: self.strike(remark),
            "correct": lambda: self.correct(command.text),
            "mark": lambda: self.mark(utterance.start, command.text),
        }
        if command.name in ("yes", "no"):
            return "There is nothing to answer."
        if command.name in deeds:
            return deeds[command.name]()
        return self._answered(command.name)

    # ------------------------------------------------------------ one each

    def begin(self, vehicle: str) -> str:
        """Begin another job; what was narrated until now is the job before."""
        name = vehicle_as_written(vehicle)
        self._listening.next_job(name or None)
        return f"New job{': ' + name if name else ''}."

    def end(self) -> str:
        """End this job; listening goes on for the next."""
        self._listening.next_job(None)
        return "The job is ended and kept."

    def pause(self) -> str:
        """Stop keeping sound and text."""
        self._listening.pause()
        return "Paused. Nothing is kept."

    def go_on(self) -> str:
        """Keep sound and text again."""
        self._listening.go_on()
        return "Listening."

    def strike(self, remark: Utterance | None) -> str:
        """Strike a remark from the sheet; asked again, the one before it."""
        if remark is None:
            return "There is no remark to strike."
        strike = Strike(remark.id, VOICE, self._wall(), "struck by voice")
        self._writer.add_strike(self._session, strike)
        self._remarks = [one for one in self._remarks if one.id != remark.id]
        return f"Struck: {self._wording[remark.id].rstrip('.')}."

    def correct(self, text: str) -> str:
        """Put ``text`` in the place of the last value of its kind; of the whole last remark where none is."""
        last = self._last()
        if last is None or not text:
            return "There is no remark to correct." if last is None else "Correct that to what?"
        ways = [(one, mended(self._wording[one.id], text)) for one in self._remarks[:-_BACK:-1]]
        last, new = next((way for way in ways if way[1] != text), ways[0])
        self._writer.add_correction(
            self._session, Correction(last.id, new, VOICE, self._wall(), f"corrected by voice: {text}")
        )
        self._wording[last.id] = new
        return f"Corrected: {new.rstrip('.')}."

    def mark(self, at: float, text: str) -> str:
        """Mark this moment, to be found again."""
        self._writer.add_mark(self._session, Mark(at, "spoken", text))
        return "Marked."

    def _last(self) -> Utterance | None:
        return self._remarks[-1] if self._remarks else None


def prepare_vehicles() -> None:
    """Load what reads a vehicle's name: else the first "begin job" takes a second longer, and what is said
    meanwhile belongs to the job before.
    """
    with contextlib.suppress(NarratorError):  # a command that meets it is told
        vehicle_as_written("")


def vehicle_as_written(said: str) -> str:
    """*two thousand nine Ardenna Volo* as ``2009 Ardenna Volo``; what has no year and make stays as said."""
    (row,) = Reader(use_model=False).read([Utterance(1, 0.0, 1.0, said)])
    for one in row.entities:
        if isinstance(one, Vehicle) and one.span == (0, len(said)):
            return " ".join(str(part) for part in (one.year, one.make, one.model) if part)
    return said
