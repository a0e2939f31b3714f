"""A job as a lesson: its decisions, how far a trainee has come, and what may be seen and heard there."""

from __future__ import annotations

import secrets
import threading
from dataclasses import dataclass, field

from narrator.job.record import UtteranceRow
from narrator.review.desk import Recent, Shown
from narrator.training.course import Course
from narrator.training.replay import Decision, decisions

_BEFORE, _AFTER = 0.5, 0.5
"""Seconds of sound around what is played."""
_ROUNDS = 200


@dataclass(frozen=True, slots=True)
class Lesson:
    """The decisions of a job and the lines after the last one."""

    stops: list[Decision]
    rest: tuple[UtteranceRow, ...]

    @classmethod
    def of(cls, shown: Shown) -> Lesson:
        """The lesson that a job holds; without stops where nothing was suspected or tested."""
        stops = decisions(shown.record)
        rows = list(Course(shown.record).rows.values())
        return cls(stops, tuple(rows[sum(len(stop.lines) for stop in stops) :]))

    def fresh(self, number: int) -> tuple[UtteranceRow, ...]:
        """The lines that are told on the way to decision ``number``; after the last one the rest."""
        return self.stops[number - 1].lines if number <= len(self.stops) else self.rest

    def told(self, number: int) -> tuple[UtteranceRow, ...]:
        """The lines that tell what happened at decision ``number``."""
        return self.stops[number - 1].happened if number < len(self.stops) else self.rest

    def earlier(self, number: int) -> tuple[UtteranceRow, ...]:
        """The lines told before those on the way to decision ``number``."""
        return tuple(row for stop in self.stops[: number - 1] for row in stop.lines)

    def stretch(self, number: int) -> tuple[float, float]:
        """The seconds of sound on the way to decision ``number``: nothing of what comes after it."""
        rows = self.fresh(number)
        hidden = self.stops[number - 1].happened[0].start if number <= len(self.stops) else float("inf")
        return max(0.0, rows[0].start - _BEFORE), min(rows[-1].end + _AFTER, hidden)

    def line(self, number: int, ident: int) -> tuple[float, float] | None:
        """The seconds of sound of one line that may be seen at decision ``number``; None where it may not."""
        last = self.stretch(number)[1]
        for row in (*self.earlier(number), *self.fresh(number)):
            if row.id == ident and not row.added:
                return max(0.0, row.start - _BEFORE), min(row.end + _AFTER, last)
        return None


@dataclass(slots=True)
class Round:
    """One trainee's way through one job: ``reached`` is the decision they stand at, counted from 1."""

    session: str
    who: str
    reached: int = 1
    answers: dict[int, dict[str, str]] = field(default_factory=dict)


class Rounds:
    """The rounds that are under way, by key. They end with the program; answers are kept as given."""

    def __init__(self) -> None:
        self._known: Recent[str, Round] = Recent(_ROUNDS)
        self._lock = threading.Lock()

    def begin(self, made: Round) -> str:
        """Begin a round; gives its key."""
        key = secrets.token_urlsafe(9)
        with self._lock:
            self._known.keep(key, made)
        return key

    def get(self, key: str, session: str) -> Round | None:
        """The round of a key, if it is one of that job."""
        with self._lock:
            found = self._known.get(key)
        return found if found and found.session == session else None
