"""A session's way through the rooms: facts into the store, facts to a record, the record into the store.

A record is derived from facts alone, so deriving it again with the same rules gives the same bytes.
Struck remarks do not reach the ledgers but stay in the record, marked; a corrected utterance is read in its
corrected words, while its row keeps the heard ones (spans then count in ``corrected``, not in ``text``).
"""

from __future__ import annotations

import hashlib
import os
import shutil
from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from filelock import FileLock

from narrator.errors import NarratorError
from narrator.job.compile import compile_record
from narrator.job.record import GapRow, LookRow, Record, UtteranceRow
from narrator.rules import rules_version
from narrator.settings import Settings
from narrator.store import Reader, Writer
from narrator.store.alive import HEARING, TAPE, broken_off
from narrator.store.erase import sound_folder
from narrator.store.opening import coded
from narrator.store.rows import Facts, How, Mark, NewSession, Sound, StoredRecord, wall_time
from narrator.values import SAMPLE_RATE, AudioChunk, Gap, Understood, Utterance

if TYPE_CHECKING:
    from narrator.hearing.recognizer import Recognizer


def keep_session(
    home: Path,
    utterances: Iterable[Utterance],
    *,
    source: str | None = None,
    started: str | None = None,
    engine: str | None = None,
    vehicle: str | None = None,
    audio_seconds: float | None = None,
    gaps: Iterable[Gap] = (),
) -> str:
    """Keep a finished session, whole or not at all, then derive its record; gives the session's id."""
    now = wall_time()
    with Writer(home) as writer:
        with writer.transaction():
            ident = writer.start_session(NewSession(started or now, source, engine, vehicle))
            writer.add_utterances(ident, utterances)
            writer.add_gaps(ident, gaps)
            writer.end_session(ident, now, audio_seconds)
        derive(writer, ident)
    return ident


COMMAND = "command"
"""Begins the reason of a strike that keeps a spoken command off the record; its words stay in the facts."""
SOUND_ENDED = "sound"
"""Kind of the mark where sound broke off; the record asks for a look there."""


@dataclass(frozen=True, slots=True)
class Kept:
    """A session kept from sound.

    ``broken`` tells what ended the sound early; ``unheard`` counts seconds of speech without words found.
    """

    session: str
    broken: NarratorError | None
    unheard: float


def keep_sound(
    settings: Settings,
    sound: Path,
    *,
    engine: str | None = None,
    started: str | None = None,
    vehicle: str | None = None,
    progress: Callable[[float], None] = lambda seconds: None,
) -> Kept:
    """Keep a sound file as a session and hear it: the sound is on the disk before the recognizer gets it, and
    each utterance is committed before the next one is heard.

    Whatever ends the hearing early, what was heard until then stays, in a session marked interrupted.
    ``progress`` is told the second reached.

    Raises:
        NarratorError: what is wrong with the file (E10x) or the engine (E20x), before anything is kept.
    """
    from narrator.hearing.recognizer import open_recognizer  # noqa: PLC0415 - engines load where sound is heard
    from narrator.hearing.source import FileSource  # noqa: PLC0415

    FileSource(sound)
    recognizer = open_recognizer(settings, engine)
    with Writer(settings.home) as writer:
        new = NewSession(started or wall_time(), sound.name, recognizer.name, vehicle)
        end_broken_off(writer)
        with ExitStack() as until_heard:
            with writer.transaction():  # nobody sees the session before it can be seen to be at work
                ident = writer.start_session(new)
                until_heard.enter_context(_being_heard(writer.home, ident))
            copy = _take_in(writer, sound, ident)
            broken = _hear(writer, ident, FileSource(copy), recognizer, progress)
        derive(writer, ident)
    return Kept(ident, broken, recognizer.unheard)


@contextmanager
def _being_heard(home: Path, ident: str) -> Iterator[None]:
    """Hold a file that tells others that the session is at work; the system lets go of it in a crash."""
    with coded(home):
        lock = FileLock(sound_folder(home, ident) / HEARING, timeout=0)
        Path(lock.lock_file).parent.mkdir(mode=0o700, parents=True)
        lock.acquire()
    try:
        yield
    finally:
        lock.release()
        Path(lock.lock_file).unlink(missing_ok=True)


