"""A disk that is really full: ``python -m tests.faults.full_disk`` (as root: it mounts a tmpfs of 8 MB).

Twice a scripted engine hears two minutes at six times life on such a disk. First a reserve is kept: sound
must stop before it is touched, and text go on. Then there is no reserve, and half way another program takes
all that is left and gives it back later: what the store refused must be kept in the end.
"""

from __future__ import annotations

import subprocess
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from narrator.hearing.apart import TendedDecoder
from narrator.hearing.archive import segments
from narrator.hearing.capture import Capture
from narrator.hearing.replay import Replay
from narrator.live.session import LiveOptions, LiveSession
from narrator.store import Reader, Writer
from narrator.store.erase import sound_folder
from narrator.values import SAMPLE_RATE
from tests.live.helpers import ByLength, recording, segmenter

_LINES, _SPEED, _MEGABYTES = 40, 6.0, 8


@contextmanager
def small_disk() -> Iterator[Path]:
    with tempfile.TemporaryDirectory() as name:
        subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={_MEGABYTES}m", "tmpfs", name], check=True)
        try:
            yield Path(name)
        finally:
            subprocess.run(["umount", name], check=True)


def fill(disk: Path, after: float, for_s: float) -> None:
    """Take all that is left of the disk, later give it back."""
    time.sleep(after)
    took = 0
    with (disk / "another program's").open("wb", buffering=0) as file:
        try:
            while True:
                took += file.write(bytes(4096))
        except OSError as error:
            print(f"  another program took {took / 1e6:.2f} MB: {error.strerror}")
    time.sleep(for_s)
    (disk / "another program's").unlink()


def listen(sound: Path, disk: Path, reserve_mb: int) -> tuple[int, bool]:
    """Utterances that are missing in the end, and whether every sample is on the tape or in a gap."""
    said = [f"line number {n} of the talk" for n in range(_LINES)]
    options = LiveOptions(segmenter=segmenter, show=False, reserve_mb=reserve_mb)
    with Writer(disk / "home") as writer:
        session = LiveSession(
            writer, Capture(Replay(sound, _SPEED)),
            lambda told: TendedDecoder(lambda: ByLength(said), told=told), options=options,
        )  # fmt: skip
        (kept,) = session.run()
    with Reader(disk / "home") as reader:
        facts = reader.facts(kept)
    taped = sum(count for _, count, _ in segments(sound_folder(disk / "home", kept))) / SAMPLE_RATE
    gaps = sum(gap.end - gap.start for gap in facts.gaps)
    whole = facts.session.audio_seconds or 0.0
    print(f"  {whole:.1f} s heard, {taped:.1f} s on the tape, {gaps:.1f} s in {len(facts.gaps)} gaps;"
          f" {len(facts.utterances)} of {_LINES} utterances; told: {session.log}")  # fmt: skip
    return _LINES - len(facts.utterances), abs(whole - taped - gaps) < 0.5


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        sound = recording(Path(name) / "talk.wav", _LINES)
        results = []
        print("with a reserve of 6 MB:")
        with small_disk() as disk:
            results.append(listen(sound, disk, 6))
        print("without one, and another program that takes the rest:")
        with small_disk() as disk:
            threading.Thread(target=fill, args=(disk, 5.0, 8.0), daemon=True).start()
            results.append(listen(sound, disk, 0))
    print(
        "bad" if any(missing > 0 or not counted for missing, counted in results) else "nothing lost uncounted"
    )


if __name__ == "__main__":
    main()
