"""The list of jobs as a reviewer sees it: searched, narrowed by state, a page at a time."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from sqlite_utils import Database

from narrator.store.alive import broken_off
from narrator.store.query import fts_query

JobState = Literal["live", "review", "approved", "broken"]
"""Being narrated, to review, approved and locked; begun by a program that is gone without having ended it."""

STATES: tuple[JobState, ...] = ("live", "review", "approved", "broken")

_STATE = """CASE
    WHEN (SELECT count(*) FROM approvals a WHERE a.session = s.id)
       > (SELECT count(*) FROM reopenings r WHERE r.session = s.id) THEN 'approved'
    WHEN EXISTS (SELECT 1 FROM endings e WHERE e.session = s.id) THEN 'review'
    WHEN s.id IN (SELECT value FROM json_each(:broken)) THEN 'broken'
    ELSE 'live' END"""

OPEN_LOOK = """NOT EXISTS (
    SELECT 1 FROM decisions d WHERE d.session = l.session AND d.look = l.look AND d.decision <> 'undone'
    AND d.seq = (SELECT max(seq) FROM decisions n WHERE n.session = l.session AND n.look = l.look))"""
"""Condition on a row ``l`` of ``looks``: nobody has decided it, or the decision was undone."""

_WANTED = f"""
FROM sessions s
LEFT JOIN vehicles v ON v.session = s.id
WHERE (:state = '' OR {_STATE} = :state)
  AND (:found = '' OR instr(s.id, :found)
       OR instr(lower(coalesce(v.said, s.vehicle, '')), :found)
       OR instr(lower(coalesce(s.source, '')), :found) OR s.id IN (
         SELECT t.session FROM lines_fts JOIN lines t ON t.seq = lines_fts.rowid
         WHERE lines_fts MATCH :query LIMIT :scan))
"""

_FOUND = f"""
SELECT s.id, count(*) OVER () AS total {_WANTED} ORDER BY s.started DESC, s.id DESC LIMIT :most OFFSET :skip
"""
_ROW = f"""
SELECT s.id, s.started, s.source, coalesce(v.said, s.vehicle) AS vehicle, {_STATE} AS state,
    coalesce((SELECT e.how FROM endings e WHERE e.session = s.id), 'open') AS how,
    1 + (SELECT count(*) FROM reopenings r WHERE r.session = s.id) AS revision,
    (SELECT count(*) FROM utterances u WHERE u.session = s.id) AS utterances,
    (SELECT coalesce(max(u."end"), 0.0) FROM utterances u WHERE u.session = s.id) AS seconds,
    EXISTS (SELECT 1 FROM records c WHERE c.session = s.id) AS compiled,
    (SELECT count(*) FROM looks l WHERE l.session = s.id AND {OPEN_LOOK}) AS looks,
    (SELECT a.who FROM approvals a WHERE a.session = s.id ORDER BY a.seq DESC LIMIT 1) AS approved_by
FROM sessions s
LEFT JOIN vehicles v ON v.session = s.id
WHERE s.id = :session
"""
_SCAN = 5_000
"""Lines taken from the full-text index for one search; of a word said more often, not every job is found."""


@dataclass(frozen=True, slots=True)
class JobRow:
    """One job of the list; ``looks`` counts what nobody has decided, ``seconds`` is where its words end."""

    id: str
    started: str
    source: str | None
    vehicle: str | None
    state: JobState
    how: str
    revision: int
    utterances: int
    seconds: float
    compiled: bool
    looks: int
    approved_by: str | None


@dataclass(frozen=True, slots=True)
class JobPage:
    """A page of the list, and how many jobs the search found in all."""

    rows: tuple[JobRow, ...]
    total: int


def broken_jobs(db: Database, home: Path) -> tuple[str, ...]:
    """Jobs that were never ended and that no program is at work on any more."""
    rows = db.execute("SELECT id FROM sessions WHERE id NOT IN (SELECT session FROM endings) ORDER BY id")
    return broken_off(home, [str(row[0]) for row in rows.fetchall()])


def list_jobs(
    db: Database, broken: tuple[str, ...], typed: str, state: JobState | None, *, most: int, skip: int
) -> JobPage:
    """Jobs that fit, latest first. ``typed`` is looked for in ids, vehicles, file names and spoken words."""
    wanted = {**_wanted(typed, state), "broken": json.dumps(broken)}
    found = db.execute(_FOUND, {**wanted, "most": most, "skip": skip}).fetchall()
    if found or not skip:
        total = int(found[0][1]) if found else 0
    else:  # a page past the last one
        total = int(db.execute(f"SELECT count(*) {_WANTED}", wanted).fetchone()[0])
    rows = (one_job(db, broken, str(row[0])) for row in found)
    return JobPage(tuple(row for row in rows if row), total)


def one_job(db: Database, broken: tuple[str, ...], session: str) -> JobRow | None:
    """The row of one job, or None where there is none."""
    for row in db.query(_ROW, {"session": session, "broken": json.dumps(broken)}):
        return JobRow(**{**row, "compiled": bool(row["compiled"])})
    return None


def count_states(db: Database, broken: tuple[str, ...]) -> dict[JobState, int]:
    """How many jobs are in each state."""
    counted = f"SELECT {_STATE}, count(*) FROM sessions s GROUP BY 1"
    found = dict(db.execute(counted, {"broken": json.dumps(broken)}).fetchall())
    return {state: int(found.get(state, 0)) for state in STATES}


def _wanted(typed: str, state: JobState | None) -> dict[str, Any]:
    typed = typed.replace("\x00", " ").strip()
    return {
        "state": state or "",
        "found": typed.lower(),
        "query": fts_query(typed) or '""',
        "scan": _SCAN,
    }
