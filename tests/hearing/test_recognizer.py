from __future__ import annotations

import sys
import types
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from narrator.errors import NarratorError
from narrator.hearing import recognizer as room
from narrator.hearing.hear import hear
from narrator.hearing.live import LiveRecognizer
from narrator.hearing.recognizer import SegmentRecognizer, open_decoder, open_recognizer
from narrator.hearing.segmenter import Segment, Segmenter
from narrator.settings import Settings
from narrator.values import AudioChunk, Gap, Partial, Utterance, Word
from tests.hearing.fakes import LoudIsSpeech, NamingDecoder, chunks, sound

TWICE = ((1.0, False), (2.0, True), (1.5, False), (1.0, True), (2.0, False))


def listening(decoder: NamingDecoder, **how: object) -> SegmentRecognizer:
    return SegmentRecognizer(decoder, Segmenter(None, LoudIsSpeech()), **how)  # type: ignore[arg-type]


def test_utterances_are_numbered_timed_and_signed() -> None:
    one, two = hear(chunks(sound(*TWICE)), listening(NamingDecoder(["loose bolt", "seized"]), first_id=7))
    assert isinstance(one, Utterance)
    assert isinstance(two, Utterance)
    assert (one.id, one.text, one.engine, one.timing) == (7, "loose bolt", "fake", "aligned")
    assert (two.id, two.text) == (8, "seized")
    assert one.start <= 1.0 < 3.0 <= one.end <= two.start


class OverNoise(NamingDecoder):
    """Its words last half a second each, with a pause before every word that begins with a dash."""

    def decode(self, segment: Segment) -> list[Word]:
        at, words = segment.start, []
        for word in super().decode(segment)[0].word.split("+"):
            at += 1.0 if word.startswith("-") else 0.1
            words.append(Word(word.strip("-"), at, at + 0.5, 0.5))
            at += 0.5
        return words


def test_a_pause_that_noise_filled_ends_an_utterance_too() -> None:
    decoder = OverNoise(["fan+runs+-pump+leaks+-two+bolts", "done"])
    talk = sound((1.0, False), (6.0, True), (1.5, False), (1.0, True), (2.0, False))
    heard = [one for one in hear(chunks(talk), listening(decoder)) if isinstance(one, Utterance)]
    assert [(one.id, one.text) for one in heard] == [
        (1, "fan runs"), (2, "pump leaks"), (3, "two bolts"), (4, "done"),
    ]  # fmt: skip
    assert all(one.end < other.start for one, other in pairwise(heard))
    assert [word.word for one in heard for word in one.words] == "fan runs pump leaks two bolts done".split()


def test_estimated_times_tell_of_no_pause() -> None:
    decoder = OverNoise(["fan+runs+-pump+leaks"])
    decoder.timing = "estimated"
    talk = sound((1.0, False), (6.0, True), (1.5, False))
    (only,) = (one for one in hear(chunks(talk), listening(decoder)) if isinstance(one, Utterance))
    assert only.text == "fan runs pump leaks"


def test_of_a_piece_known_in_part_the_rest_is_given() -> None:
    decoder = OverNoise(["fan+runs+-pump+leaks+-two+bolts"])
    talk = sound((1.0, False), (6.0, True), (1.5, False))
    first = next(iter(hear(chunks(talk), listening(OverNoise([*decoder.texts])))))
    assert isinstance(first, Utterance)
    rest = LiveRecognizer(
        decoder, Segmenter(None, LoudIsSpeech()), first_id=2, after=first.end, busy=lambda: True
    )
    heard = [one for one in hear(chunks(talk), rest) if isinstance(one, Utterance)]
    assert [(one.id, one.text) for one in heard] == [(2, "pump leaks"), (3, "two bolts")]


def test_a_piece_without_words_is_no_utterance_but_is_counted() -> None:
    recognizer = listening(NamingDecoder(["", "yes"]))
    (only,) = hear(chunks(sound(*TWICE)), recognizer)
    assert isinstance(only, Utterance)
    assert only.id == 1
    assert recognizer.unheard == pytest.approx(2.0)


