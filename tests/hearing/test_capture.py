from __future__ import annotations

import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile

from narrator.errors import NarratorError
from narrator.hearing import portaudio
from narrator.hearing.blocks import BlockQueue
from narrator.hearing.capture import LOST, OVERFLOW, Capture, CaptureOptions
from narrator.hearing.hear import hear
from narrator.hearing.level import Meter
from narrator.hearing.recognizer import SegmentRecognizer
from narrator.hearing.replay import Replay
from narrator.hearing.segmenter import Segmenter
from narrator.hearing.source import FileSource
from narrator.values import SAMPLE_RATE, AudioChunk, Gap, Utterance
from tests.hearing.fake_sounddevice import FakePortAudio
from tests.hearing.fakes import LoudIsSpeech, NamingDecoder, sound

QUICK = CaptureOptions(queue=10.0, patience=0.2, retry=0.02, poll=0.01)


class Clock:
    """Time that only the test moves."""

    def __init__(self) -> None:
        self.now = 100.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def system(monkeypatch: pytest.MonkeyPatch) -> FakePortAudio:
    fake = FakePortAudio(("Bench USB mic", 1, 48_000), ("Line in", 2, 44_100))
    monkeypatch.setitem(sys.modules, "sounddevice", fake.module())
    return fake


def collect(capture: Capture) -> tuple[list[AudioChunk | Gap], threading.Thread]:
    got: list[AudioChunk | Gap] = []
    thread = threading.Thread(target=lambda: got.extend(capture), daemon=True)
    thread.start()
    return got, thread


def wait_for(true: object, seconds: float = 5.0) -> None:
    deadline = time.monotonic() + seconds
    while not true():  # type: ignore[operator]
        assert time.monotonic() < deadline, "it did not happen"
        time.sleep(0.005)


def samples_of(got: list[AudioChunk | Gap]) -> np.ndarray:
    return np.concatenate([one.samples for one in got if isinstance(one, AudioChunk)])


def tone(rate: int, seconds: float) -> np.ndarray:
    return (0.4 * np.sin(2 * np.pi * 440 * np.arange(round(rate * seconds)) / rate)).astype(np.float32)


def assert_one_clock(got: list[AudioChunk | Gap]) -> None:
    """Every sample and every gap follows the one before."""
    at = 0
    for one in got:
        if isinstance(one, Gap):
            assert round(one.start * SAMPLE_RATE) == at
            at = round(one.end * SAMPLE_RATE)
        else:
            assert one.first == at
            at += len(one.samples)


def test_microphones_are_listed_with_the_default(system: FakePortAudio) -> None:
    listed = portaudio.inputs()
    assert [(i.name, i.channels, i.rate, i.default) for i in listed] == [
        ("Bench USB mic", 1, 48_000, True),
        ("Line in", 2, 44_100, False),
    ]


@pytest.mark.parametrize(("name", "rate"), [(None, 48_000), ("Line in", 44_100), ("line", 44_100)])
def test_any_rate_comes_out_at_ours(system: FakePortAudio, name: str | None, rate: int) -> None:
    capture = Capture(portaudio.PortAudio(), name, options=QUICK)
    got, thread = collect(capture)
    assert system.open_stream.rate == rate
    system.open_stream.run(tone(rate, 2.0))
    capture.stop()
    thread.join()
    assert_one_clock(got)
    heard = samples_of(got)
    assert abs(len(heard) / SAMPLE_RATE - 2.0) < 0.06
    spectrum = np.abs(np.fft.rfft(heard))
    assert abs(np.argmax(spectrum) * SAMPLE_RATE / len(heard) - 440) < 1
    assert np.isfinite(heard).all(), "the device's buffer was kept instead of copied"
    assert system.open_stream.closed


@pytest.mark.parametrize(("name", "code"), [("Roof mic", "E602"), ("i", "E602")])  # none has it; both have it
def test_a_name_must_mean_one_microphone(system: FakePortAudio, name: str, code: str) -> None:
    with pytest.raises(NarratorError) as caught:
        Capture(portaudio.PortAudio(), name)
    assert caught.value.code == code
    assert "Bench USB mic" in caught.value.message


def test_without_any_microphone_it_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "sounddevice", FakePortAudio().module())
    with pytest.raises(NarratorError) as caught:
        Capture(portaudio.PortAudio())
    assert (caught.value.code, caught.value.message) == (
        "E603",
        "the microphone cannot be opened: none is there",
    )


