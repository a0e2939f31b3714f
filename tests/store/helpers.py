"""Small invented sessions for the tests of the store."""

from __future__ import annotations

import json
from pathlib import Path

from narrator.store import Reader, Writer
from narrator.store.rows import NewSession
from narrator.values import Gap, Utterance, Word

STARTED = "2031-03-04T09:00:00+01:00"
SAID = (
    Utterance(
        1,
        0.5,
        2.25,
        "the ground strap is loose",
        (Word("the", 0.5, 0.6, 0.9), Word("ground", 0.6, 1.0, None, "round")),
        "ana",
        "hand",
        "aligned",
    ),
    Utterance(2, 3.0, 4.0, "two ten mil bolts come off"),
    Utterance(3, 5.0, 7.5, "café lamp is dark & the fuse < ten amps"),
)


def put(writer: Writer, said: tuple[Utterance, ...] = SAID, started: str = STARTED) -> str:
    with writer.transaction():
        ident = writer.start_session(NewSession(started, "talk.jsonl", "hand", "2009 Ardenna Volo"))
        writer.add_utterances(ident, said)
        writer.add_gaps(ident, [Gap(2.25, 3.0, "microphone unplugged")])
        writer.end_session(ident, started, 8.0)
    return ident


def record_json(**parts: object) -> str:
    return json.dumps({"contract": 1, "rules": "t1", "vehicle": {}, "utterances": []} | parts)


def facts_now(home: Path, session: str) -> str:
    with Reader(home) as reader:
        return reader.facts_version(session)


def bytes_in(home: Path) -> bytes:
    """Every byte of every file of a home."""
    return b"".join(path.read_bytes() for path in sorted(home.rglob("*")) if path.is_file())
