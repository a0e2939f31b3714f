"""A job told again up to each decision: what had been said, the question, then what happened.

A decision is a turn of the reasoning: a suspect cleared, confirmed or brought back, and the first test. What
was said before it is shown; the line that decides and all after it are held back until the trainee answered.
"""

from __future__ import annotations

from dataclasses import dataclass

from narrator.job.record import Record, UtteranceRow
from narrator.training.course import Course

_AFTER = 0.5
"""Seconds of sound after a line, as far as the next one leaves them: ends are heard a little early."""

QUESTIONS = ("What do you suspect?", "What would you test next?", "What would it tell you?")


@dataclass(frozen=True, slots=True)
class Decision:
    """One place to stop at: the lines since the last one, what stands open, and what then happened.

    ``happened`` holds the line that decides and up to two more; after the last decision all that is left.
    ``start`` and ``end`` are the seconds of sound that belong to the lines shown, and to nothing after them.
    """

    number: int
    lines: tuple[UtteranceRow, ...]
    open: tuple[str, ...]
    happened: tuple[UtteranceRow, ...]
    start: float
    end: float


def decisions(record: Record) -> list[Decision]:
    """The decisions of a job, in order; none where nothing was suspected or tested."""
    course = Course(record)
    rows = list(course.rows.values())
    stops = _stops(course)
    found: list[Decision] = []
    shown = 0
    for number, stop in enumerate(stops, start=1):
        after = stops[number] if number < len(stops) else len(rows)
        lines = tuple(rows[shown:stop])
        standing = tuple(h.component for h in course.suspects if course.status_before(h, stop) == "open")
        happened = tuple(rows[stop:after] if number == len(stops) else rows[stop : min(after, stop + 3)])
        begin = lines[0].start if lines else rows[stop].start
        end = min(lines[-1].end + _AFTER, happened[0].start) if lines else begin
        found.append(Decision(number, lines, standing, happened, begin, max(begin, end)))
        shown = stop
    return found


def _stops(course: Course) -> list[int]:
    """Places of the lines that decide: never the first line, each once."""
    order = course.in_order()
    places = [course.began(order[0])] if order else []
    places += [course.place(u) for h in course.suspects for _, _, u in course.turns(h)]
    return sorted({p for p in places if 0 < p < len(course.rows)})
