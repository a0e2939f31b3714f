"""A session's way through the rooms: facts into the store, facts to a record, the record into the store.

A record is derived from facts alone, so deriving it again with the same rules gives the same bytes.
Struck remarks do not reach the ledgers but stay in the record, marked; a corrected utterance is read in its
corrected words, while its row keeps the heard ones (spans then count in ``corrected``, not in ``text``).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path

from narrator.job.compile import RULES, compile_record
from narrator.job.record import GapRow, Record, UtteranceRow
from narrator.store import Reader, Writer
from narrator.store.rows import Facts, NewSession, StoredRecord, wall_time
from narrator.values import Gap, Utterance


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


def derive(writer: Writer, session: str) -> StoredRecord:
    """Compile the session's record from its facts and keep it in place of the old one."""
    while True:
        with Reader(writer.home) as reader:
            facts = reader.facts(session)
        record = compile_facts(facts)
        stored = writer.keep_record(session, record.rules, record.model_dump_json(), facts.version)
        if stored is not None:  # else a fact was added meanwhile
            return stored


def current_record(home: Path, session: str) -> Record:
    """The record of today's facts and rules: the stored one, or a new one where that is out of date."""
    with Reader(home) as reader:
        stored = reader.record(session)
        fresh = stored is not None and stored.rules == RULES and stored.facts == reader.facts_version(session)
    if stored is None or not fresh:
        with Writer(home) as writer:
            stored = derive(writer, session)
    return Record.model_validate_json(stored.text)


def compile_facts(facts: Facts) -> Record:
    """The record of a session's facts, with corrections and strikes applied."""
    from narrator.language import Reader as LanguageReader  # noqa: PLC0415 - spaCy, for derivation only

    struck = _struck(facts)
    corrected = _corrected(facts)
    record = compile_record(LanguageReader().read(as_corrected(facts, leave_out=struck)))
    read = {row.id: row for row in record.utterances}
    rows = []
    for heard in facts.utterances:
        row = read.get(heard.id) or _unread(heard, corrected.get(heard.id))
        if heard.id in corrected:
            row = row.model_copy(update={"text": heard.text, "corrected": corrected[heard.id]})
        rows.append(row.model_copy(update={"struck": heard.id in struck}))
    gaps = [GapRow(start=gap.start, end=gap.end, reason=gap.reason) for gap in facts.gaps]
    return record.model_copy(update={"utterances": rows, "gaps": gaps})


def as_corrected(facts: Facts, leave_out: Iterable[int] = ()) -> Iterator[Utterance]:
    """The utterances in their latest wording; a corrected one has no words: their times are of others."""
    corrected = _corrected(facts)
    hidden = set(leave_out)
    for one in facts.utterances:
        if one.id in hidden:
            continue
        text = corrected.get(one.id)
        yield one if text is None else replace(one, text=text, words=())


def _corrected(facts: Facts) -> dict[int, str]:
    return {one.utterance: one.text for one in facts.corrections}


def _struck(facts: Facts) -> set[int]:
    latest = {one.utterance: one.struck for one in facts.strikes}
    return {utterance for utterance, struck in latest.items() if struck}


def _unread(heard: Utterance, corrected: str | None) -> UtteranceRow:
    clean = heard.text if corrected is None else corrected
    return UtteranceRow(
        id=heard.id, start=heard.start, end=heard.end, text=heard.text, clean=clean, acts=[], entities=[]
    )
