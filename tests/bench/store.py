"""Time the store on invented sessions: ``python tests/bench/store.py`` (a minute, 100 MB of disk)."""

from __future__ import annotations

import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from narrator.store import Reader, Writer
from narrator.store.rows import NewSession
from narrator.values import Utterance, Word

TEXT = "two ten mil bolts come off the lower bracket and the ground strap is loose"
NEW = NewSession("2031-01-01T00:00:00+00:00")


def said(count: int) -> Iterator[Utterance]:
    for n in range(count):
        words = tuple(
            Word(word, n * 6 + k * 0.3, n * 6 + k * 0.3 + 0.3, 0.9) for k, word in enumerate(TEXT.split())
        )
        yield Utterance(n + 1, n * 6.0, n * 6 + 4.5, f"{TEXT} {n}", words)


@contextmanager
def timed(what: str) -> Iterator[None]:
    began = time.perf_counter()
    yield
    print(f"{what}: {time.perf_counter() - began:.4f} s")


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder)
        with Writer(home) as writer:
            long = writer.start_session(NEW)
            with timed("4,800 utterances of 15 words (8 h), one commit each"):
                for one in said(4800):
                    writer.add_utterances(long, [one])
            for _ in range(99):
                with writer.transaction():
                    writer.add_utterances(writer.start_session(NEW), said(500))
        print(f"100 sessions, 54,300 utterances: {(home / 'narrator.db').stat().st_size / 1e6:.0f} MB")
        with timed("opening the writer, with the check for damage"):
            writer = Writer(home)
        with timed("opening a reader"):
            reader = Reader(home)
        with timed("listing"):
            reader.sessions()
        with timed("search with 100 hits"):
            assert len(reader.search("lower bracket 317")) == 100
        with timed("search that hits every line"):
            reader.search("strap")
        with timed("all facts of the 8-hour session"):
            reader.facts(long)
        reader.close()
        with timed("forgetting it"):
            writer.forget(long)
        writer.close()


if __name__ == "__main__":
    main()
