from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
import pytest
import soundfile

from narrator.errors import NarratorError
from narrator.hearing.source import FileSource
from narrator.values import SAMPLE_RATE, AudioChunk

SECONDS = 6.0


def tone(rate: int, channels: int = 1, seconds: float = SECONDS) -> np.ndarray:
    wave = 0.4 * np.sin(2 * np.pi * 440 * np.arange(int(rate * seconds)) / rate)
    wave += np.random.default_rng(0).normal(0, 0.05, len(wave))  # so that it cannot be packed to nothing
    return np.repeat(wave[:, None], channels, axis=1).astype(np.float32)


def write(path: Path, rate: int = 44_100, channels: int = 1, **how: str) -> Path:
    soundfile.write(path, tone(rate, channels), rate, **how)
    return path


def read(path: Path) -> np.ndarray:
    chunks = [chunk for chunk in FileSource(path) if isinstance(chunk, AudioChunk)]
    at = 0
    for chunk in chunks:
        assert chunk.first == at
        assert chunk.samples.dtype == np.float32
        assert chunk.samples.ndim == 1
        at += len(chunk.samples)
    return np.concatenate([chunk.samples for chunk in chunks])


def read_until_error(path: Path) -> tuple[float, NarratorError]:
    """Seconds that were given before the error, and the error."""
    got = 0
    with pytest.raises(NarratorError) as caught:
        for chunk in FileSource(path):
            assert isinstance(chunk, AudioChunk)
            got += len(chunk.samples)
    return got / SAMPLE_RATE, caught.value


@pytest.mark.parametrize(
    ("name", "rate", "channels", "how"),
    [
        ("a.wav", 44_100, 2, {}),
        ("b.wav", 8_000, 1, {"subtype": "ULAW"}),
        ("c.wav", 96_000, 6, {"subtype": "FLOAT"}),
        ("d.flac", 48_000, 2, {}),
        ("e.ogg", 22_050, 1, {"subtype": "VORBIS"}),
        ("f.opus", 48_000, 2, {"format": "OGG", "subtype": "OPUS"}),
        ("g.mp3", 44_100, 2, {}),
        ("h.wav", 16_000, 1, {}),
    ],
)
def test_every_format_comes_out_whole_at_the_same_pitch(
    tmp_path: Path, name: str, rate: int, channels: int, how: dict[str, str]
) -> None:
    samples = read(write(tmp_path / name, rate, channels, **how))
    assert abs(len(samples) / SAMPLE_RATE - SECONDS) < 0.06
    spectrum = np.abs(np.fft.rfft(samples))
    assert abs(np.argmax(spectrum) * SAMPLE_RATE / len(samples) - 440) < 1
    assert abs(np.sqrt(np.mean(samples**2)) - np.sqrt(0.08 + 0.0025)) < 0.03


def test_channels_are_averaged_and_what_is_no_number_is_silent(tmp_path: Path) -> None:
    block = np.zeros((16_000, 2), np.float32)
    block[:, 0], block[:, 1] = 0.5, 0.1
    block[100, 0] = np.nan
    soundfile.write(tmp_path / "a.wav", block, 16_000, subtype="FLOAT")
    samples = read(tmp_path / "a.wav")
    assert samples[5000] == pytest.approx(0.3, abs=1e-3)
    assert np.isfinite(samples).all()


def test_length_is_known_beforehand(tmp_path: Path) -> None:
    assert FileSource(write(tmp_path / "a.wav")).seconds == pytest.approx(SECONDS)


@pytest.mark.parametrize("name", ["a.wav", "a.flac", "a.ogg", "a.mp3"])
def test_a_truncated_file_gives_what_is_there_then_an_error(tmp_path: Path, name: str) -> None:
    path = write(tmp_path / name)
    data = path.read_bytes()
    path.write_bytes(data[: len(data) * 6 // 10])
    seconds, error = read_until_error(path)
    assert error.code in ("E104", "E105")
    assert 2.9 < seconds < 4.0


def test_a_damaged_flac_gives_what_came_before(tmp_path: Path) -> None:
    path = write(tmp_path / "a.flac")
    data = bytearray(path.read_bytes())
    data[len(data) // 2 : len(data) // 2 + 3000] = bytes(range(250)) * 12
    path.write_bytes(data)
    seconds, error = read_until_error(path)
    assert error.code == "E105"
    assert 2.5 < seconds < 3.2


def test_a_stream_of_unknown_length_is_not_called_truncated(tmp_path: Path) -> None:
    path = write(tmp_path / "a.wav")
    data = bytearray(path.read_bytes())
    data[4:8] = data[40:44] = struct.pack("<I", 0xFFFFFFFF)
    path.write_bytes(data)
    assert abs(len(read(path)) / SAMPLE_RATE - SECONDS) < 0.01


def test_a_bare_header_is_an_early_end(tmp_path: Path) -> None:
    path = write(tmp_path / "a.wav")
    path.write_bytes(path.read_bytes()[:44])
    seconds, error = read_until_error(path)
    assert (seconds, error.code) == (0.0, "E104")


def test_a_recording_without_samples_is_empty_not_an_error(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "a.wav", np.zeros(0, np.float32), 16_000)
    assert [c for c in FileSource(tmp_path / "a.wav") if isinstance(c, AudioChunk) and len(c.samples)] == []


@pytest.mark.parametrize(
    ("name", "data", "code"),
    [
        ("empty.wav", b"", "E102"),
        ("text.wav", b"this is not sound\n" * 30, "E103"),
        ("raw.raw", b"\x01\x02" * 500, "E103"),
        ("noise.mp3", bytes(range(1, 250)) * 20, "E103"),
    ],
)
def test_what_is_not_sound_is_refused(tmp_path: Path, name: str, data: bytes, code: str) -> None:
    (tmp_path / name).write_bytes(data)
    with pytest.raises(NarratorError) as caught:
        FileSource(tmp_path / name)
    assert caught.value.code == code


def test_missing_files_folders_and_odd_rates_are_refused(tmp_path: Path) -> None:
    for path, code in ((tmp_path / "none.wav", "E101"), (tmp_path, "E103")):
        with pytest.raises(NarratorError) as caught:
            FileSource(path)
        assert caught.value.code == code
    soundfile.write(tmp_path / "slow.wav", np.zeros(100, np.float32), 100)
    with pytest.raises(NarratorError) as caught:
        FileSource(tmp_path / "slow.wav")
    assert caught.value.code == "E106"
