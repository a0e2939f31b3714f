"""Time understanding against the length of a session: ``python tests/bench/understanding.py [FOLDER]``.

FOLDER holds utterances as ``*.jsonl`` (by default those of the sample sessions), told over and over. Prints
utterances a second of one core (processor time, everything loaded) for the language room alone and with the
ledgers, at 1,000, 5,000, 20,000 and 100,000 utterances.
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from itertools import cycle, islice
from pathlib import Path

from narrator.job.compile import compile_record
from narrator.language import Reader
from narrator.paths import SAMPLE_SESSIONS
from narrator.utterances import parse_lines
from narrator.values import Utterance

SIZES = (1_000, 5_000, 20_000, 100_000)


def session(folder: Path | None, count: int) -> list[Utterance]:
    """``count`` utterances, five seconds apart."""
    files = folder.glob("*.jsonl") if folder else SAMPLE_SESSIONS.glob("*/utterances.jsonl")
    said = [one for path in sorted(files) for one in parse_lines(path.read_text("utf-8").splitlines())]
    if not said:
        raise SystemExit(f"no utterances in {folder}")
    rows = enumerate(islice(cycle(said), count), start=1)
    return [replace(one, id=n, start=n * 5.0, end=n * 5.0 + 4.0, words=()) for n, one in rows]


def main() -> None:
    """One row a size; the whole of what was understood is kept, as the ledgers need it."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else None
    compile_record(Reader().read(session(folder, 500)), rules="")
    print("utterances  understood/s  with ledgers/s  seconds")
    for count in SIZES:
        said = session(folder, count)
        began = time.process_time()
        understood = list(Reader().read(said))
        read = time.process_time() - began
        compile_record(understood, rules="")
        whole = time.process_time() - began
        print(f"{count:>10,}  {count / read:>12,.0f}  {count / whole:>14,.0f}  {whole:>7.2f}", flush=True)


if __name__ == "__main__":
    main()
