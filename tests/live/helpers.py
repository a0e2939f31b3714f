"""A live session without a model or a microphone: sound that names its own words."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import soundfile

from narrator.hearing.apart import TendedDecoder
from narrator.hearing.capture import Capture
from narrator.hearing.control import AROUND_S, Command, Sound
from narrator.hearing.replay import Replay
from narrator.hearing.segmenter import Segment, Segmenter
from narrator.language.pipeline import pipeline
from narrator.live.session import LiveOptions, LiveSession
from narrator.live.voice import OwnSound, Voice
from narrator.store import Reader, Writer
from narrator.store.rows import Facts
from narrator.values import SAMPLE_RATE, Utterance, Word
from tests.hearing.fakes import LoudIsSpeech, sound

WALL = "2031-03-04T09:00:00+01:00"


class ByLength:
    """An engine that knows what was said by how long it took: 0.4 s is line 0, 0.5 s line 1, and so on."""

    name = "scripted"
    timing = "aligned"

    def __init__(self, lines: Sequence[str]) -> None:
        self.lines = lines

    def decode(self, segment: Segment) -> list[Word]:
        start, end = segment.spoken()
        line = round((end - start - 0.41) / 0.1)  # at worst a frame more than was said
        words = self.lines[line].split() if 0 <= line < len(self.lines) else ["mumble"]
        step = (end - start) / len(words)
        return [Word(w, start + i * step, start + (i + 1) * step, 0.9) for i, w in enumerate(words)]

    def memory(self) -> int:
        return 0

    def close(self) -> None:
        return None


def recording(path: Path, lines: int, pause: float = 1.0) -> Path:
    """Sound in which ``ByLength`` hears that many lines."""
    parts = [(0.5, False)]
    for line in range(lines):
        parts += [(0.4 + 0.1 * line, True), (pause, False)]
    soundfile.write(path, sound(*parts), SAMPLE_RATE, subtype="PCM_16")
    return path


class BySign:
    """Spoken control for tests: a line that begins with ``#`` is a command: ``#name text / narration``."""

    def may_call(self, text: str) -> bool:
        """Every command of these tests begins with a sign."""
        return "#" in text

    def take(
        self, utterance: Utterance, sound: Sound | None = None, *, asked: bool = False
    ) -> Command | None:
        if not utterance.text.startswith("#"):
            return None
        assert sound is not None
        first, last = max(0.0, utterance.start - AROUND_S), utterance.end + AROUND_S
        assert abs(len(sound()) / SAMPLE_RATE - (last - first)) < 0.01
        words, _, narration = utterance.text[1:].partition(" / ")
        name, _, text = words.partition(" ")
        return Command(name, text, narration)  # type: ignore[arg-type]


def segmenter() -> Segmenter:
    return Segmenter(None, LoudIsSpeech())


def listen(
    home: Path,
    lines: Sequence[str],
    *,
    speed: float = 6.0,
    engine: Callable[[], object] | None = None,
    options: LiveOptions | None = None,
    played: list[np.ndarray] | None = None,
    pause: float = 1.0,
) -> tuple[LiveSession, list[str]]:
    """Listen to these lines as a replay; gives the session and the ids of what was kept."""
    home.mkdir(exist_ok=True)
    path = recording(home.parent / "talk.wav", len(lines), pause)
    pipeline()  # loaded beforehand, so that its loading does not count as slowness
    made = engine or (lambda: ByLength(lines))
    options = options or LiveOptions(segmenter=segmenter, wall=lambda: WALL, help_text="Say what you want.")

    def voice(own: OwnSound, may: Callable[[], bool]) -> Voice:
        def play(samples: np.ndarray, rate: int) -> bool:
            if played is not None:
                played.append(samples)
            return True

        return Voice(cues=played is not None, own=own, may_play=may, play=play)

    with Writer(home) as writer:
        session = LiveSession(
            writer, Capture(Replay(path, speed)),
            lambda told: TendedDecoder(made, told=told),  # type: ignore[arg-type]
            control=BySign(), voice=voice, options=options,
        )  # fmt: skip
        kept = session.run(every=0.01)
    return session, kept


def facts(home: Path, session: str) -> Facts:
    with Reader(home) as reader:
        return reader.facts(session)
