"""Deriving the records of many sessions anew: workers derive, this process reads and writes the store."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from narrator.archive.spread import Workers, spread
from narrator.session import derive, derived
from narrator.store import Reader, Writer
from narrator.store.rows import Facts


@dataclass(frozen=True, slots=True)
class Rebuilt:
    """A session with the digest of its record, and whether it is the same as before."""

    session: str
    sha256: str
    state: Literal["new", "same", "changed"]


def rebuild(home: Path, sessions: Sequence[str], workers: Workers) -> Iterator[Rebuilt]:
    """Derive and keep the records of these sessions, one after the other.

    Each is kept as soon as it is there; those after an error stay as they were.

    Raises:
        NarratorError: as ``spread``.
    """
    with Reader(home) as reader, Writer(home) as writer:
        made = spread(derived, map(reader.facts, sessions), workers, _session)
        for session, one in zip(sessions, made, strict=True):
            old = reader.record(session)
            new = writer.keep_record(session, one.rules, one.text, one.facts, one.looks)
            if new is None:  # a fact was added meanwhile
                new = derive(writer, session)
            state: Literal["new", "same", "changed"] = "new"
            if old is not None:
                state = "same" if old.text == new.text else "changed"
            yield Rebuilt(session, new.sha256, state)


def _session(facts: Facts) -> str:
    return facts.session.id
