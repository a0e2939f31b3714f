"""Finding jobs by what happened in them: structure and full text together.

Every condition is a set of sessions; a job must be in all of them. Words of a condition must all occur in
the one suspect, test or line that it is about (``narrator.store.query`` tells how they are read).
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, fields
from typing import Any, Literal

from sqlite_utils import Database

from narrator.errors import NarratorError
from narrator.store.query import fts_query

Ended = Literal["open", "cleared", "confirmed"]
OUTCOMES = ("pass", "fail", "inconclusive")
STATUS = {"open": "open", "cleared": "ruled_out", "confirmed": "confirmed"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What a job must have; None, empty and false ask for nothing.

    ``ended`` tells how the suspect must have ended, ``outcome`` how the test; ``said`` must occur in one
    line, ``concern`` in a line that tells the concern. ``since`` and ``until`` are dates, both included.
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
    """One job found, with the lines that show why: utterance number and words."""

    session: str
    started: str
    vehicle: str | None
    why: tuple[tuple[int, str], ...]


@dataclass(frozen=True, slots=True)
class Answer:
    """Jobs found, latest first, at most as many as were asked for; ``count`` is how many there are in all."""

    count: int
    jobs: tuple[Found, ...]


def find(db: Database, wanted: Wanted, most: int) -> Answer:
    """Jobs that have everything that is wanted.

    Raises:
        NarratorError: E313 when nothing is asked, or a condition holds no word.
    """
    if wanted.empty:
        raise NarratorError("E313")
    sets, given = _sets(wanted)
    both = " INTERSECT ".join(sets) + (" EXCEPT SELECT session FROM codes" if wanted.no_code else "")
    joined = f" JOIN ({both}) m ON m.session = s.id" if sets else ""
    days = "".join(sql for name, sql in _DAYS.items() if getattr(wanted, name))
    ids = [row[0] for row in db.execute(f"SELECT s.id FROM sessions s{joined} WHERE true{days}"
                                        " ORDER BY s.started DESC, s.id DESC", given)]  # fmt: skip
    jobs = []
    for session in ids[:most]:
        started, vehicle = db.execute(
            "SELECT s.started, coalesce(v.said, s.vehicle) FROM sessions s"
            " LEFT JOIN vehicles v ON v.session = s.id WHERE s.id = ?", [session]
        ).fetchone()  # fmt: skip
        jobs.append(Found(session, started, vehicle, tuple(_why(db, wanted, session))))
    return Answer(len(ids), tuple(jobs))


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
}
_DAYS = {"since": " AND s.started >= :since", "until": " AND s.started < :until || 'U'"}
"""Bounds of the sessions that are looked at; a set of all of one side would be most of the store."""
_NO_CODE = "SELECT id AS session FROM sessions WHERE id NOT IN (SELECT session FROM codes)"


def _sets(wanted: Wanted) -> tuple[list[str], dict[str, Any]]:
    """One SELECT of sessions for each condition, and the values in them."""
    ended, outcome = _and_ended(wanted), _and_outcome(wanted)
    sets: list[str] = []
    if wanted.suspected or ended:
        first = _SUSPECTS.format(name="suspected") if wanted.suspected else _ALL.format(table="hypotheses")
        sets.append(first + ended)
    if wanted.confirmed:
        sets.append(_SUSPECTS.format(name="confirmed") + " AND status = 'confirmed'")
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
    if "code" in given:
        given["code"] = "".join(sign for sign in wanted.code.upper() if sign.isalnum() or sign == "*")
    return [f"SELECT * FROM ({sql})" for sql in sets], given


_ALL = "SELECT session FROM {table} WHERE true"


def _and_ended(wanted: Wanted) -> str:
    return f" AND status = '{STATUS[wanted.ended]}'" if wanted.ended else ""


def _and_outcome(wanted: Wanted) -> str:
    return f" AND outcome = '{OUTCOMES[OUTCOMES.index(wanted.outcome)]}'" if wanted.outcome else ""


_WHY_SUSPECT = (
    "SELECT last_utterance, statement FROM hypotheses WHERE session = ? AND (? IS NULL OR status = ?)"
    " AND EXISTS (SELECT 1 FROM hypotheses_fts f WHERE hypotheses_fts MATCH ? AND f.rowid = hypotheses.seq)"
)
_WHY_TEST = (
    "SELECT first_utterance, procedure FROM tests WHERE session = ? AND (? = '' OR outcome = ?)"
    " AND EXISTS (SELECT 1 FROM tests_fts f WHERE tests_fts MATCH ? AND f.rowid = tests.seq)"
)
_WHY_LINE = (
    "SELECT l.utterance, l.clean FROM lines_fts JOIN lines l ON l.seq = lines_fts.rowid"
    " WHERE lines_fts MATCH ? AND lines_fts.rowid BETWEEN ? AND ? AND l.session = ? LIMIT 3"
)


def _why(db: Database, wanted: Wanted, session: str) -> list[tuple[int, str]]:
    """The first lines that show why a job was found."""
    asked: list[tuple[str, list[Any]]] = []
    if suspect := wanted.suspected or wanted.confirmed:
        ended = STATUS[wanted.ended] if wanted.ended else ("confirmed" if wanted.confirmed else None)
        asked.append((_WHY_SUSPECT, [session, ended, ended, _words(suspect)]))
    if wanted.tested:
        asked.append((_WHY_TEST, [session, wanted.outcome, wanted.outcome, _words(wanted.tested)]))
    span = db.execute("SELECT min(seq), max(seq) FROM lines WHERE session = ?", [session]).fetchone()
    for words in filter(None, (wanted.said, wanted.concern)):
        asked.append((_WHY_LINE, [_words(words), *span, session]))
    found = [row for sql, values in asked for row in db.execute(sql, values).fetchall()]
    return [(int(u), str(text)) for u, text in dict.fromkeys(found) if u is not None][:4]
