"""How the trainer's search and study hold at scale, on a made-up corpus: ``python tests/bench/training.py``.

    python tests/bench/training.py [--sessions 100000] [--home DIR]    prints Markdown

A home that holds a corpus already is used as it is.
"""

from __future__ import annotations

import argparse
import resource
import statistics
import tempfile
import time
from pathlib import Path

from narrator.store import Reader
from narrator.store.finding import Wanted
from narrator.store.opening import database_path
from narrator.training.archive import refresh
from narrator.training.invented import fill
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
            took = timed(fill, home, given.sessions)
            print(f"| made-up corpus of {given.sessions:,} sessions | {took:.0f} s |")
        measure(home)


def timed(function: object, *values: object) -> float:
    began = time.perf_counter()
    function(*values)  # type: ignore[operator]
    return time.perf_counter() - began


def measure(home: Path) -> None:
    with Reader(home) as reader:
        sessions = reader.session_count()
    print(f"| sessions | {sessions:,} |")
    print(f"| database | {database_path(home).stat().st_size / 1e6:.0f} MB |")
    print(f"| study's tables, first time | {timed(refresh, home):.0f} s |")
    print(f"| study's tables, nothing changed | {timed(refresh, home):.2f} s |")
    whole = [timed(study, home / "study", Selection()) for _ in range(3)]
    some = [timed(study, home / "study", Selection(system="brakes")) for _ in range(3)]
    print(f"| study of all | {max(whole):.2f} s |\n| study of one system | {max(some):.2f} s |")
    times: list[float] = []
    with Reader(home) as reader:
        for wanted in ASKED:
            each = [timed(reader.find, wanted) for _ in range(10)]
            print(
                f"| search {wanted.given()}: {reader.find(wanted).count} jobs | {1000 * max(each):.0f} ms |"
            )
            times += each
    print(f"| search, p95 of {len(times)} | {1000 * statistics.quantiles(times, n=20)[-1]:.0f} ms |")
    print(f"| peak memory | {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MiB |")


if __name__ == "__main__":
    main()
