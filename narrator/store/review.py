"""What reviewing reads and writes: decisions, approvals, revisions, and the lines as they come in."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from sqlite_utils import Database

from narrator.errors import NarratorError
from narrator.store.finding import Answer
from narrator.store.jobs import JobPage, JobRow, JobState, broken_jobs, count_states, list_jobs, one_job
from narrator.store.opening import coded
from narrator.store.reader import Reader, approvals, facts_version, locked
from narrator.store.results import Result, people, results
from narrator.store.rows import Approval
from narrator.store.writer import Writer, writable
from narrator.values import Correction

Decided = Literal["accepted", "corrected", "dismissed", "undone"]


@dataclass(frozen=True, slots=True)
class LookItem:
    """Something to look at (derived), with the latest decision about it, if any."""

    look: str
    kind: str
    reason: str
    utterance: int | None
    at: float
    span: tuple[int, int] | None
    decision: Decided | None
    who: str | None
    when: str | None

    @property
    def open(self) -> bool:
        """Whether it still waits for a person."""
        return self.decision in (None, "undone")


@dataclass(frozen=True, slots=True)
class Decision:
    """What a person decided about something to look at."""

    look: str
    utterance: int | None
    decided: Decided
    who: str
    when: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Reopening:
    """An approved sheet opened again as ``revision``."""

    revision: int
    who: str
    when: str
    reason: str


@dataclass(frozen=True, slots=True)
class Change:
    """What someone last did to a job, to tell the others: ``kind`` names the table it was kept in."""

    kind: str
    utterance: int | None
    who: str
    when: str


@dataclass(frozen=True, slots=True)
class NewLine:
    """An utterance as it was committed; ``seq`` is its place in the order of keeping."""

    seq: int
    id: int
    start: float
    end: float
    text: str


_LOOKS = """
SELECT l.look, l.kind, l.reason, l.utterance, l.at, l.span_start, l.span_end, d.decision, d.who, d."when"
FROM looks l LEFT JOIN decisions d ON d.seq =
    (SELECT max(seq) FROM decisions n WHERE n.session = l.session AND n.look = l.look)
