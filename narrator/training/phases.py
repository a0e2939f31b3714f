"""How long a job took from the concern to the cause, and to the last check, by phase."""

from __future__ import annotations

from dataclasses import dataclass

from narrator.training.course import Course
from narrator.training.figure import Figure


@dataclass(frozen=True, slots=True)
class Phases:
    """Seconds of each phase; None where the job had no such phase.

    ``intake``: concern to the first suspect or test. ``search``: from there to the first cause that stood.
    ``further``: to the last cause that stood, where there are several. ``repair``: from the last cause to the
    end of the last check. ``to_cause``: intake and search together. The low value leaves out stretches
    without sound, in which nobody knows what went on.
    """

    intake: Figure | None
    search: Figure | None
    further: Figure | None
    repair: Figure | None
    to_cause: Figure | None


def phases(course: Course) -> Phases:
    """The phases of a job, by the times of its lines."""
    began = _concern(course)
    busy = [h.history[0].utterance for h in course.suspects] + [t.utterances[0] for t in course.tests]
    first = min(map(course.start, busy), default=None)
    settled = [course.start(course.settled(h)) for h in course.causes()]
    found, last = (settled[0], settled[-1]) if settled else (None, None)
    checks = [course.end(u) for v in course.record.verifications for u in v.utterances]
    checked = max((end for end in checks if last is not None and end > last), default=None)
    return Phases(
        intake=_between(course, began, first),
        search=_between(course, first, found),
        further=_between(course, found, last) if len(settled) > 1 else None,
        repair=_between(course, last, checked),
        to_cause=_between(course, began, found),
    )


def _concern(course: Course) -> float | None:
    """Where the concern was told; the first line of the job where none was."""
    told = [u.start for u in course.rows.values() if "concern" in u.acts]
    return min(told or [u.start for u in course.rows.values()], default=None)


def _between(course: Course, start: float | None, end: float | None) -> Figure | None:
    if start is None or end is None:
        return None
    whole = max(0.0, end - start)
    silent = sum(max(0.0, min(g.end, end) - max(g.start, start)) for g in course.record.gaps)
    return Figure(whole, max(0.0, whole - silent), whole)
