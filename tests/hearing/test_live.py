from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future

import numpy as np

from narrator.errors import NarratorError
from narrator.hearing.control import SURE_ALONE
from narrator.hearing.live import LiveRecognizer, Reading
from narrator.hearing.recognizer import SegmentRecognizer
from narrator.hearing.segmenter import Segment, Segmenter
from narrator.values import SAMPLE_RATE, AudioChunk, Partial, Utterance, Word
from tests.hearing.fakes import LoudIsSpeech, NamingDecoder, chunks, sound


class LengthDecoder:
    """Words that depend on nothing but the piece."""

    name = "fake"
    timing = "aligned"

    def __init__(self) -> None:
        self.lengths: list[float] = []

    def decode(self, segment: Segment) -> list[Word]:
        self.lengths.append(segment.end - segment.start)
        return [Word(f"w{segment.first}n{len(segment.samples)}", segment.start, segment.end, 0.5)]


TALK = sound((0.5, False), (2.0, True), (0.4, False), (1.5, True), (1.2, False), (20.0, True), (1.0, False))


def run(recognizer: SegmentRecognizer, samples: np.ndarray = TALK, size: int = 800) -> list[object]:
    heard: list[object] = []
    for chunk in chunks(samples, size):
        heard += recognizer.accept(chunk)
    return heard + list(recognizer.finish())


def finals(heard: list[object]) -> list[Utterance]:
    return [one for one in heard if isinstance(one, Utterance)]


def test_live_text_is_the_text_that_a_file_gives() -> None:
    live = finals(run(LiveRecognizer(LengthDecoder(), Segmenter(None, LoudIsSpeech()))))
    straight = finals(run(SegmentRecognizer(LengthDecoder(), Segmenter(None, LoudIsSpeech())), size=1600))
    assert live == straight
    assert len(live) == 3


def test_the_words_are_there_when_the_pause_ends_the_piece() -> None:
    decoder = LengthDecoder()
    recognizer = LiveRecognizer(decoder, Segmenter(None, LoudIsSpeech()))
    talk = sound((0.5, False), (2.0, True), (1.5, False))
    for chunk in chunks(talk, 800):
        before = len(decoder.lengths)
        if finals(list(recognizer.accept(chunk))):
            assert len(decoder.lengths) == before, "decoded again at the end of the pause"
            return
    raise AssertionError("no utterance")


def test_partial_results_come_often_and_cost_no_more_in_a_long_piece() -> None:
    decoder = LengthDecoder()
    clock = [0.0]
    recognizer = LiveRecognizer(decoder, Segmenter(None, LoudIsSpeech()), clock=lambda: clock[0])
    partials = []
    for chunk in chunks(sound((0.5, False), (14.0, True)), 800):
        clock[0] += 0.05
        partials += [one for one in recognizer.accept(chunk) if isinstance(one, Partial)]
    ends = [one.end for one in partials]
    assert max(np.diff(ends)) <= 0.16
    assert ends[0] <= 0.5 + 0.7
    assert max(decoder.lengths) <= 4.3
    assert partials[-1].text.startswith(partials[40].text.split()[0]), "the head stays as it was read"


def test_no_partial_results_while_sound_waits() -> None:
    heard = run(LiveRecognizer(LengthDecoder(), Segmenter(None, LoudIsSpeech()), busy=lambda: True))
    assert not [one for one in heard if isinstance(one, Partial)]
    assert len(finals(heard)) == 3


def test_after_a_crash_known_pieces_are_not_heard_again_and_the_rest_is() -> None:
    whole = finals(run(LiveRecognizer(LengthDecoder(), Segmenter(None, LoudIsSpeech()))))
    for known in range(4):
        after = whole[known - 1].end if known else 0.0
        recognizer = LiveRecognizer(
            LengthDecoder(), Segmenter(None, LoudIsSpeech()), first_id=known + 1, after=after
        )
        assert finals(run(recognizer)) == whole[known:]


