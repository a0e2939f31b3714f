"""What the store takes and gives: plain frozen values, no database objects.

Times called ``started``, ``ended``, ``when`` are wall time, ISO 8601 with an offset; ``start``, ``end`` and
``at`` are seconds from the start of the session.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from narrator.values import Correction, Gap, Utterance

How = Literal["complete", "interrupted", "recovered"]


def wall_time() -> str:
    """Now, in local time with its offset, to the second."""
    return datetime.now().astimezone().isoformat(timespec="seconds")


@dataclass(frozen=True, slots=True)
class NewSession:
    """What is known when a session begins. ``vehicle`` is a hint a person typed, not what was said."""

    started: str
    source: str | None = None
    engine: str | None = None
    vehicle: str | None = None


@dataclass(frozen=True, slots=True)
class SessionRow:
    """One line of the list of sessions. ``spoken_until`` is the end of its last utterance in seconds."""

    id: str
    started: str
    source: str | None
    engine: str | None
    vehicle: str | None
    audio_seconds: float | None
    spoken_until: float
    utterances: int
    gaps: int
    state: str


@dataclass(frozen=True, slots=True)
class Strike:
    """A person's wish to keep one remark off the sheet, or (``struck`` false) to have it back."""

    utterance: int
    who: str
    when: str
    reason: str = ""
    struck: bool = True


ADDED = "added"
"""Engine of an utterance that was not heard: a person added it (``Addition``)."""


@dataclass(frozen=True, slots=True)
class Addition:
    """Who added an utterance that was not said, and after which one it stands (0: before all)."""

    utterance: int
    after: int
    who: str
    when: str
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Mark:
    """A moment worth finding again: what kind, and a word about it."""

    at: float
    kind: str
    text: str = ""


@dataclass(frozen=True, slots=True)
class Sound:
    """A file of the session's sound, named within its folder, and the second at which it begins."""

    file: str
    start: float
    sha256: str


@dataclass(frozen=True, slots=True)
class Facts:
    """All facts of one session, in the order in which they were kept; added utterances in their places.

    ``version`` changes whenever a fact is added; a derived record remembers the version that it was made of.
    """

    session: SessionRow
    utterances: tuple[Utterance, ...]
    corrections: tuple[Correction, ...]
    strikes: tuple[Strike, ...]
    marks: tuple[Mark, ...]
    gaps: tuple[Gap, ...]
    sounds: tuple[Sound, ...]
    version: str
    additions: tuple[Addition, ...] = ()


@dataclass(frozen=True, slots=True)
class StoredRecord:
    """A derived record as JSON text, the rules that made it, its SHA-256, and the facts it was made of."""

    session: str
    rules: str
    text: str
    sha256: str
    facts: str


@dataclass(frozen=True, slots=True)
class Approval:
    """A sheet as a person approved it: the record itself, its SHA-256 and the facts it was made of."""

    session: str
    revision: int
    rules: str
    text: str
    sha256: str
    facts: str
    who: str
    when: str


@dataclass(frozen=True, slots=True)
class Hit:
    """One line found by a search; what matched stands between ``HIT_START`` and ``HIT_END``."""

    session: str
    started: str
    utterance: int
    start: float
    line: str


HIT_START, HIT_END = "\x02", "\x03"
