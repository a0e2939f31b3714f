"""Hearing the kept sound of many sessions anew, as files beside the store: what was heard stays as it is.

A newer recognizer, or another one, may hear an old session better. Its utterances and their record go into a
folder, with how much they differ from what was kept; the facts of the store are not touched.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

from rapidfuzz.distance import Levenshtein

from narrator.archive.spread import Workers, spread
from narrator.errors import NarratorError
from narrator.hearing.archive import read_samples, segments
from narrator.hearing.hear import hear
from narrator.hearing.recognizer import Decoder, SegmentRecognizer, open_decoder
from narrator.hearing.source import FileSource
from narrator.hearing.tape import INDEX, read_index
from narrator.session import compile_facts
from narrator.settings import load_settings
from narrator.store import Reader
from narrator.store.erase import sound_folder
from narrator.store.rows import ADDED, Facts
from narrator.utterances import to_json
from narrator.values import SAMPLE_RATE, AudioChunk, Gap, Utterance

_BLOCK = SAMPLE_RATE // 10


@dataclass(frozen=True, slots=True)
class Task:
    """A session to hear: its facts, the home that its sound lies in (the same path on every worker)."""

    facts: Facts
    home: Path
    engine: str | None


@dataclass(frozen=True, slots=True)
class Heard:
    """Utterances (JSON Lines) and the record (JSON) of a session heard anew.

    ``differs`` is the share of words that differ from those kept, None where none were kept.
    """

    session: str
    utterances: str
    record: str
    differs: float | None

    @property
    def sha256(self) -> str:
        """Digest of both texts."""
        return hashlib.sha256((self.utterances + self.record).encode()).hexdigest()


def rehear(
    home: Path, sessions: Sequence[str], folder: Path, workers: Workers, engine: str | None = None
) -> Iterator[Heard]:
    """Hear these sessions anew, as SESSION.jsonl and SESSION.json in the folder, each whole or not at all.

    Raises:
        NarratorError: E823 for a session without sound, E501 when a file cannot be written; as ``spread``; as
            the recognizer.
    """
    with Reader(home) as reader:
        tasks = (Task(reader.facts(session), home, engine) for session in sessions)
        for one in spread(heard_anew, tasks, workers, _session):
            _write(folder / f"{one.session}.jsonl", one.utterances)
            _write(folder / f"{one.session}.json", one.record)
            yield one


def done(folder: Path, session: str) -> bool:
    """Whether the folder holds a session already; the record is written last."""
    return (folder / f"{session}.json").is_file()


def sounding(home: Path, sessions: Sequence[str]) -> list[str]:
    """Those of some sessions whose sound is still there."""
    with Reader(home) as reader:
        return [session for session in sessions if _files(home, reader.facts(session))]


def heard_anew(task: Task) -> Heard:
    """What a worker does: hear one session and derive its record."""
    recognizer = SegmentRecognizer(_decoder(task.engine))
    kept = hear(_sound(task.home, task.facts), recognizer)
    said = tuple(one for one in kept if isinstance(one, Utterance))
    facts = replace(task.facts, utterances=said, corrections=(), strikes=(), additions=())
    before, after = (_words(some) for some in (_heard(task.facts), said))
    return Heard(
        session=task.facts.session.id,
        utterances="".join(json.dumps(to_json(one), ensure_ascii=False) + "\n" for one in said),
        record=compile_facts(facts).model_dump_json() + "\n",
        differs=Levenshtein.distance(before, after) / len(before) if before else None,
    )


def _heard(facts: Facts) -> list[Utterance]:
    """What was kept, without what a person added."""
    return [one for one in facts.utterances if one.engine != ADDED]


def _words(said: Iterable[Utterance]) -> list[str]:
    """What was said, whatever its case and punctuation."""
    return re.findall(r"[^\W_]+(?:['’.,][^\W_]+)*", " ".join(one.text for one in said).lower())


@lru_cache(maxsize=1)
def _decoder(engine: str | None) -> Decoder:
    """One a process: models take seconds to load."""
    settings = load_settings()
    return open_decoder(settings, engine or settings.engine)


def _files(home: Path, facts: Facts) -> list[Path]:
    folder = sound_folder(home, facts.session.id)
    return [path for sound in facts.sounds if (path := folder / sound.file).is_file()]


def _sound(home: Path, facts: Facts) -> Iterator[AudioChunk | Gap]:
    """The sound of a session: its tape, or the file that it was kept from."""
    files = _files(home, facts)
    if not files:
        raise NarratorError("E823", session=facts.session.id)
    folder = files[0].parent
    if (folder / INDEX).is_file():
        yield from _tape(folder)
        return
    yield from FileSource(files[0])


def _tape(folder: Path) -> Iterator[AudioChunk | Gap]:
    """A tape from its beginning; our own sounds are silenced as they were when live."""
    own = [row["own"] for row in read_index(folder) if "own" in row]
    at = 0
    for first, count, _ in segments(folder):
        if first > at:
            yield Gap(at / SAMPLE_RATE, first / SAMPLE_RATE, "no sound is on the tape")
        for block in range(first, first + count, _BLOCK):
            samples = read_samples(folder, block, min(first + count, block + _BLOCK))
            for a, b in own:
                samples[max(0, a - block) : max(0, b - block)] = 0.0
            yield AudioChunk(samples, block)
        at = first + count


def _session(task: Task) -> str:
    return task.facts.session.id


def _write(path: Path, text: str) -> None:
    part = path.with_name(path.name + ".part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        part.write_text(text, encoding="utf-8")
        part.replace(path)
    except OSError as error:
        raise NarratorError("E501", path=path, why=error.strerror or error) from error