def end_broken_off(writer: Writer) -> list[str]:
    """End the sessions whose sound file was being heard when the program was killed; gives their ids.

    What was heard stays, in a session marked interrupted; one of which nothing was heard goes: its sound is
    where it was taken from.
    """
    with Reader(writer.home) as reader:
        rows = [row for row in reader.sessions() if row.state == "open"]
    ended = []
    for row in rows:
        folder = sound_folder(writer.home, row.id)
        if (folder / TAPE).exists() or not broken_off(writer.home, [row.id]):
            continue  # the next listening puts it in order; or another program hears it just now
        if not row.utterances:
            writer.forget(row.id)
            continue
        (folder / HEARING).unlink(missing_ok=True)
        mark = Mark(row.spoken_until, SOUND_ENDED, "the program ended before all of the sound was heard")
        writer.add_mark(row.id, mark)
        writer.end_session(row.id, wall_time(), row.spoken_until, "interrupted")
        derive(writer, row.id)
        ended.append(row.id)
    return ended


def _take_in(writer: Writer, sound: Path, ident: str) -> Path:
    """Copy a session's sound into the home; nothing is left of either when that fails."""
    copy = sound_folder(writer.home, ident) / f"sound{sound.suffix.lower()}"
    try:
        with coded(copy):
            with sound.open("rb") as source, copy.open("wb") as target:
                shutil.copyfileobj(source, target)
                target.flush()
                os.fsync(target.fileno())
            with copy.open("rb") as file:
                digest = hashlib.file_digest(file, "sha256").hexdigest()
        writer.add_sound(ident, Sound(copy.name, 0.0, digest))
    except BaseException:
        writer.forget(ident)
        raise
    return copy


def _hear(
    writer: Writer,
    ident: str,
    source: Iterable[AudioChunk | Gap],
    recognizer: Recognizer,
    progress: Callable[[float], None],
) -> NarratorError | None:
    """Commit every utterance and gap as it comes; gives the error that ended the sound early, if any."""
    from narrator.hearing.hear import hear  # noqa: PLC0415

    reached = 0.0

    def watched() -> Iterator[AudioChunk | Gap]:
        """The source's blocks, noting how far it got and keeping its gaps."""
        nonlocal reached
        for block in source:
            if isinstance(block, Gap):
                reached = block.end
                writer.add_gaps(ident, [block])
            else:
                reached = (block.first + len(block.samples)) / SAMPLE_RATE
            progress(reached)
            yield block

    how: How = "interrupted"
    broken: NarratorError | None = None
    try:
        for heard in hear(watched(), recognizer):
            if isinstance(heard, Utterance):
                writer.add_utterances(ident, [heard])
        how = "complete"
    except NarratorError as error:
        if not error.code.startswith("E1"):
            raise
        broken = error
        writer.add_mark(ident, Mark(reached, SOUND_ENDED, error.message))
    finally:
        writer.end_session(ident, wall_time(), reached, how)
    return broken


@dataclass(frozen=True, slots=True)
class Derived:
    """A record as JSON, the rules that made it, the version of the facts, and rows of what to look at."""

    rules: str
    text: str
    facts: str
    looks: list[dict[str, Any]]


def derived(facts: Facts) -> Derived:
    """What is derived from the facts of a session; reads and keeps nothing."""
    from narrator.looks import queue  # noqa: PLC0415 - spaCy, for derivation only

    understood = understand(facts)
    record = compile_understood(facts, understood)
    looks = [one.row() for one in queue(understood, record, facts.utterances, facts.gaps)]
    return Derived(record.rules, record.model_dump_json(), facts.version, looks)


def derive(writer: Writer, session: str) -> StoredRecord:
    """Compile the session's record from its facts and keep it, with what to look at, in place of the old."""
    while True:
        with Reader(writer.home) as reader:
            made = derived(reader.facts(session))
        stored = writer.keep_record(session, made.rules, made.text, made.facts, made.looks)
        if stored is not None:  # else a fact was added meanwhile
            return stored