def test_another_decoder_may_take_over_in_the_middle_of_a_piece() -> None:
    first, second = NamingDecoder(["early"] * 99), NamingDecoder(["late"] * 99)
    recognizer = LiveRecognizer(first, Segmenter(None, LoudIsSpeech()))
    samples = sound((0.5, False), (2.0, True), (0.4, False))
    for chunk in chunks(samples, 800):
        recognizer.accept(chunk)
    assert recognizer.speaking
    recognizer.use(second)
    quiet = np.zeros(SAMPLE_RATE, np.float32)
    (utterance,) = finals(list(recognizer.accept(AudioChunk(quiet, len(samples)))))
    assert utterance.text == "late"
    assert not recognizer.speaking


def test_text_while_speaking_comes_from_the_quick_decoder_and_the_final_text_does_not() -> None:
    whole, quick = LengthDecoder(), NamingDecoder(["quick"] * 999)
    heard = run(LiveRecognizer(whole, Segmenter(None, LoudIsSpeech()), early=quick))
    early = [one for one in heard if isinstance(one, Partial)]
    assert sum("quick" in one.text for one in early) > 40
    assert not any("quick" in one.text for one in finals(heard))
    assert len(whole.lengths) <= 5, "whole pieces only: three, and pauses in which they might have ended"


def test_behind_it_takes_in_more_sound_while_pieces_are_decoded_elsewhere() -> None:
    started: list[tuple[Callable[[], Reading], Future[Reading]]] = []

    def later(work: Callable[[], Reading]) -> Future[Reading]:
        started.append((work, Future()))
        return started[-1][1]

    talk = sound((0.5, False), *[(1.0, True), (1.0, False)] * 3)
    recognizer = LiveRecognizer(
        LengthDecoder(), Segmenter(None, LoudIsSpeech()), run=later, busy=lambda: True
    )
    heard: list[object] = []
    for chunk in chunks(talk, 800):
        heard += recognizer.accept(chunk)
    assert not heard
    assert not recognizer.idle
    for work, future in reversed(started):
        future.set_result(work())
    heard += recognizer.finish()
    straight = finals(run(SegmentRecognizer(LengthDecoder(), Segmenter(None, LoudIsSpeech())), talk))
    assert heard == straight
    assert len(straight) == 3
    assert recognizer.idle


class Calls:
    """An ear of commands that hears the same in everything."""

    name = "calls"
    timing = "aligned"

    def __init__(self, sure: float, broken: bool = False) -> None:
        self.sure, self.broken, self.asked = sure, broken, 0

    def decode(self, segment: Segment) -> list[Word]:
        self.asked += 1
        if self.broken:
            raise NarratorError("E606", engine="calls", why="it died")
        said = "attention please help".split()
        return [Word(w, segment.start, segment.end, self.sure, "attention pleats") for w in said]


def unread(calls: Calls, words: str) -> tuple[list[Utterance], float]:
    """Utterances and unheard seconds where the dictation gives ``words`` for one piece."""
    decoder = NamingDecoder([words])
    recognizer = LiveRecognizer(decoder, Segmenter(None, LoudIsSpeech()), calls=calls, busy=lambda: True)
    found = finals(run(recognizer, sound((0.5, False), (1.5, True), (1.5, False))))
    return found, recognizer.unheard


def test_a_command_that_the_dictation_cannot_read_is_heard_by_the_ear_of_commands() -> None:
    (one,), unheard = unread(Calls(SURE_ALONE), "")
    assert (one.text, one.engine, unheard) == ("attention please help", "calls", 0.0)
    assert [word.other for word in one.words] == [None] * 3, "a command wants no look"


def test_a_piece_without_words_stays_unheard_where_the_ear_of_commands_is_not_sure_or_fails() -> None:
    for calls in (Calls(SURE_ALONE - 0.01), Calls(1.0, broken=True)):
        found, unheard = unread(calls, "")
        assert (found, calls.asked) == ([], 1)
        assert abs(unheard - 1.5) < 0.05


def test_a_piece_with_words_is_no_business_of_the_ear_of_commands() -> None:
    calls = Calls(1.0)
    (one,), _ = unread(calls, "the strap is loose")
    assert (one.text, calls.asked) == ("the strap is loose", 0)
