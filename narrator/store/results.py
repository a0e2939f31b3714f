"""Jobs found by a search, with what a trainer wants to see of each: who spoke, and the lines that matched."""

from __future__ import annotations

from dataclasses import dataclass

from sqlite_utils import Database

from narrator.store.finding import Answer, Found


@dataclass(frozen=True, slots=True)
class Matched:
    """A line that shows why a job was found; ``what`` is what was made of it, empty where nothing more."""

    utterance: int
    start: float
    line: str
    what: str


@dataclass(frozen=True, slots=True)
class Result:
    """One job found. ``person`` spoke most in it; ``decides``: something was suspected or tested."""

    session: str
    started: str
    vehicle: str | None
    person: str | None
    decides: bool
    lines: tuple[Matched, ...]


_JOB = """
SELECT (SELECT speaker FROM utterances u WHERE u.session = :s AND speaker IS NOT NULL
        GROUP BY speaker ORDER BY count(*) DESC, speaker LIMIT 1),
       EXISTS (SELECT 1 FROM tests WHERE session = :s) OR EXISTS (SELECT 1 FROM hypotheses WHERE session = :s)
"""
_LINE = """
SELECT u.start, l.clean FROM lines l JOIN utterances u ON u.session = l.session AND u.id = l.utterance
WHERE l.session = ? AND l.utterance = ?
"""
_PEOPLE = """
WITH RECURSIVE known(name) AS (
    SELECT min(speaker) FROM utterances
    UNION ALL SELECT (SELECT min(speaker) FROM utterances WHERE speaker > known.name) FROM known
    WHERE known.name IS NOT NULL)
SELECT name FROM known WHERE name IS NOT NULL
"""


def results(db: Database, answer: Answer) -> tuple[Result, ...]:
    """The jobs of an answer, in its order."""
    return tuple(_result(db, job) for job in answer.jobs)


def _result(db: Database, job: Found) -> Result:
    person, decides = db.execute(_JOB, {"s": job.session}).fetchone()
    told: dict[int, list[str]] = {}
    for utterance, text, about in job.why:
        told.setdefault(utterance, []).append(text if about == "line" else f"{about}: {text}")
    lines = []
    for utterance, texts in told.items():
        for start, clean in db.execute(_LINE, [job.session, utterance]).fetchall():
            more = [text for text in dict.fromkeys(texts) if text.split(": ", 1)[-1] != clean]
            lines.append(Matched(utterance, start, clean, "; ".join(more)))
    lines.sort(key=lambda line: line.start)
    return Result(job.session, job.started, job.vehicle, person, bool(decides), tuple(lines))


def people(db: Database) -> list[str]:
    """Everybody who spoke in any job, in the order of the names: a step of the index for each."""
    return [str(name) for (name,) in db.execute(_PEOPLE).fetchall()]
