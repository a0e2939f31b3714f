"""Make anew what is made: ``python -m tests.golden.regenerate`` writes every expected record of the sample
sessions, and the reference parts of the docs.

Look at what changed before it is committed: a record is right when a mechanic would sign it.
"""

from __future__ import annotations

import sys
from pathlib import Path

from narrator.job.compile import compile_record
from narrator.language import Reader
from narrator.paths import SAMPLE_SESSIONS
from narrator.settings import Settings
from narrator.utterances import parse_lines
from tests.docs import reference

_PLAIN = Settings(home=Path("no-home"))


def compile_sample(folder: Path) -> str:
    """The record of a sample's utterances, as ``narrator compile`` prints it without settings of a shop.

    The version of the rules is left out: it changes with every rule, and the record need not.
    """
    lines = (folder / "utterances.jsonl").read_text(encoding="utf-8").splitlines()
    record = compile_record(Reader(settings=_PLAIN).read(parse_lines(lines)), rules="")
    return record.model_dump_json(indent=1) + "\n"


def main() -> None:
    """Write ``expected.record.json`` into every sample session."""
    for utterances in sorted(SAMPLE_SESSIONS.glob("*/utterances.jsonl")):
        path = utterances.with_name("expected.record.json")
        path.write_text(compile_sample(utterances.parent), encoding="utf-8")
        sys.stderr.write(f"{path}\n")
    reference.main()


if __name__ == "__main__":
    main()
