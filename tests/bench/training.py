"""How the trainer's search and study hold at scale, on a made-up corpus: ``python tests/bench/training.py``.

    python tests/bench/training.py [--sessions 100000] [--home DIR]    prints Markdown

A home that holds a corpus already is used as it is.
"""

from __future__ import annotations

import argparse
import os
import resource
import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from narrator.store import Reader
from narrator.store.finding import Wanted
from narrator.store.opening import database_path
from narrator.training.archive import refresh
from narrator.training.invented import fill
from narrator.training.offers import offers
from narrator.training.selection import Selection
from narrator.training.study import study

ASKED = (
    Wanted(suspected="alternator", ended="cleared"),
    Wanted(tested="voltage drop", outcome="fail"),
    Wanted(confirmed="ground strap", no_code=True),
    Wanted(said="overheats traffic", confirmed="water pump"),
    Wanted(concern="misfires", fitted="injector"),
    Wanted(code="P03*", suspected="relay"),
    Wanted(confirmed="thermostat", verified="fail"),
    Wanted(said="clonk", suspected="ball joint", ended="cleared", since="2031-06-01", until="2031-09-01"),
)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sessions", type=int, default=100_000)
    parser.add_argument("--home", type=Path)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        home = given.home or Path(scratch)
        if not database_path(home).exists():
            wall, busy = timed(fill, home, given.sessions)
            print(f"Made-up corpus of {given.sessions:,} sessions: {wall:.0f} s, processor {busy:.0f} s\n")
        measure(home)


def timed(function: Callable[..., object], *values: object) -> tuple[float, float]:
    """Wall seconds and processor seconds (of all threads) that a call took."""
    wall, busy = time.perf_counter(), time.process_time()
    function(*values)
    return time.perf_counter() - wall, time.process_time() - busy


def tell(what: str, *times: tuple[float, float], unit: float = 1.0) -> None:
    """A line of the table: the worst wall and processor time, and the peak of memory until now."""
    wall, busy = (unit * max(pair[n] for pair in times) for n in (0, 1))
    name = "ms" if unit > 1 else "s"
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    digits = 0 if unit > 1 else 2
    print(f"| {what} | {wall:,.{digits}f} {name} | {busy:,.{digits}f} {name} | {peak:.0f} MiB |", flush=True)


def busyness() -> str:
    """How busy the machine is: load average, and how many times longer a loop takes than it computes."""
    wall, busy = timed(sum, range(5_000_000))
    return f"load average {os.getloadavg()[0]:.1f}, wall time {wall / busy:.1f} times processor time"


def measure(home: Path) -> None:
    """Measure refresh, study, offers and search over a corpus."""
    with Reader(home) as reader:
        sessions = reader.session_count()
    print(f"{sessions:,} sessions, {database_path(home).stat().st_size / 1e6:.0f} MB; {busyness()}\n")
    print("| what | wall, worst | processor, worst | peak memory so far |\n|---|---|---|---|")
    times: list[tuple[float, float]] = []
    with Reader(home) as reader:
        for wanted in ASKED:
            each = [timed(reader.find, wanted) for _ in range(10)]
            tell(f"search {wanted.given()}: {reader.find(wanted).count:,} jobs", *each, unit=1000)
            times += each
    wall, busy = (1000 * statistics.quantiles([t[n] for t in times], n=20)[-1] for n in (0, 1))
    print(f"| search, 95th percentile of {len(times)} | {wall:.0f} ms | {busy:.0f} ms | |", flush=True)
    tell("study's tables, first time or after a change", timed(refresh, home))
    tell("study's tables, nothing changed", timed(refresh, home))
    tell("study of all, worst of three", *(timed(study, home / "study", Selection()) for _ in range(3)))
    some = Selection(system="brakes")
    tell("study of one system, worst of three", *(timed(study, home / "study", some) for _ in range(3)))
    with Reader(home) as reader:
        tell("words offered for the vocabulary", timed(offers, reader))
    print(f"\nAt the end: {busyness()}")


if __name__ == "__main__":
    main()
