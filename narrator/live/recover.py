"""After a crash: every session that was being listened to is put in order and heard to its end."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from narrator.hearing.archive import Packed, read_samples, recover, segments
from narrator.hearing.control import NoControl, SpokenControl
from narrator.hearing.hear import hear
from narrator.hearing.live import LiveRecognizer
from narrator.hearing.recognizer import Decoder
from narrator.hearing.segmenter import Segmenter
from narrator.hearing.tape import INDEX, read_index
from narrator.live.afterwards import Afterwards
from narrator.live.own_sounds import own_of, without_own
from narrator.session import derive
from narrator.store import Reader, Writer
from narrator.store.erase import sound_folder
from narrator.store.rows import Sound, wall_time
from narrator.values import SAMPLE_RATE, AudioChunk, Gap, Utterance

WARM_UP_S = 30.0
"""Sound before the last kept utterance from which hearing again starts, so that it knows the background."""
_BLOCK = SAMPLE_RATE // 10


@dataclass(frozen=True, slots=True)
class RecoveredSession:
    """``rescued`` seconds of sound had not been sealed; ``reheard`` utterances had not been kept."""

    session: str
    seconds: float
    rescued: float
    reheard: int
    damaged: tuple[str, ...]


def recover_sessions(
    writer: Writer,
    decoder: Callable[[], Decoder],
    *,
    control: SpokenControl | None = None,
    segmenter: Callable[[], Segmenter] = Segmenter,
    began: Callable[[str], None] = lambda session: None,
) -> list[RecoveredSession]:
    """Put in order every session with a tape that was never ended. Nobody else may be listening.

    ``began`` hears of each beforehand: it may take a while.
    """
    _remove_unborn(writer.home)
    control = control or NoControl()
    found = []
    for session in _open_sessions(writer.home):
        began(session)
        folder = sound_folder(writer.home, session)
        tape = recover(folder)
        _add_sounds(writer, session, tape.segments)
        with Reader(writer.home) as reader:
            facts = reader.facts(session)
        heard = 0
        after = Afterwards(writer, facts, control)
        if tape.segments:
            last = max((one.end for one in facts.utterances), default=0.0)
            first_id = max((one.id for one in facts.utterances), default=0) + 1
            recognizer = LiveRecognizer(
                decoder(), segmenter(), first_id=first_id, after=last,
                whole=control.may_call, busy=lambda: True,
            )  # fmt: skip
            for one in hear(tape_blocks(folder, max(0.0, last - WARM_UP_S)), recognizer):
                if isinstance(one, Utterance):
                    heard += 1
                    writer.add_utterances(session, [one])
                    after.take(one)
        _add_gaps(writer, session, folder, list(facts.gaps))
        writer.end_session(session, wall_time(), tape.end / SAMPLE_RATE, "recovered")
        derive(writer, session)
        found.append(
            RecoveredSession(session, tape.end / SAMPLE_RATE, tape.rescued, heard, tuple(tape.damaged))
        )
    return found


def _remove_unborn(home: Path) -> None:
    """Remove folders of sessions that a crash kept from beginning: there is no such session and no sound."""
    with Reader(home) as reader:
        known = {row.id for row in reader.sessions()}
    for index in (home / "sound").glob(f"*/{INDEX}"):
        if index.parent.name not in known and list(index.parent.iterdir()) == [index]:
            shutil.rmtree(index.parent)


def _open_sessions(home: Path) -> list[str]:
    with Reader(home) as reader:
        rows = [row.id for row in reader.sessions() if row.state == "open"]
    return [session for session in rows if (sound_folder(home, session) / INDEX).is_file()]


def _add_sounds(writer: Writer, session: str, packed: list[Packed]) -> None:
    with Reader(writer.home) as reader:
        known = {one.file for one in reader.facts(session).sounds}
    for one in packed:
        if one.file.name not in known:
            writer.add_sound(session, Sound(one.file.name, one.first / SAMPLE_RATE, one.sha256))


def _add_gaps(writer: Writer, session: str, folder: Path, known: list[Gap]) -> None:
    """Keep holes of the tape that no gap tells of yet: the microphone was gone, or listening was paused."""
    at = 0
    for first, count, _ in segments(folder):
        told = any(gap.start * SAMPLE_RATE < first and gap.end * SAMPLE_RATE > at for gap in known)
        if first > at and not told:
            writer.add_gaps(session, [Gap(at / SAMPLE_RATE, first / SAMPLE_RATE, "no sound is on the tape")])
        at = max(at, first + count)


def tape_blocks(folder: Path, start: float) -> Iterator[AudioChunk | Gap]:
    """The tape from second ``start`` on, as a source; our own sounds are taken out as they were when live."""
    own = [own_of(row["own"]) for row in read_index(folder) if "own" in row]
    at = None
    for first, count, _ in segments(folder):
        begin, end = max(first, round(start * SAMPLE_RATE)), first + count
        if begin >= end:
            continue
        if at is not None and begin > at:
            yield Gap(at / SAMPLE_RATE, begin / SAMPLE_RATE, "no sound is on the tape")
        for block in range(begin, end, _BLOCK * 100):
            sound = without_own(read_samples(folder, block, min(end, block + _BLOCK * 100)), block, own)
            for piece in range(0, len(sound), _BLOCK):
                yield AudioChunk(sound[piece : piece + _BLOCK], block + piece)
        at = end
