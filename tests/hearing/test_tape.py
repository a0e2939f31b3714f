from __future__ import annotations

import errno
import hashlib
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from narrator.errors import NarratorError
from narrator.hearing.archive import decode, pack, read_samples, recover, segments, tape_end
from narrator.hearing.files import Files, OpenFile
from narrator.hearing.tape import Sealed, Tape, TapeOptions, read_index
from narrator.values import SAMPLE_RATE, AudioChunk

SHORT = TapeOptions(segment=1.0, sync=0.25)
OPEN: list[Tape] = []


@pytest.fixture(autouse=True)
def _close_files() -> Iterator[None]:
    yield
    for made in OPEN:
        made.close()


def wave(count: int, seed: int = 1) -> np.ndarray:
    whole = np.random.default_rng(seed).integers(-32768, 32767, count)
    return (whole / 32768).astype(np.float32)


def tape(folder: Path, files: Files | None = None, options: TapeOptions = SHORT) -> tuple[Tape, list[Sealed]]:
    sealed: list[Sealed] = []
    made = Tape(folder, wall=lambda: "2031-03-04T09:00:00+01:00", sealed=sealed.append, options=options,
                files=files, steady=lambda: 5.0)  # fmt: skip
    OPEN.append(made)
    return made, sealed


def put(made: Tape, samples: np.ndarray, first: int = 0, size: int = 800) -> None:
    for at in range(0, len(samples), size):
        made.write(AudioChunk(samples[at : at + size], first + at))


def test_every_block_is_in_the_file_at_once(tmp_path: Path) -> None:
    made, _ = tape(tmp_path)
    sound = wave(4_000)
    put(made, sound)
    raw = np.frombuffer((tmp_path / "000000000000.pcm").read_bytes(), "<i2")
    assert np.array_equal(raw / np.float32(32768), sound)


def test_segments_are_sealed_with_their_digest_and_anchored(tmp_path: Path) -> None:
    made, sealed = tape(tmp_path)
    sound = wave(40_000)
    put(made, sound)
    made.seal()
    assert [(one.first, one.samples) for one in sealed] == [(0, 16_000), (16_000, 16_000), (32_000, 8_000)]
    for one in sealed:
        raw = (tmp_path / f"{one.first:012d}.pcm").read_bytes()
        assert hashlib.sha256(raw).hexdigest() == one.sha256
    rows = read_index(tmp_path)
    assert [row["open"] for row in rows if "open" in row] == [0, 16_000, 32_000]
    assert rows[0] == {"open": 0, "wall": "2031-03-04T09:00:00+01:00", "steady": 5.0}


def test_a_jump_of_the_clock_begins_a_new_segment(tmp_path: Path) -> None:
    made, sealed = tape(tmp_path)
    put(made, wave(1_600))
    put(made, wave(1_600, 2), first=50_000)
    made.seal()
    assert [(one.first, one.samples) for one in sealed] == [(0, 1_600), (50_000, 1_600)]


class Counting(Files):
    def __init__(self) -> None:
        self.syncs = 0

    def append(self, path: Path) -> OpenFile:
        file = OpenFile(path)
        sync = file.sync

        def counted() -> None:
            self.syncs += path.suffix == ".pcm"
            sync()

        file.sync = counted  # type: ignore[method-assign]
        return file


def test_the_disk_has_it_within_the_asked_time(tmp_path: Path) -> None:
    files = Counting()
    made, _ = tape(tmp_path, files, TapeOptions(segment=60, sync=1.0))
    put(made, wave(SAMPLE_RATE * 5))
    assert files.syncs == 5
    made.sync()
    assert files.syncs == 5, "nothing new to sync"
    put(made, wave(800), first=SAMPLE_RATE * 5)
    made.sync()
    assert files.syncs == 6


def test_packing_keeps_every_sample_and_removes_the_raw_file_last(tmp_path: Path) -> None:
    made, sealed = tape(tmp_path)
    sound = wave(16_000)
    put(made, sound)
    packed = pack(tmp_path, sealed[0])
    assert not (tmp_path / "000000000000.pcm").exists()
    assert packed.sha256 == hashlib.sha256(packed.file.read_bytes()).hexdigest()
    read, rate = soundfile.read(packed.file, dtype="float32")
    assert rate == SAMPLE_RATE
    assert np.array_equal(read, sound)


def test_a_raw_file_that_changed_is_never_packed_or_removed(tmp_path: Path) -> None:
    made, sealed = tape(tmp_path)
    put(made, wave(16_000))
    raw = tmp_path / "000000000000.pcm"
    data = bytearray(raw.read_bytes())
    data[100] ^= 1
    raw.write_bytes(data)
    with pytest.raises(NarratorError) as caught:
        pack(tmp_path, sealed[0])
    assert caught.value.code == "E607"
    assert raw.read_bytes() == data
    found = recover(tmp_path)
    assert "not what was sealed" in found.damaged[0]
    assert raw.read_bytes() == data