def current_record(home: Path, session: str) -> Record:
    """The record of today's facts and rules: the stored one, or a new one where that is out of date.

    An approved sheet is locked: its record is the one that was approved, whatever the rules are by now.
    Where the home cannot be written to, the new one is not kept.
    """
    with Reader(home) as reader:
        if approved := reader.approval(session):
            return Record.model_validate_json(approved.text)
        stored = reader.record(session)
        made_of = reader.facts_version(session)
    fresh = stored is not None and (stored.rules, stored.facts) == (rules_version(), made_of)
    if stored is None or not fresh:
        try:
            with Writer(home) as writer:
                stored = derive(writer, session)
        except NarratorError as error:
            if error.code != "E308":
                raise
            with Reader(home) as reader:
                return Record.model_validate_json(derived(reader.facts(session)).text)
    return Record.model_validate_json(stored.text)


def understand(facts: Facts) -> list[Understood]:
    """What the language room makes of a session's lines in their latest wording, struck ones left out."""
    from narrator.language import Reader as LanguageReader  # noqa: PLC0415 - spaCy, for derivation only

    return list(LanguageReader().read(as_read(facts)))


def compile_facts(facts: Facts) -> Record:
    """The record of a session's facts, with corrections and strikes applied."""
    return compile_understood(facts, understand(facts))


def compile_understood(facts: Facts, understood: Iterable[Understood]) -> Record:
    """The record of what was understood, with the facts that the language room does not see."""
    struck = _struck(facts)
    corrected = _corrected(facts)
    record = compile_record(understood)
    read = {row.id: row for row in record.utterances}
    rows = []
    added = {one.utterance for one in facts.additions}
    commands = {one.utterance for one in facts.strikes if one.reason.startswith(f"{COMMAND}:")} & struck
    for heard in facts.utterances:
        if heard.id in commands:
            continue
        row = read.get(heard.id) or _unread(heard, corrected.get(heard.id))
        if heard.id in corrected:
            row = row.model_copy(update={"text": heard.text, "corrected": corrected[heard.id]})
        rows.append(row.model_copy(update={"struck": heard.id in struck, "added": heard.id in added}))
    gaps = [GapRow(start=gap.start, end=gap.end, reason=gap.reason) for gap in facts.gaps]
    looks = [*record.looks, *_sound_looks(facts)]
    return record.model_copy(update={"utterances": rows, "gaps": gaps, "looks": looks})


def as_read(facts: Facts) -> Iterator[Utterance]:
    """The utterances that a record is derived from: in their latest wording, struck ones left out."""
    return as_corrected(facts, leave_out=_struck(facts))


def as_corrected(facts: Facts, leave_out: Iterable[int] = ()) -> Iterator[Utterance]:
    """The utterances in their latest wording; a corrected one has no words: their times are of others."""
    corrected = _corrected(facts)
    hidden = set(leave_out)
    for one in facts.utterances:
        if one.id in hidden:
            continue
        text = corrected.get(one.id)
        yield one if text is None else replace(one, text=text, words=())


def _sound_looks(facts: Facts) -> Iterator[LookRow]:
    """Where sound broke off, shown at the last utterance before it."""
    for mark in facts.marks:
        before = [one.id for one in facts.utterances if one.start <= mark.at]
        if mark.kind == SOUND_ENDED and before:
            yield LookRow(kind=mark.kind, reason=mark.text, utterance=before[-1])


def _corrected(facts: Facts) -> dict[int, str]:
    """The latest wording of each corrected line; back to what was heard is no correction any more."""
    heard = {one.id: one.text for one in facts.utterances}
    latest = {one.utterance: one.text for one in facts.corrections}
    return {utterance: text for utterance, text in latest.items() if text != heard.get(utterance)}


def _struck(facts: Facts) -> set[int]:
    latest = {one.utterance: one.struck for one in facts.strikes}
    return {utterance for utterance, struck in latest.items() if struck}


def _unread(heard: Utterance, corrected: str | None) -> UtteranceRow:
    clean = heard.text if corrected is None else corrected
    return UtteranceRow(
        id=heard.id, start=heard.start, end=heard.end, text=heard.text, clean=clean, acts=[], entities=[]
    )