def test_partials_come_once_a_second_and_never_after_the_final() -> None:
    heard = list(hear(chunks(sound((3.0, True), (2.0, False))), listening(NamingDecoder(), partials=True)))
    assert [type(h) for h in heard[:-1]] == [Partial] * (len(heard) - 1)
    assert isinstance(heard[-1], Utterance)
    assert 3 <= len(heard) - 1 <= 4


def test_a_slow_engine_gives_fewer_partials() -> None:
    ticks = iter(np.arange(0, 1000, 0.5))  # each decoding takes half a second: the next waits five
    slow = listening(NamingDecoder(), partials=True, clock=lambda: float(next(ticks)))
    heard = list(hear(chunks(sound((9.0, True), (2.0, False))), slow))
    assert sum(isinstance(h, Partial) for h in heard) == 2


def test_a_gap_ends_the_utterance_and_the_clock_goes_on() -> None:
    def source() -> Iterator[AudioChunk | Gap]:
        yield from chunks(sound((1.0, True)))
        yield Gap(1.0, 60.0, "unplugged")
        yield from chunks(sound((1.0, True)), first=960_000)

    one, two = hear(source(), listening(NamingDecoder()))
    assert (one.start, one.end) == (0.0, 1.0)
    assert (two.start, two.end) == (60.0, 61.0)


def test_what_was_heard_before_a_failure_comes_first() -> None:
    def source() -> Iterator[AudioChunk]:
        yield from chunks(sound((1.0, True)))
        raise NarratorError("E105", path="x", got=1.0, why="test")

    heard = hear(source(), listening(NamingDecoder()))
    assert isinstance(next(heard), Utterance)
    with pytest.raises(NarratorError, match="E105"):
        next(heard)


def settings(tmp_path: Path, **more: object) -> Settings:
    return Settings(home=tmp_path, **more)  # type: ignore[arg-type]


def engine(monkeypatch: pytest.MonkeyPatch, name: str, error: NarratorError | None = None) -> None:
    """Register an engine that opens as a fake or raises."""
    module = types.ModuleType(f"fake_{name}")

    def open_it(_settings: Settings, _model: Path | None) -> NamingDecoder:
        if error:
            raise error
        return NamingDecoder([name])

    module.open_decoder = open_it  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, f"fake_{name}", module)
    monkeypatch.setitem(room.ENGINES, name, f"fake_{name}")


def test_auto_takes_the_first_engine_that_can_be_used(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(room, "ENGINES", {})
    engine(monkeypatch, "a", NarratorError("E203", engine="a", why="test"))
    engine(monkeypatch, "b")
    recognizer = open_recognizer(settings(tmp_path))
    assert recognizer.name == "fake"
    engine(monkeypatch, "b", NarratorError("E204", engine="b", why="test"))
    with pytest.raises(NarratorError, match=r"E201.*engine a is.*engine b: "):
        open_decoder(settings(tmp_path))


def test_a_broken_model_is_not_passed_over(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(room, "ENGINES", {})
    engine(monkeypatch, "a", NarratorError("E205", path="x", why="test"))
    engine(monkeypatch, "b")
    with pytest.raises(NarratorError, match="E205"):
        open_decoder(settings(tmp_path))


def test_an_unknown_engine_names_the_known_ones(tmp_path: Path) -> None:
    with pytest.raises(NarratorError, match="auto, moonshine, vosk, whisper"):
        open_decoder(settings(tmp_path), "ear")
    with pytest.raises(NarratorError, match="E202"):
        open_recognizer(settings(tmp_path, engine="ear"))


def test_a_model_folder_of_no_engine_is_refused(tmp_path: Path) -> None:
    with pytest.raises(NarratorError, match="E205"):
        open_decoder(settings(tmp_path), "auto", tmp_path)