WHERE l.session = ? ORDER BY l.position
"""
_CHANGES = """
SELECT 'corrections' AS kind, utterance, who, "when" FROM corrections WHERE session = :s
UNION ALL SELECT 'strikes', utterance, who, "when" FROM strikes WHERE session = :s
UNION ALL SELECT 'additions', utterance, who, "when" FROM additions WHERE session = :s
UNION ALL SELECT 'decisions', utterance, who, "when" FROM decisions WHERE session = :s
UNION ALL SELECT 'approvals', NULL, who, "when" FROM approvals WHERE session = :s
UNION ALL SELECT 'reopenings', NULL, who, "when" FROM reopenings WHERE session = :s
"""


class ReviewReader(Reader):
    """A reader that also answers what the review page asks."""

    def jobs(self, typed: str = "", state: JobState | None = None, most: int = 50, skip: int = 0) -> JobPage:
        """A page of the list of jobs, latest first."""
        with coded(self.path):
            return list_jobs(self._db, self.broken(), typed, state, most=most, skip=skip)

    def broken(self) -> tuple[str, ...]:
        """Jobs that were never ended and that no program is at work on any more, as of now."""
        with coded(self.path):
            return broken_jobs(self._db, self.path.parent)

    def job(self, session: str) -> JobRow:
        """One job of the list.

        Raises:
            NarratorError: E305 when there is none.
        """
        with coded(self.path):
            row = one_job(self._db, self.broken(), session)
        if row is None:
            raise NarratorError("E305", session=session)
        return row

    def results(self, answer: Answer) -> tuple[Result, ...]:
        """The jobs of an answer with who spoke and the lines that matched."""
        with coded(self.path):
            return results(self._db, answer)

    def people(self) -> list[str]:
        """Everybody who spoke in any job."""
        with coded(self.path):
            return people(self._db)

    def states(self) -> dict[JobState, int]:
        """How many jobs are in each state."""
        with coded(self.path):
            return count_states(self._db, self.broken())

    def looks(self, session: str) -> list[LookItem]:
        """Everything to look at in one job, in the order of the session, decided or not."""
        with coded(self.path):
            return [
                LookItem(r["look"], r["kind"], r["reason"], r["utterance"], r["at"],
                         None if r["span_start"] is None else (r["span_start"], r["span_end"]),
                         r["decision"], r["who"], r["when"])
                for r in self._db.query(_LOOKS, [session])
            ]  # fmt: skip

    def approvals(self, session: str) -> list[Approval]:
        """Every approval of a job, the first revision first."""
        with coded(self.path):
            return approvals(self._db, session)

    def reopenings(self, session: str) -> list[Reopening]:
        """When and why a job was reopened, in order."""
        with coded(self.path):
            rows = self._db.table("reopenings").rows_where("session = ?", [session], order_by="seq")
            return [Reopening(r["revision"], r["who"], r["when"], r["reason"]) for r in rows]

    def last_changes(self, session: str, since: int) -> tuple[int, list[Change]]:
        """How many changes people made to a job, and those after the first ``since``, in order of time."""
        with coded(self.path):
            rows = [
                Change(r["kind"], r["utterance"], r["who"], r["when"])
                for r in self._db.query(f'SELECT * FROM ({_CHANGES}) ORDER BY "when", kind', {"s": session})
            ]
        return len(rows), rows[max(0, since) :]

    def lines_after(self, session: str, seq: int, most: int = 200) -> list[NewLine]:
        """Utterances kept after ``seq``, in the order of keeping."""
        with coded(self.path):
            found: Iterator[dict[str, object]] = self._db.query(
                'SELECT seq, id, start, "end", text FROM utterances'
                " WHERE session = ? AND seq > ? ORDER BY seq LIMIT ?",
                [session, seq, most],
            )
            return [NewLine(**row) for row in found]  # type: ignore[arg-type]

    def newest_line(self, session: str) -> int:
        """The ``seq`` of the utterance kept last, 0 where there is none."""
        with coded(self.path):
            row = self._db.execute("SELECT max(seq) FROM utterances WHERE session = ?", [session]).fetchone()
            return int(row[0] or 0)

    def line_version(self, session: str, utterance: int) -> int:
        """A number that rises whenever someone corrects or strikes the utterance."""
        with coded(self.path):
            return changes_of_line(self._db, session, utterance)

    def news_version(self) -> str:
        """Text that changes when the list of jobs would look different."""
        with coded(self.path):
            names = ("sessions", "endings", "utterances", "approvals", "reopenings")
            counts = (
                self._db.execute(f"SELECT coalesce(max(rowid), 0) FROM {name}").fetchone()[0]
                for name in names
            )
            return ".".join(map(str, (*counts, len(self.broken()))))

    def data_version(self) -> int:
        """A number that changes when another connection has changed the database."""
        with coded(self.path):
            return int(self._db.execute("PRAGMA data_version").fetchone()[0])

    def without_looks(self, rules: str, most: int = 50) -> list[str]:
        """Finished jobs whose record is missing or was made by other rules, latest first."""
        with coded(self.path):
            rows = self._db.execute(
                "SELECT s.id FROM sessions s JOIN endings e ON e.session = s.id"
                " LEFT JOIN records c ON c.session = s.id AND c.rules = ?"
                " WHERE c.session IS NULL ORDER BY s.started DESC LIMIT ?",
                [rules, most],
            )
            return [str(row[0]) for row in rows.fetchall()]


def changes_of_line(db: Database, session: str, utterance: int) -> int:
    """How often people corrected or struck one utterance."""
    both = (db.table(name).count_where("session = ? AND utterance = ?", [session, utterance])
            for name in ("corrections", "strikes"))  # fmt: skip
    return sum(both)


class ReviewWriter(Writer):
    """The one writer, with the changes that only reviewing makes."""

    def correct_if_unchanged(self, session: str, correction: Correction, seen: int) -> bool:
        """Keep a correction only where the line is as its reader saw it; False when someone was faster.

        Raises:
            NarratorError: E311 no such utterance, E315 the sheet is approved.
        """
        with self.transaction() as db:
            if changes_of_line(db, session, correction.utterance) != seen:
                return False
            self.add_correction(session, correction)
        return True

    def add_decision(self, session: str, made: Decision) -> None:
        """Keep what a person decided about something to look at; the latest counts, all are kept.

        Raises:
            NarratorError: E315 when the sheet is approved.
        """
        with self.transaction() as db:
            self._must_be_open(db, session)
            self._add(session, "decisions", [{
                "look": writable(made.look), "utterance": made.utterance, "decision": made.decided,
                "who": writable(made.who), "when": made.when, "note": writable(made.note),
            }])  # fmt: skip

    def approve(self, session: str, who: str, when: str, sha256: str) -> Approval | None:
        """Lock the sheet as the record that was read (its SHA-256); None when the record is another by now.

        Raises:
            NarratorError: E305 no such session, E315 when it is approved already.
        """
        with self.transaction() as db:
            self._must_be_open(db, session)
            row = next(iter(db.table("records").rows_where("session = ?", [session])), None)
            if row is None or row["sha256"] != sha256 or row["facts"] != facts_version(db, session):
                return None
            revision = 1 + db.table("reopenings").count_where("session = ?", [session])
            self._add(session, "approvals", [{
                "revision": revision, "rules": row["rules"], "record": row["record"], "sha256": sha256,
                "facts": row["facts"], "who": writable(who), "when": when,
            }])  # fmt: skip
            return approvals(db, session)[-1]

    def reopen(self, session: str, who: str, when: str, reason: str) -> int:
        """Open an approved sheet as a new revision and give its number.

        Raises:
            NarratorError: E305 no such session, E701 when it is open already.
        """
        with self.transaction() as db:
            self._must_exist(db, session)
            if not locked(db, session):
                raise NarratorError("E701", session=session)
            revision = 2 + db.table("reopenings").count_where("session = ?", [session])
            self._add(session, "reopenings", [{
                "revision": revision, "who": writable(who), "when": when, "reason": writable(reason),
            }])  # fmt: skip
            return revision
