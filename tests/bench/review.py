"""How fast the review page answers: 5,000 jobs in the store, one of 1,000 utterances open.

    python -m tests.bench.review [--jobs N]

Every request goes over the loopback to the program in a process of its own; times are from the request to
the last byte of the answer.
"""

from __future__ import annotations

import argparse
import http.client
import os
import random
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from narrator.session import derive
from narrator.store import Writer
from narrator.store.rows import NewSession
from narrator.values import Utterance

SAID = (
    "could be the ground strap or the battery", "two ten mil bolts come off the bracket",
    "twelve point four volts at the battery", "that rules out the battery", "the ground strap is corroded",
    "new ground strap on with two ten mil bolts", "voltage drop is one point nine volts on the strap",
    "torque it to ten newton metres", "customer says it will not crank when it is hot",
    "it cranks every time now",
)  # fmt: skip
LINES = 20


def fill(home: Path, jobs: int) -> tuple[str, str]:
    """Invented jobs of twenty lines and one of a thousand; gives the ids of the long one and a short one."""
    rng = random.Random(6)
    with Writer(home) as writer:
        short = ""
        for start in range(0, jobs - 1, 250):
            with writer.transaction():
                for n in range(start, min(start + 250, jobs - 1)):
                    when = f"2031-{1 + n % 12:02}-{1 + n % 28:02}T{n % 24:02}:00:00+01:00"
                    short = writer.start_session(
                        NewSession(when, f"job {n}.flac", "hand", f"20{n % 30:02} Ardenna Volo {n}")
                    )
                    writer.add_utterances(short, [
                        Utterance(i, i * 5.0, i * 5.0 + 4, rng.choice(SAID)) for i in range(1, LINES + 1)
                    ])  # fmt: skip
                    writer.end_session(short, when, None)
        derive(writer, short)
        long = writer.start_session(NewSession("2031-12-30T09:00:00+01:00", "long.flac", "hand"))
        writer.add_utterances(
            long, [Utterance(i, i * 5.0, i * 5.0 + 4, rng.choice(SAID)) for i in range(1, 1001)]
        )
        writer.end_session(long, "2031-12-30T11:00:00+01:00", None)
        began = time.perf_counter()
        derive(writer, long)
        print(f"deriving the record of 1,000 utterances anew: {time.perf_counter() - began:.2f} s")
    return long, short


def measure(port: int, path: str, times: int = 60) -> list[float]:
    """Milliseconds of each of several requests, sorted, after a first one that is not counted."""
    line = http.client.HTTPConnection("127.0.0.1", port)
    took = []
    for n in range(times + 1):
        began = time.perf_counter()
        line.request("GET", path)
        answer = line.getresponse()
        answer.read()
        if answer.status != 200:
            raise SystemExit(f"{path}: {answer.status}")
        took.append((time.perf_counter() - began) * 1000)
        if n == 0:
            print(f"{path[:60]:60} first {took.pop():6.1f} ms", end="  ")
    return sorted(took)


def main() -> None:
    """Fill a store, serve it, print a line a page."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=5000)
    jobs = parser.parse_args().jobs
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder)
        long, short = fill(home, jobs)
        with serving(home) as (port, _):
            for path in ("/", "/?page=120", "/?state=review", "/?q=volo", "/?q=ground+strap", "/?q=corroded",
                         f"/jobs/{long}", f"/jobs/{long}/looks", f"/jobs/{long}/lines/500",
                         f"/jobs/{long}/approval", f"/jobs/{long}/replay", f"/jobs/{long}/replay/case",
                         f"/jobs/{short}", f"/jobs/{short}/looks"):  # fmt: skip
                tell(measure(port, path))


def tell(took: list[float]) -> None:
    """The end of a page's line."""
    print(f"median {took[len(took) // 2]:6.1f}  p95 {took[int(len(took) * 0.95)]:6.1f} ms", flush=True)


@contextmanager
def serving(home: Path) -> Iterator[tuple[int, int]]:
    """The program serving a home in a process of its own; gives the port and the process."""
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = int(free.getsockname()[1])
    command = [sys.executable, "-c", "from narrator.cli import main; main()", "review", "--no-browser",
               "--port", str(port)]  # fmt: skip
    server = subprocess.Popen(command, env={**os.environ, "NARRATOR_HOME": str(home)}, stderr=subprocess.PIPE)
    try:
        if server.stderr is not None:
            server.stderr.readline()
        yield port, server.pid
    finally:
        server.terminate()
        server.wait()


if __name__ == "__main__":
    main()
