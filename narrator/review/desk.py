"""What the pages work on: records as they are shown, and the changes that reviewers make."""

from __future__ import annotations

import secrets
import threading
from collections import OrderedDict
from collections.abc import Hashable
from contextlib import suppress
from dataclasses import dataclass
from functools import cached_property
from typing import TypeVar

from narrator import session as sessions
from narrator.errors import NarratorError
from narrator.job.record import Record
from narrator.language.shop_words import add_shop_words, make_shop_word, shop_file
from narrator.language.vocabulary import vocabulary
from narrator.review.changes import SectionChange, changes
from narrator.rules import rules_version
from narrator.settings import Settings
from narrator.sheet.document import Sheet
from narrator.sheet.view import SheetMeta, view
from narrator.store.review import Decision, ReviewReader, ReviewWriter
from narrator.store.rows import Approval, Facts, StoredRecord, Strike, wall_time
from narrator.values import Correction

K = TypeVar("K", bound=Hashable)
V = TypeVar("V")


class Recent(OrderedDict[K, V]):
    """A small cache that forgets what was not asked for lately."""

    def __init__(self, most: int) -> None:
        super().__init__()
        self._most = most

    def keep(self, key: K, value: V) -> V:
        """Remember a value and give it back."""
        self[key] = value
        self.move_to_end(key)
        while len(self) > self._most:
            self.popitem(last=False)
        return value


@dataclass(frozen=True)
class Shown:
    """A job as its page shows it: facts, the record and its hash, the approval that locks it."""

    facts: Facts
    record: Record
    sha256: str
    approval: Approval | None
    shop: str

    @cached_property
    def sheet(self) -> Sheet:
        """The sheet's words."""
        row = self.facts.session
        return view(self.record, SheetMeta(self.shop, row.started[:10], row.id, vehicle=row.vehicle or ""))


@dataclass(frozen=True, slots=True)
class Told:
    """What a correction did, kept for the page that comes after it."""

    utterance: int
    heard: str
    corrected: str
    sections: tuple[SectionChange, ...]


class Desk:
    """Owns the process's writer; every method may be called from any thread."""

    def __init__(self, settings: Settings) -> None:
        self.settings = settings
        self.writer = ReviewWriter(settings.home)
        with suppress(NarratorError):  # it can be read all the same
            sessions.end_broken_off(self.writer)
        self._deriving = threading.Lock()
        self._shown: Recent[tuple[str, str, str], Shown] = Recent(32)
        self._told: Recent[str, Told] = Recent(200)
        self.pages: Recent[Hashable, bytes] = Recent(24)

    def close(self) -> None:
        """Close the writer."""
        self.writer.close()

    def reader(self) -> ReviewReader:
        """A new read-only connection; the caller closes it."""
        return ReviewReader(self.settings.home)

    def show(self, session: str) -> Shown:
        """The job as of now; derives its record first where facts or rules have changed since.

        Raises:
            NarratorError: E305 when there is no such job.
        """
        with self.reader() as reader:
            version = reader.facts_version(session)
            approval = reader.approval(session)
            stored = reader.record(session)
            fresh = stored is not None and (stored.rules, stored.facts) == (rules_version(), version)
            if approval:
                text, digest = approval.text, approval.sha256
            else:
                if stored is None or not fresh:
                    stored = self.derive(session)
                text, digest = stored.text, stored.sha256
            key = (session, digest, version)
            known = self._shown.get(key)
            if known and (known.approval is None) == (approval is None):
                return known
            facts = reader.facts(session)
        record = Record.model_validate_json(text)
        return self._shown.keep(key, Shown(facts, record, digest, approval, self.settings.shop))

    def derive(self, session: str) -> StoredRecord:
        """Derive a job's record anew, one job at a time."""
        with self.reader() as reader:
            reader.job(session)  # E305 where there is none
        with self._deriving:
            return sessions.derive(self.writer, session)

    def correct(self, session: str, made: Correction, seen: int) -> str | None:
        """Keep a correction and derive; gives the key of what it did, or None when someone was faster."""
        before = self.show(session)
        if not self.writer.correct_if_unchanged(session, made, seen):
            return None
        return self._tell(session, before, made.utterance, made.text)

    def insert(self, session: str, after: int, text: str, who: str, reason: str) -> tuple[int, str]:
        """Add a line that was not said; gives its number and the key of what it did."""
        before = self.show(session)
        number = self.writer.add_line(session, after, text, who=who, when=wall_time(), reason=reason)
        return number, self._tell(session, before, number, text)

    def strike(self, session: str, utterance: int, who: str, struck: bool, reason: str = "") -> str:
        """Keep a line off the sheet, or have it back; gives the key of what it did."""
        before = self.show(session)
        self.writer.add_strike(session, Strike(utterance, who, wall_time(), reason, struck))
        return self._tell(session, before, utterance, "")

    def undo(self, session: str, utterance: int, who: str) -> str | None:
        """Bring back the wording before the latest correction of a line, as a correction of its own.

        An added line goes from the sheet when no correction of it is left: it stays among the facts, struck.
        """
        shown = self.show(session)
        mine = [one for one in shown.facts.corrections if one.utterance == utterance]
        row = next((one for one in shown.record.utterances if one.id == utterance), None)
        if row and row.added and not row.struck and row.corrected is None:
            return self.strike(session, utterance, who, True, UNDONE)
        if not mine:
            return None
        heard = next(one.text for one in shown.facts.utterances if one.id == utterance)
        wordings = [heard]
        for one in mine:  # an undo takes a wording off again, anything else puts one on
            if one.reason == UNDONE and len(wordings) > 1:
                wordings.pop()
            else:
                wordings.append(one.text)
        if len(wordings) == 1:
            return None
        made = Correction(utterance, wordings[-2], who, wall_time(), UNDONE)
        return self.correct(session, made, self.seen(session, utterance))

    def seen(self, session: str, utterance: int) -> int:
        """The version of a line, to be sent back with a change of it."""
        with self.reader() as reader:
            return reader.line_version(session, utterance)

    def add_word(self, session: str, word: str, kind: str, heard: str) -> str:
        """Add a word to the shop's vocabulary and read this job anew with it; gives the word as kept."""
        added = make_shop_word(word, kind, (heard,) if heard and heard != word.lower() else ())
        add_shop_words(shop_file(), (added,))
        vocabulary(fresh=True)
        self.derive(session)
        return added.name

    def decide(self, session: str, made: Decision) -> None:
        """Keep what a person decided about something to look at."""
        self.writer.add_decision(session, made)

    def told(self, key: str) -> Told | None:
        """What a change did, as long as it is remembered."""
        return self._told.get(key)

    def _tell(self, session: str, before: Shown, utterance: int, corrected: str) -> str:
        after = self.show(session)
        heard = next(one.text for one in after.facts.utterances if one.id == utterance)
        key = secrets.token_urlsafe(9)
        self._told.keep(key, Told(utterance, heard, corrected, changes(before.record, after.record)))
        return key


UNDONE = "undone"
"""Reason of a correction that takes back the one before it."""
