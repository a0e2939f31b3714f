"""Reading the store through a connection that cannot change it."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from sqlite_utils import Database

from narrator.errors import NarratorError
from narrator.store.finding import Answer, Wanted, find
from narrator.store.ids import as_typed
from narrator.store.opening import BUSY_SECONDS, coded, database_path, open_reader, open_writer, version_of
from narrator.store.placing import in_place
from narrator.store.query import fts_query
from narrator.store.rows import (
    HIT_END,
    HIT_START,
    Addition,
    Approval,
    Facts,
    Hit,
    Mark,
    SessionRow,
    Sound,
    StoredRecord,
    Strike,
)
from narrator.store.schema import SCHEMA
from narrator.values import Correction, Gap, Utterance, Word

_SEARCH = """
SELECT l.session, s.started, l.utterance, u.start,
       highlight(lines_fts, 0, :on, :off) AS heard, highlight(lines_fts, 1, :on, :off) AS clean
FROM lines_fts
JOIN lines l ON l.seq = lines_fts.rowid
JOIN utterances u ON u.session = l.session AND u.id = l.utterance
JOIN sessions s ON s.id = l.session
WHERE lines_fts MATCH :query
ORDER BY s.started DESC, s.id DESC, u.start, u.seq
LIMIT :most
"""


_RECORD = """
SELECT s.id, s.started,
       (SELECT speaker FROM utterances u WHERE u.session = s.id AND speaker IS NOT NULL
        GROUP BY speaker ORDER BY count(*) DESC, speaker LIMIT 1), r.record
FROM records r JOIN sessions s ON s.id = r.session WHERE r.session = ?
"""


class Reader:
    """Answers from the store. An older file is brought up to date first, by a writer of its own.

    Raises:
        NarratorError: E307 when there is no database yet; E301 to E304 and E308 when it cannot be read.
    """

    def __init__(self, home: Path, wait: float = BUSY_SECONDS) -> None:
        self.path = database_path(home)
        self._db = open_reader(self.path, wait)
        if version_of(self._db) < SCHEMA:
            self._db.close()
            open_writer(self.path, wait).close()
            self._db = open_reader(self.path, wait)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the connection."""
        self._db.close()

    def sessions(self) -> list[SessionRow]:
        """All sessions, oldest first."""
        with coded(self.path):
            return [SessionRow(**row) for row in self._db.query("SELECT * FROM session_list")]

    def resolve(self, typed: str) -> str:
        """The id meant by ``last``, by a whole id, or by a start or end of it that only one has.

        Raises:
            NarratorError: E305 when no session is meant, E306 when several are, E307 for the last of none.
        """
        if typed.strip().lower() == "last":
            return self.every()[-1]
        known = [row.id for row in self.sessions()]
        short = as_typed(typed)
        found = [i for i in known if short and (i.startswith(short) or i.endswith(short))]
        if short in found:
            return short
        if not found:
            raise NarratorError("E305", session=typed)
        if len(found) > 1:
            raise NarratorError("E306", session=typed, found=", ".join(found))
        return found[0]

    def every(self) -> list[str]:
        """The ids of all sessions.

        Raises:
            NarratorError: E307 where none is kept.
        """
        known = [row.id for row in self.sessions()]
        if not known:
            raise NarratorError("E307", home=self.path.parent)
        return known

    def facts(self, session: str) -> Facts:
        """Every fact of one session, all of the same moment."""
        with coded(self.path), self._db.atomic():
            listed = list(self._db.query("SELECT * FROM session_list WHERE id = ?", [session]))
            if not listed:
                raise NarratorError("E305", session=session)
            added = additions(self._db, session)
            return Facts(
                session=SessionRow(**listed[0]),
                utterances=tuple(in_place(_utterances(self._db, session), added)),
                corrections=tuple(Correction(r["utterance"], r["text"], r["who"], r["when"], r["reason"])
                                  for r in _kept(self._db, "corrections", session)),
                strikes=tuple(Strike(r["utterance"], r["who"], r["when"], r["reason"], bool(r["struck"]))
                              for r in _kept(self._db, "strikes", session)),
                marks=tuple(Mark(r["at"], r["kind"], r["text"]) for r in _kept(self._db, "marks", session)),
                gaps=tuple(Gap(r["start"], r["end"], r["reason"]) for r in _kept(self._db, "gaps", session)),
                sounds=tuple(Sound(r["file"], r["start"], r["sha256"])
                             for r in _kept(self._db, "sounds", session)),
                version=facts_version(self._db, session),
                additions=tuple(added),
            )  # fmt: skip

    def record(self, session: str) -> StoredRecord | None:
        """The record last derived, or None; the caller sees whether it is of today's facts."""
        with coded(self.path):
            for r in self._db.table("records").rows_where("session = ?", [session]):
                return StoredRecord(session, r["rules"], r["record"], r["sha256"], r["facts"])
        return None

    def facts_version(self, session: str) -> str:
        """What ``Facts.version`` would be now."""
        with coded(self.path):
            return facts_version(self._db, session)

    def approval(self, session: str) -> Approval | None:
        """The approval that locks the session's sheet, or None where it may be changed."""
        with coded(self.path):
            return approvals(self._db, session)[-1] if locked(self._db, session) else None

    def search(self, typed: str, most: int = 200) -> list[Hit]:
        """Lines in which all words occur, as heard or as read, latest session first.

        Raises:
            NarratorError: E313 when there is no word to look for.
        """
        query = fts_query(typed)
        if not query:
            raise NarratorError("E313")
        given = {"on": HIT_START, "off": HIT_END, "query": query, "most": most}
        with coded(self.path):
            return [
                Hit(r["session"], r["started"], r["utterance"], r["start"],
                    r["clean"] if HIT_START in r["clean"] else r["heard"])
                for r in self._db.query(_SEARCH, given)
            ]  # fmt: skip

    def find(
        self, wanted: Wanted, most: int = 50, skip: int = 0,
        system_of: Callable[[str], str] = lambda name: name,
    ) -> Answer:  # fmt: skip
        """Jobs by what happened in them, latest first, without the first ``skip``.

        ``system_of`` tells the system of a component (``narrator.training.searches.find_jobs`` gives it).

        Raises:
            NarratorError: E313 when nothing is asked or a condition holds no word.
        """
        with coded(self.path):
            return find(self._db, wanted, most, skip, system_of)

    def digests(self) -> dict[str, str]:
        """The digest of each session's record, by session; sessions without a record are left out."""
        with coded(self.path):
            return dict(self._db.execute("SELECT session, sha256 FROM records").fetchall())

    def corrected(self) -> list[str]:
        """Sessions with a corrected line, oldest first."""
        with coded(self.path):
            return [row[0] for row in self._db.execute("SELECT DISTINCT session FROM corrections ORDER BY 1")]

    def session_count(self) -> int:
        """How many sessions there are."""
        with coded(self.path):
            return int(self._db.execute("SELECT count(*) FROM sessions").fetchone()[0])

    def rules_used(self) -> list[str]:
        """The versions of rules that made the records."""
        with coded(self.path):
            return [row[0] for row in self._db.execute("SELECT DISTINCT rules FROM records ORDER BY rules")]

    def records(self, sessions: Iterable[str]) -> Iterator[tuple[tuple[str, str, str | None], str]]:
        """Session, when it began and who spoke most in it; and its record as JSON."""
        with coded(self.path):
            for session in sessions:
                for row in self._db.execute(_RECORD, [session]):
                    yield (row[0], row[1], row[2]), row[3]

    @contextmanager
    def moment(self) -> Iterator[None]:
        """Whatever is read inside the block is of one moment, whatever is written meanwhile."""
        with coded(self.path), self._db.atomic():
            yield

    def rows(self, table: str, columns: Sequence[str]) -> Iterator[dict[str, Any]]:
        """Rows of a table, in the order in which they were kept; only some of its columns."""
        with coded(self.path):
            yield from self._db.table(table).rows_where(
                select=", ".join(f'"{column}"' for column in columns), order_by="rowid"
            )

    def backup(self, target: Path) -> None:
        """Write a whole, compact copy of the database to a new file, while others go on using it.

        Raises:
            NarratorError: E502 when the file exists, E501 when it cannot be written.
        """
        if target.exists():
            raise NarratorError("E502", path=target)
        part = target.with_name(target.name + ".part")
        try:
            part.unlink(missing_ok=True)
            with coded(target):
                self._db.execute("PRAGMA query_only = OFF")  # the connection itself stays read-only
                self._db.execute("VACUUM INTO ?", [str(part)])
                self._db.execute("PRAGMA query_only = ON")
            with part.open("rb+") as file:
                os.fsync(file.fileno())
            part.replace(target)
        except (OSError, NarratorError) as error:
            part.unlink(missing_ok=True)
            why = error.message if isinstance(error, NarratorError) else error.strerror
            raise NarratorError("E501", path=target, why=why) from error


