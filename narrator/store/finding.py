"""Finding jobs by what happened in them: structure and full text together.

Every condition is a set of sessions; a job must be in all of them. Words of a condition must all occur in
the one suspect, test or line that it is about (``narrator.store.query`` tells how they are read).
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict, dataclass, fields
from typing import Any, Literal

from sqlite_utils import Database

from narrator.errors import NarratorError
from narrator.store.query import fts_query

Ended = Literal["open", "cleared", "confirmed"]
About = Literal["suspect", "test", "line", "check"]
"""What the words that show why are of: a line's are its own, the others' are the record's."""
OUTCOMES = ("pass", "fail", "inconclusive")
STATUS = {"open": "open", "cleared": "ruled_out", "confirmed": "confirmed"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What a job must have; None, empty and false ask for nothing.

    ``ended`` tells how the suspect must have ended, ``outcome`` how the test; ``said`` must occur in one
    line, ``concern`` in a line that tells the concern. ``system`` is one to which a suspect of the job
    belongs. ``since`` and ``until`` are dates, both included.
    """

    said: str = ""
    concern: str = ""
    suspected: str = ""
    ended: str = ""
    confirmed: str = ""
    tested: str = ""
    outcome: str = ""
    fitted: str = ""
    code: str = ""
    no_code: bool = False
    verified: str = ""
    vehicle: str = ""
    system: str = ""
    person: str = ""
    since: str = ""
    until: str = ""

    @property
    def empty(self) -> bool:
        """Whether nothing is asked."""
        return all(not getattr(self, f.name) for f in fields(self))

    def given(self) -> dict[str, Any]:
        """Only what is asked, as kept with a saved search."""
        return {name: value for name, value in asdict(self).items() if value}


@dataclass(frozen=True, slots=True)
class Found:
    """One job found, with the lines that show why: utterance number, words, and what they are about."""

    session: str
    started: str
    vehicle: str | None
    why: tuple[tuple[int, str, About], ...]


@dataclass(frozen=True, slots=True)
class Answer:
    """Jobs found, latest first, at most as many as were asked for; ``count`` is how many there are in all."""

    count: int
    jobs: tuple[Found, ...]


def find(
    db: Database,
    wanted: Wanted,
    most: int,
    skip: int = 0,
    system_of: Callable[[str], str] = lambda name: name,
) -> Answer:
    """Jobs that have everything that is wanted, without the first ``skip``.

    ``system_of`` tells the system of a component; the store itself knows of none.

    Raises:
        NarratorError: E313 when nothing is asked, or a condition holds no word.
    """
    if wanted.empty:
        raise NarratorError("E313")
    members = json.dumps(_members(db, wanted.system, system_of)) if wanted.system else "[]"
    sets, given = _sets(wanted, members)
    both = " INTERSECT ".join(sets) + (" EXCEPT SELECT session FROM codes" if wanted.no_code else "")
    days = "".join(sql for name, sql in _DAYS.items() if getattr(wanted, name))
    if days:
        joined = f" JOIN ({both}) n ON n.session = s.id" if sets else ""
        both = f"SELECT s.id AS session FROM sessions s{joined} WHERE true{days}"
    count, ids = _page(db, both, given | {"most": most, "skip": skip})
    jobs = []
    for session in ids:
        started, vehicle = db.execute(
            "SELECT s.started, coalesce(v.said, s.vehicle) FROM sessions s"
            " LEFT JOIN vehicles v ON v.session = s.id WHERE s.id = ?", [session]
        ).fetchone()  # fmt: skip
        jobs.append(Found(session, started, vehicle, tuple(_why(db, wanted, session, members))))
    return Answer(count, tuple(jobs))


def _page(db: Database, both: str, given: dict[str, Any]) -> tuple[int, list[str]]:
    """How many sessions a set holds, and a page of them, latest first; the set is made once."""
    made = f"WITH found AS MATERIALIZED ({both})"
    rows = db.execute(
        f"{made} SELECT s.id, (SELECT count(*) FROM found) FROM sessions s JOIN found m ON m.session = s.id"
        " ORDER BY s.started DESC, s.id DESC LIMIT :most OFFSET :skip", given
    ).fetchall()  # fmt: skip
    if not rows and given["skip"]:  # a page past the last one
        return int(db.execute(f"{made} SELECT count(*) FROM found", given).fetchone()[0]), []
    return (int(rows[0][1]) if rows else 0), [str(row[0]) for row in rows]


_NAMES = """
WITH RECURSIVE named(name) AS (
    SELECT min(component) FROM hypotheses
    UNION ALL SELECT (SELECT min(component) FROM hypotheses WHERE component > named.name) FROM named
    WHERE named.name IS NOT NULL)
SELECT name FROM named WHERE name IS NOT NULL
"""
"""Every component that was suspected, once: a step of the index for each, however many jobs there are."""


def _members(db: Database, system: str, system_of: Callable[[str], str]) -> list[str]:
    """The suspected components that belong to a system."""
    return [name for (name,) in db.execute(_NAMES).fetchall() if system_of(name) == system]


def _words(typed: str) -> str:
    query = fts_query(typed)
    if not query:
        raise NarratorError("E313")
    return query


_SUSPECTS = (
    "SELECT session FROM hypotheses"
    " WHERE seq IN (SELECT rowid FROM hypotheses_fts WHERE hypotheses_fts MATCH :{name})"
)
_TESTS = "SELECT session FROM tests WHERE seq IN (SELECT rowid FROM tests_fts WHERE tests_fts MATCH :tested)"
_SAID = "SELECT session FROM lines WHERE seq IN (SELECT rowid FROM lines_fts WHERE lines_fts MATCH :said)"
_CONCERN = (
    "SELECT l.session AS session FROM lines_fts CROSS JOIN lines l ON l.seq = lines_fts.rowid"
    " CROSS JOIN acts a ON a.act = 'concern' AND a.session = l.session AND a.utterance = l.utterance"
    " WHERE lines_fts MATCH :concern"
)
_PLAIN = {
    "fitted": "SELECT session FROM parts WHERE state = 'fitted' AND name LIKE :fitted",
    "code": "SELECT session FROM codes WHERE code GLOB :code",
    "verified": "SELECT session FROM verifications v WHERE outcome = :verified AND position ="
    " (SELECT max(position) FROM verifications w WHERE w.session = v.session)",
    "vehicle": "SELECT s.id AS session FROM sessions s LEFT JOIN vehicles v ON v.session = s.id"
    " WHERE coalesce(v.said, s.vehicle) LIKE :vehicle",
    "person": "SELECT session FROM utterances WHERE speaker = :person",
    "system": "SELECT session FROM hypotheses WHERE component IN (SELECT value FROM json_each(:system))",
}
_DAYS = {"since": " AND s.started >= :since", "until": " AND s.started < :until || 'U'"}
"""Bounds of the sessions that are looked at; a set of all of one side would be most of the store."""
_NO_CODE = "SELECT id AS session FROM sessions WHERE id NOT IN (SELECT session FROM codes)"


def _sets(wanted: Wanted, members: str) -> tuple[list[str], dict[str, Any]]:
    """One SELECT of sessions for each condition, and the values in them; ``members`` is a JSON list."""
    ended, outcome = _and_ended(wanted), _and_outcome(wanted)
    sets: list[str] = []
    if wanted.suspected or ended:
        first = _SUSPECTS.format(name="suspected") if wanted.suspected else _ALL.format(table="hypotheses")
        sets.append(first + ended)
    if wanted.confirmed:
        sets.append(_SUSPECTS.format(name="confirmed") + " AND +status = 'confirmed'")
    if wanted.tested or outcome:
        sets.append((_TESTS if wanted.tested else _ALL.format(table="tests")) + outcome)
    sets += [_SAID] if wanted.said else []
    sets += [_CONCERN] if wanted.concern else []
    sets += [sql for name, sql in _PLAIN.items() if getattr(wanted, name)]
    sets += [_NO_CODE] if wanted.no_code and not sets else []
    given: dict[str, Any] = {
        name: _words(getattr(wanted, name))
        for name in ("suspected", "confirmed", "tested", "said", "concern")
        if getattr(wanted, name)
    }
    given |= {name: getattr(wanted, name) for name in (*_PLAIN, *_DAYS) if getattr(wanted, name)}
    given |= {name: f"%{given[name].strip()}%" for name in ("fitted", "vehicle") if name in given}
    given |= {"system": members} if wanted.system else {}
    if "code" in given:
        given["code"] = "".join(sign for sign in wanted.code.upper() if sign.isalnum() or sign == "*")
    once = "DISTINCT " if len(sets) == 1 else ""  # where sets meet, each session is left once anyway
    return [f"SELECT {once}* FROM ({sql})" for sql in sets], given


_ALL = "SELECT session FROM {table} WHERE true"


def _and_ended(wanted: Wanted) -> str:
    """How the suspect ended; with ``+`` where words find it sooner than the index of its status would."""
    column = "+status" if wanted.suspected else "status"
    return f" AND {column} = '{STATUS[wanted.ended]}'" if wanted.ended else ""


def _and_outcome(wanted: Wanted) -> str:
    column = "+outcome" if wanted.tested else "outcome"
    return f" AND {column} = '{OUTCOMES[OUTCOMES.index(wanted.outcome)]}'" if wanted.outcome else ""


_MATCHES = " AND EXISTS (SELECT 1 FROM {0}_fts f WHERE {0}_fts MATCH :words AND f.rowid = {0}.seq)"
_LINES = "SELECT l.utterance, l.clean FROM lines l"
_WHY: dict[str, str] = {
    "hypotheses": "SELECT last_utterance, statement FROM hypotheses WHERE session = :session",
    "tests": "SELECT first_utterance, procedure FROM tests WHERE session = :session",
    "system": "SELECT last_utterance, statement FROM hypotheses WHERE session = :session"
    " AND component IN (SELECT value FROM json_each(:words))",
    "said": "SELECT l.utterance, l.clean FROM lines_fts JOIN lines l ON l.seq = lines_fts.rowid"
    " WHERE lines_fts MATCH :words AND lines_fts.rowid BETWEEN :first AND :last AND l.session = :session",
    "fitted": f"{_LINES} WHERE l.session = :session AND l.clean LIKE :words ORDER BY NOT EXISTS (SELECT 1"
    " FROM acts a WHERE a.session = l.session AND a.utterance = l.utterance AND a.act = 'part'), l.utterance",
    "code": f"{_LINES} JOIN codes c ON c.session = l.session AND c.utterance = l.utterance"
    " WHERE l.session = :session AND c.code GLOB :words",
    "verified": "SELECT first_utterance, text FROM verifications WHERE session = :session"
    " ORDER BY position DESC LIMIT 1",
}
"""Utterance and words that show why a job has what a condition asks."""
_EACH, _ALL_WHY = 3, 6


def _why(db: Database, wanted: Wanted, session: str, members: str) -> list[tuple[int, str, About]]:
    """The first lines that show why a job was found."""
    asked: list[tuple[str, str, About]] = []
    if wanted.suspected or wanted.ended:
        asked.append((_of("hypotheses", wanted.suspected, _and_ended(wanted)), wanted.suspected, "suspect"))
    if wanted.confirmed:
        confirmed = _of("hypotheses", wanted.confirmed, " AND status = 'confirmed'")
        asked.append((confirmed, wanted.confirmed, "suspect"))
    if wanted.tested or wanted.outcome:
        asked.append((_of("tests", wanted.tested, _and_outcome(wanted)), wanted.tested, "test"))
    asked += [(_WHY["said"], words, "line") for words in (wanted.said, wanted.concern) if words]
    asked = [(sql, _words(words) if words else "", about) for sql, words, about in asked]
    _, given = _sets(wanted, members)
    asked += [(_WHY[name], given[name], about) for name, about in _PLAIN_WHY.items() if getattr(wanted, name)]
    first, last = db.execute("SELECT min(seq), max(seq) FROM lines WHERE session = ?", [session]).fetchone()
    values = {"session": session, "first": first, "last": last}
    found = [
        (int(utterance), str(text), about)
        for sql, words, about in asked
        for utterance, text in db.execute(sql, values | {"words": words}).fetchmany(_EACH)
        if utterance is not None
    ]
    return list(dict.fromkeys(found))[:_ALL_WHY]


_PLAIN_WHY: dict[str, About] = {"fitted": "line", "code": "line", "verified": "check", "system": "suspect"}


def _of(table: str, words: str, how: str) -> str:
    return _WHY[table] + how + (_MATCHES.format(table) if words else "")
