"""The one writer: every change goes through it, whole or not at all."""

from __future__ import annotations

import hashlib
import json
import math
import threading
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from sqlite_utils import Database

from narrator.errors import NarratorError
from narrator.store.erase import erase, finish_erasures
from narrator.store.flatten import DERIVED, clean_lines, flatten
from narrator.store.ids import new_id
from narrator.store.opening import BUSY_SECONDS, coded, database_path, open_writer
from narrator.store.placing import FIRST, moment
from narrator.store.reader import facts_version, locked, placed
from narrator.store.rows import ADDED, How, Mark, NewSession, Sound, StoredRecord, Strike
from narrator.values import Correction, Gap, Utterance


class Writer:
    """Owns the only writing connection of this process; safe to call from any of its threads.

    Another process that writes waits up to ``wait`` seconds for this one's transaction, then gets E301.
    Each method is one transaction; ``transaction`` joins several.
    """

    def __init__(self, home: Path, wait: float = BUSY_SECONDS) -> None:
        self.home = home
        self.path = database_path(home)
        self._lock = threading.RLock()
        self._db = open_writer(self.path, wait)
        with self._lock, coded(self.path):
            finish_erasures(self._db, self.home)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the connection; the last one to close folds the journal into the file."""
        with self._lock:
            self._db.close()

    @contextmanager
    def transaction(self) -> Iterator[Database]:
        """All that is changed inside the block is kept together or not at all; blocks may be nested."""
        with self._lock:
            if self._db.conn.in_transaction:
                with self._db.atomic():
                    yield self._db
                return
            with coded(self.path):
                self._db.execute("BEGIN IMMEDIATE")
                try:
                    yield self._db
                    self._db.commit()
                except BaseException:
                    self._db.rollback()
                    raise

    # ------------------------------------------------------------ facts

    def start_session(self, new: NewSession) -> str:
        """Begin a session and give its id."""
        row = {
            "started": new.started,
            "source": writable(new.source),
            "engine": writable(new.engine),
            "vehicle": writable(new.vehicle),
        }
        with self.transaction() as db:
            ident = new_id()
            while db.table("sessions").count_where("id = ?", [ident]):
                ident = new_id()
            db.table("sessions").insert({"id": ident, **row})
        return ident

    def end_session(
        self, session: str, ended: str, audio_seconds: float | None, how: How = "complete"
    ) -> None:
        """Say that nothing more will be heard; ``audio_seconds`` is None where there was no sound."""
        self._add(session, "endings", [{"ended": ended, "audio_seconds": audio_seconds, "how": how}])

    def add_utterances(self, session: str, utterances: Iterable[Utterance]) -> None:
        """Keep utterances as heard, with their words.

        Raises:
            NarratorError: E310 when one with that id is already kept, E314 for a number out of range.
        """
        new = list(utterances)
        with self.transaction() as db:
            seen: set[int] = set()
            kept = "SELECT 1 FROM utterances WHERE session = ? AND id = ?"
            for one in new:
                _check_numbers(one)
                if one.id in seen or db.execute(kept, [session, one.id]).fetchone():
                    raise NarratorError("E310", utterance=one.id)
                seen.add(one.id)
            self._add(session, "utterances", [
                {"id": one.id, "start": one.start, "end": one.end, "text": writable(one.text),
                 "speaker": writable(one.speaker), "engine": writable(one.engine), "timing": one.timing}
                for one in new
            ])  # fmt: skip
            self._add(session, "words", [
                {"utterance": one.id, "position": position, "word": writable(word.word),
                 "start": word.start, "end": word.end, "conf": word.conf, "other": writable(word.other)}
                for one in new
                for position, word in enumerate(one.words)
            ])  # fmt: skip

    def add_gaps(self, session: str, gaps: Iterable[Gap]) -> None:
        """Keep stretches without sound."""
        self._add(
            session, "gaps", [{"start": g.start, "end": g.end, "reason": writable(g.reason)} for g in gaps]
        )

    def add_sound(self, session: str, sound: Sound) -> None:
        """Keep the name of a file that lies in the session's sound folder."""
        self._add(
            session,
            "sounds",
            [{"file": writable(sound.file), "start": sound.start, "sha256": sound.sha256}],
        )

    def add_mark(self, session: str, mark: Mark) -> None:
        """Keep a moment worth finding again."""
        self._add(
            session, "marks", [{"at": mark.at, "kind": writable(mark.kind), "text": writable(mark.text)}]
        )

    def add_correction(self, session: str, correction: Correction) -> None:
        """Keep a person's better reading of one utterance; the latest counts, all are kept.

        Raises:
            NarratorError: E311 when the session has no such utterance, E315 when its sheet is approved.
        """
        row = {"text": writable(correction.text), "who": writable(correction.who), "when": correction.when,
               "reason": writable(correction.reason)}  # fmt: skip
        self._about(session, correction.utterance, "corrections", row)

    def add_strike(self, session: str, strike: Strike) -> None:
        """Keep a wish to strike one utterance from the sheet, or to have it back; the latest counts.

        Raises:
            NarratorError: E311 when the session has no such utterance, E315 when its sheet is approved.
        """
        row = {"struck": int(strike.struck), "who": writable(strike.who), "when": strike.when,
               "reason": writable(strike.reason)}  # fmt: skip
        self._about(session, strike.utterance, "strikes", row)

    def add_line(self, session: str, after: int, text: str, *, who: str, when: str, reason: str = "") -> int:
        """Keep a line that was not said, after an utterance (0: before all); gives its number.

        It is an utterance without sound or words; who added it is kept beside it.

        Raises:
            NarratorError: E311 when the session has no such utterance, E315 when its sheet is approved, E316
                when it is still being narrated, E317 for a line without a word.
        """
        if not any(sign.isalnum() for sign in text):
            raise NarratorError("E317")
        with self.transaction() as db:
            self._must_be_open(db, session)
            if not db.table("endings").count_where("session = ?", [session]):
                raise NarratorError("E316", session=session)
            said = placed(db, session)
            if after != FIRST and after not in {one.id for one in said}:
                raise NarratorError("E311", session=session, utterance=after)
            number, at = 1 + max([0, *(one.id for one in said)]), moment(said, after)
            self.add_utterances(session, [Utterance(number, at, at, text.strip(), engine=ADDED)])
            self._add(session, "additions", [{
                "utterance": number, "after": after, "who": writable(who), "when": when,
                "reason": writable(reason),
            }])  # fmt: skip
        return number

    # ------------------------------------------------------------ derived

    def keep_record(
        self, session: str, rules: str, text: str, facts: str, looks: Sequence[dict[str, Any]] = ()
    ) -> StoredRecord | None:
        """Replace the session's record by ``text`` (JSON); draw the flat tables from it and ``looks``.

        ``facts`` is the version of the facts that it was made of: None is returned, and nothing kept, when
        they have changed since; derive again.
        """
        content = json.loads(text)
        stored = StoredRecord(session, rules, text, hashlib.sha256(text.encode()).hexdigest(), facts)
        with self.transaction() as db:
            self._must_exist(db, session)
            if facts_version(db, session) != facts:
                return None
            for name in ("records", *DERIVED):
                db.table(name).delete_where("session = ?", [session])
            db.table("records").insert({
                "session": session, "rules": rules, "record": text, "sha256": stored.sha256, "facts": facts,
            })  # fmt: skip
            for name, rows in flatten(content, looks).items():
                db.table(name).insert_all(
                    {"session": session, "rules": rules, "position": position, **row}
                    for position, row in enumerate(rows)
                )
            db.conn.executemany(
                "UPDATE lines SET clean = ? WHERE session = ? AND utterance = ? AND clean <> ?",
                [(clean, session, ident, clean) for ident, clean in clean_lines(content)],
            )
        return stored

    def drop_records(self) -> None:
        """Throw away everything derived; it is rebuilt when next asked for."""
        with self.transaction() as db:
            for name in ("records", *DERIVED):
                db.table(name).delete_where()

    # ------------------------------------------------------------ forgetting

    def forget(self, session: str) -> None:
        """Remove a session with all its text and sound, and wipe what they leave in the file.

        Raises:
            NarratorError: E305 no such session; E312 when another program's reading keeps the wiping from
                being finished now: the session is gone and the next writer finishes.
        """
        with self.transaction() as db:
            self._must_exist(db, session)
            erase(db, session)
        with self._lock, coded(self.path):
            if not finish_erasures(self._db, self.home):
                raise NarratorError("E312", session=session)

    # ------------------------------------------------------------ helpers

    def _add(self, session: str, table: str, rows: list[dict[str, Any]]) -> None:
        with self.transaction() as db:
            self._must_exist(db, session)
            db.table(table).insert_all({"session": session, **row} for row in rows)

    def _about(self, session: str, utterance: int, table: str, row: dict[str, Any]) -> None:
        with self.transaction() as db:
            self._must_exist(db, session)
            known = abs(utterance) < 2**63
            if not known or not db.table("utterances").count_where(
                "session = ? AND id = ?", [session, utterance]
            ):
                raise NarratorError("E311", session=session, utterance=utterance)
            self._must_be_open(db, session)
            db.table(table).insert({"session": session, "utterance": utterance, **row})

    def _must_be_open(self, db: Database, session: str) -> None:
        self._must_exist(db, session)
        if locked(db, session):
            raise NarratorError("E315", session=session)

    @staticmethod
    def _must_exist(db: Database, session: str) -> None:
        if not db.table("sessions").count_where("id = ?", [session]):
            raise NarratorError("E305", session=session)


def writable(value: str | None) -> str | None:
    """Text that can be written: a lone surrogate, which has no UTF-8 form, becomes a question mark."""
    return None if value is None else value.encode("utf-8", "replace").decode("utf-8")


def _check_numbers(one: Utterance) -> None:
    times = [one.start, one.end, *(t for word in one.words for t in (word.start, word.end))]
    if abs(one.id) >= 2**63 or not all(map(math.isfinite, times)):
        raise NarratorError("E314", utterance=one.id)