def test_without_portaudio_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    with pytest.raises(NarratorError) as caught:
        portaudio.inputs()
    assert caught.value.code == "E601"
    assert "libportaudio2" in caught.value.remedy


def test_a_microphone_held_by_another_program_is_an_error(system: FakePortAudio) -> None:
    system.devices = []
    with pytest.raises(NarratorError) as caught:
        Capture(portaudio.PortAudio(), "Line in")
    assert caught.value.code == "E603"


def test_an_unplugged_microphone_is_a_gap_and_comes_back_by_name(system: FakePortAudio) -> None:
    told: list[tuple[str, bool]] = []
    capture = Capture(
        portaudio.PortAudio(), "Line in", options=QUICK, told=lambda t, bad: told.append((t, bad))
    )
    got, thread = collect(capture)
    system.open_stream.run(tone(44_100, 1.0), speed=5)
    system.pull("Line in")
    wait_for(lambda: told)
    time.sleep(0.3)
    system.devices.insert(0, ("Dash cam", 1, 16_000))  # numbers of devices change
    system.plug("Line in", 2, 48_000)  # and so may its rate
    wait_for(lambda: len(system.streams) == 2)
    system.open_stream.run(tone(48_000, 1.0), speed=5)
    capture.stop()
    thread.join()
    assert_one_clock(got)
    (gap,) = (one for one in got if isinstance(one, Gap))
    assert gap.reason == LOST
    assert 0.35 < gap.end - gap.start < 3.0
    assert abs(len(samples_of(got)) / SAMPLE_RATE - 2.0) < 0.12
    assert [bad for _, bad in told] == [True, False]
    assert system.open_stream.name == "Line in"


def test_a_microphone_that_never_comes_back_is_a_gap_until_the_end(system: FakePortAudio) -> None:
    capture = Capture(portaudio.PortAudio(), options=QUICK)
    got, thread = collect(capture)
    system.open_stream.run(tone(48_000, 0.5), speed=5)
    system.pull("Bench USB mic")
    time.sleep(0.5)
    capture.stop()
    thread.join()
    assert_one_clock(got)
    assert isinstance(got[-1], Gap)
    assert got[-1].end - got[-1].start > 0.3


def test_overflow_that_the_queue_makes_is_counted_to_the_sample() -> None:
    clock = Clock()
    queue = BlockQueue(10.0, patient=False, clock=clock)
    queue.rate = 16_000
    for _ in range(12):
        queue.put(np.zeros((16_000, 1), np.float32))
    assert queue.seconds == 10.0
    assert queue.dropped == 32_000
    assert queue.get(0.0) is not None
    queue.put(np.zeros((16_000, 1), np.float32))
    blocks = [queue.get(0.0) for _ in range(10)]
    assert [block.dropped for block in blocks if block] == [0] * 9 + [32_000]


def test_sound_dropped_for_want_of_room_is_a_gap_of_its_length(system: FakePortAudio) -> None:
    capture = Capture(portaudio.PortAudio(), options=QUICK)
    system.open_stream.run(tone(48_000, 13.0))  # nobody takes it: three seconds too much
    blocks = iter(capture)
    first = next(blocks)
    assert isinstance(first, AudioChunk)
    system.open_stream.run(tone(48_000, 0.05))
    got = [first]
    capture.stop()
    got += list(blocks)
    assert_one_clock(got)
    gaps = [one for one in got if isinstance(one, Gap)]
    assert [gap.reason for gap in gaps] == [OVERFLOW]
    assert gaps[0].end - gaps[0].start == pytest.approx(3.0, abs=0.06)


def test_overflow_of_the_device_is_measured_by_the_clock(system: FakePortAudio) -> None:
    clock = Clock()
    capture = Capture(portaudio.PortAudio(), clock=clock)
    block = tone(48_000, 0.05)
    for number in range(40):
        clock.now += 0.05
        if number == 20:
            clock.now += 0.7  # the device lost this much and only says that it lost some
        system.open_stream.run(block, overflow_at=(0,) if number == 20 else ())
    capture.stop()
    got = list(capture)
    capture_end = got[-1]
    assert isinstance(capture_end, AudioChunk)
    assert_one_clock(got)
    (gap,) = (one for one in got if isinstance(one, Gap))
    assert gap.reason == OVERFLOW
    assert gap.end - gap.start == pytest.approx(0.7, abs=0.02)


