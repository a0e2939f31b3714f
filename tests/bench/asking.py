"""How fast the search page answers over a made-up corpus: the questions of ``tests.bench.training`` and more.

    python -m tests.bench.asking [--sessions 100000] [--home DIR] [--times 20]

A home that holds a corpus already is used as it is. Every request goes over the loopback to the program in a
process of its own; times are from the request to the last byte of the page. Beside them stands the processor
time that the program took for each answer (Linux), which is what an idle machine would come to.
"""

from __future__ import annotations

import argparse
import os
import tempfile
from pathlib import Path

from narrator.review.asking import address
from narrator.review.naming import Names
from narrator.store.finding import Wanted
from narrator.store.opening import database_path
from narrator.training.invented import fill
from tests.bench.review import measure, serving, tell
from tests.bench.training import ASKED

MORE = (
    Wanted(system="brakes", verified="fail"),
    Wanted(system="charging", suspected="alternator", ended="cleared"),
    Wanted(person="invented07", confirmed="thermostat"),
    Wanted(ended="cleared"),
)
"""Questions of the page that those of the search's own measure do not hold; the last fits most jobs."""


def main() -> None:
    """Fill a store, serve it, print a line a question."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sessions", type=int, default=100_000)
    parser.add_argument("--home", type=Path)
    parser.add_argument("--times", type=int, default=20)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        home = given.home or Path(scratch)
        if not database_path(home).exists():
            fill(home, given.sessions)
        took: list[float] = []
        busy: list[float] = []
        names = Names([], False)
        with serving(home) as (port, process):
            print(f"load average {os.getloadavg()[0]:.1f}")
            tell(measure(port, "/search", given.times))
            for wanted in (*ASKED, *MORE):
                before = processor(process)
                each = measure(port, address(wanted, names), given.times)
                tell(each)
                took += each
                busy += [(processor(process) - before) / (given.times + 1)] * given.times
            print(f"load average {os.getloadavg()[0]:.1f}; all {len(took)} answers:", end=" ")
            tell(sorted(took))
            print("processor time an answer, mean of each question:", end=" ")
            tell(sorted(busy))


def processor(process: int) -> float:
    """Milliseconds that all threads of a process have run."""
    tasks = Path(f"/proc/{process}/task").glob("*/schedstat")
    return sum(int(one.read_text(encoding="ascii").split()[0]) for one in tasks) / 1e6


if __name__ == "__main__":
    main()