class LyingFiles(Files):
    """A disk that spoils a byte of every packed file."""

    def put(self, path: Path, data: bytes) -> None:
        super().put(path, data[:200] + bytes([data[200] ^ 255]) + data[201:])


def test_a_packed_file_that_reads_back_wrong_leaves_the_raw_one(tmp_path: Path) -> None:
    made, sealed = tape(tmp_path)
    put(made, wave(16_000))
    with pytest.raises(NarratorError) as caught:
        pack(tmp_path, sealed[0], LyingFiles())
    assert caught.value.code == "E607"
    assert [path.name for path in sorted(tmp_path.iterdir())] == ["000000000000.pcm", "tape.jsonl"]


@pytest.mark.parametrize("torn", [0, 1])
def test_recovery_rescues_what_was_open(tmp_path: Path, torn: int) -> None:
    made, sealed = tape(tmp_path)
    sound = wave(20_000)
    put(made, sound)
    pack(tmp_path, sealed[0])
    (tmp_path / "000000016000.flac.part").write_bytes(b"half a file")
    with (tmp_path / "000000016000.pcm").open("ab") as raw:
        raw.write(b"\x01" * torn)  # half a sample
    with (tmp_path / "tape.jsonl").open("ab") as index:
        index.write(b'{"seal": 160')
    found = recover(tmp_path)
    assert found.end == 20_000
    assert found.rescued == pytest.approx(0.25)
    assert not found.damaged
    assert {path.suffix for path in tmp_path.iterdir()} == {".flac", ".jsonl"}
    assert np.array_equal(read_samples(tmp_path, 0, 20_000), sound)
    again = recover(tmp_path)
    assert (again.segments, again.rescued) == (found.segments, 0.0)


def test_recovery_finds_both_files_and_trusts_the_raw_one(tmp_path: Path) -> None:
    made, sealed = tape(tmp_path)
    sound = wave(16_000)
    put(made, sound)
    raw = (tmp_path / "000000000000.pcm").read_bytes()
    pack(tmp_path, sealed[0])
    (tmp_path / "000000000000.pcm").write_bytes(raw)
    good = (tmp_path / "000000000000.flac").read_bytes()
    (tmp_path / "000000000000.flac").write_bytes(good[:-900])
    found = recover(tmp_path)
    assert [(one.first, one.samples) for one in found.segments] == [(0, 16_000)]
    assert decode((tmp_path / "000000000000.flac").read_bytes()) == raw
    assert not (tmp_path / "000000000000.pcm").exists()


class FullDisk(Files):
    """Takes so many bytes of sound and no more."""

    def __init__(self, room: int) -> None:
        self.room = room

    def append(self, path: Path) -> OpenFile:
        file = OpenFile(path)
        write = file.write

        def limited(data: bytes) -> None:
            part = data[: self.room]
            write(part)
            self.room -= len(part)
            if len(part) < len(data):
                raise OSError(errno.ENOSPC, "No space left on device")

        file.write = limited  # type: ignore[method-assign]
        return file


def test_a_full_disk_ends_the_tape_and_keeps_what_fitted(tmp_path: Path) -> None:
    files = FullDisk(8_001 + 80)
    made, _ = tape(tmp_path, files)
    sound = wave(16_000)
    with pytest.raises(NarratorError) as caught:
        put(made, sound)
    assert caught.value.code == "E605"
    kept = recover(tmp_path)
    assert 3_000 < kept.end <= 4_000
    assert np.array_equal(read_samples(tmp_path, 0, kept.end), sound[: kept.end])
    files.room = 10**6
    put(made, wave(1_600, 3), first=16_000)
    made.seal()
    assert tape_end(tmp_path) == 17_600


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.tuples(st.integers(1, 9_000), st.sampled_from([0, 0, 700])), min_size=1, max_size=8),
    st.integers(0, 40_000),
    st.integers(0, 40_000),
)
def test_what_is_read_is_what_was_written(
    tmp_path_factory: pytest.TempPathFactory, blocks: list[tuple[int, int]], a: int, b: int
) -> None:
    folder = tmp_path_factory.mktemp("tape")
    made, sealed = tape(folder)
    truth = np.zeros(90_000, np.float32)
    at = 0
    for number, (count, jump) in enumerate(blocks):
        at += jump
        truth[at : at + count] = wave(count, number)
        made.write(AudioChunk(truth[at : at + count], at))
        at += count
    for one in sealed[::2]:
        pack(folder, one)
    first, last = sorted((a, b))
    assert np.array_equal(read_samples(folder, first, last), truth[first:last])
    assert tape_end(folder) == at
    assert [first for first, _, _ in segments(folder)] == sorted(first for first, _, _ in segments(folder))