def facts_version(db: Database, session: str) -> str:
    """How many facts of each kind there are, with the last one's number: changes with every fact added."""
    counts = (
        db.execute(
            f"SELECT count(*), coalesce(max(seq), 0) FROM {name} WHERE session = ?", [session]
        ).fetchone()
        for name in ("utterances", "corrections", "strikes", "marks", "gaps")
    )
    return " ".join(f"{count}:{last}" for count, last in counts)


def approvals(db: Database, session: str) -> list[Approval]:
    """Every approval of a session, the first revision first."""
    return [
        Approval(
            session, r["revision"], r["rules"], r["record"], r["sha256"], r["facts"], r["who"], r["when"]
        )
        for r in _kept(db, "approvals", session)
    ]


def additions(db: Database, session: str) -> list[Addition]:
    """Every line that a person added, in the order in which they were."""
    return [Addition(r["utterance"], r["after"], r["who"], r["when"], r["reason"])
            for r in _kept(db, "additions", session)]  # fmt: skip


def placed(db: Database, session: str) -> list[Utterance]:
    """The utterances of a session without their words, added ones in their places."""
    rows = (Utterance(r["id"], r["start"], r["end"], r["text"]) for r in _kept(db, "utterances", session))
    return in_place(rows, additions(db, session))


def locked(db: Database, session: str) -> bool:
    """Whether the sheet is approved and was not reopened since."""
    approved, reopened = (db.table(name).count_where("session = ?", [session])
                          for name in ("approvals", "reopenings"))  # fmt: skip
    return bool(approved > reopened)


def _kept(db: Database, table: str, session: str) -> Iterator[dict[str, Any]]:
    return db.table(table).rows_where("session = ?", [session], order_by="seq")


def _utterances(db: Database, session: str) -> Iterator[Utterance]:
    words: dict[int, list[Word]] = {}
    for r in _kept(db, "words", session):
        words.setdefault(r["utterance"], []).append(
            Word(r["word"], r["start"], r["end"], r["conf"], r["other"])
        )
    for r in _kept(db, "utterances", session):
        heard = tuple(words.get(r["id"], ()))
        yield Utterance(
            r["id"], r["start"], r["end"], r["text"], heard, r["speaker"], r["engine"], r["timing"]
        )