def test_a_machine_that_slept_has_a_gap_even_if_the_microphone_goes_on(system: FakePortAudio) -> None:
    clock = Clock()
    capture = Capture(portaudio.PortAudio(), options=QUICK, clock=clock)
    block = tone(48_000, 0.05)
    for number in range(10):
        clock.now += 3600.0 if number == 5 else 0.05
        system.open_stream.run(block)
    capture.stop()
    got = list(capture)
    assert_one_clock(got)
    (gap,) = (one for one in got if isinstance(one, Gap))
    assert gap.end - gap.start == pytest.approx(3600, abs=0.1)


def test_a_slow_device_clock_is_not_taken_for_loss(system: FakePortAudio) -> None:
    clock = Clock()
    capture = Capture(portaudio.PortAudio(), options=QUICK, clock=clock)
    block = tone(48_000, 0.05)
    for _ in range(150):
        clock.now += 0.05 * 1.0005
        system.open_stream.run(block, overflow_at=())
    capture.stop()
    assert not [one for one in capture if isinstance(one, Gap)]


# ---------------------------------------------------------------- a file as the microphone


@pytest.fixture
def spoken(tmp_path: Path) -> Path:
    wave = sound((0.5, False), (1.0, True), (1.2, False), (0.6, True), (1.0, False))
    soundfile.write(tmp_path / "talk.wav", wave, SAMPLE_RATE, subtype="PCM_16")
    return tmp_path / "talk.wav"


def test_a_replay_gives_exactly_what_the_file_gives(spoken: Path) -> None:
    got = list(Capture(Replay(spoken, speed=0)))
    assert_one_clock(got)
    straight = [one for one in FileSource(spoken) if isinstance(one, AudioChunk)]
    assert np.array_equal(samples_of(got), np.concatenate([one.samples for one in straight]))


def test_a_replay_keeps_time(spoken: Path) -> None:
    began = time.monotonic()
    for _ in Capture(Replay(spoken, speed=10)):
        pass
    assert 0.42 < time.monotonic() - began < 1.5


def test_a_replay_waits_for_a_slow_taker_and_loses_nothing(spoken: Path) -> None:
    capture = Capture(Replay(spoken, speed=0), options=CaptureOptions(queue=0.2, patience=0.05))
    got = []
    for one in capture:
        time.sleep(0.005)
        got.append(one)
    assert not [one for one in got if isinstance(one, Gap)]
    assert len(samples_of(got)) == soundfile.info(spoken).frames


def test_a_cut_replay_gives_what_is_there_then_the_error(spoken: Path) -> None:
    data = spoken.read_bytes()
    spoken.write_bytes(data[: len(data) // 2])
    got: list[AudioChunk | Gap] = []
    with pytest.raises(NarratorError) as caught:
        got.extend(Capture(Replay(spoken, speed=0)))
    assert caught.value.code == "E104"


def utterances(source: object) -> Iterator[Utterance]:
    recognizer = SegmentRecognizer(
        NamingDecoder(["drain plug out", "two bolts"]), Segmenter(None, LoudIsSpeech())
    )
    for one in hear(source, recognizer):  # type: ignore[arg-type]
        if isinstance(one, Utterance):
            yield one


def test_file_replay_and_microphone_hear_the_same(spoken: Path, system: FakePortAudio) -> None:
    system.devices[0] = ("Bench USB mic", 1, SAMPLE_RATE)
    system.rescan()
    microphone = Capture(portaudio.PortAudio(), options=QUICK)
    wave, _ = soundfile.read(spoken, dtype="float32")
    system.open_stream.run(wave)
    microphone.stop()
    from_file = list(utterances(FileSource(spoken)))
    assert [one.text for one in from_file] == ["drain plug out", "two bolts"]
    assert list(utterances(Capture(Replay(spoken, speed=0)))) == from_file
    assert list(utterances(microphone)) == from_file


# ---------------------------------------------------------------- level


def test_the_meter_tells_loudness_clipping_and_a_dead_microphone() -> None:
    meter = Meter()
    meter.take(np.full((1600, 1), 0.1, np.float32), 16_000)
    assert meter.level.peak == pytest.approx(-20, abs=0.1)
    assert not meter.level.clipping
    one = np.zeros((1600, 2), np.float32)
    one[5] = 1.0
    meter.take(one, 16_000)
    assert not meter.level.clipping, "a single loud sample is not clipping"
    one[:, 1] = 1.0
    meter.take(one, 16_000)
    assert meter.level.clipping
    for _ in range(60):
        meter.take(np.zeros((1600, 1), np.float32), 16_000)
    assert meter.level.dead
    assert not meter.level.clipping
