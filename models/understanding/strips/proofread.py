"""Proofread the strips: a run of lines in which things come apart and go together again.

    python -m models.understanding.strips.proofread [NAME ...]

Says what is wrong (exit code 1 then), and the totals of each strip that do not come out even, for a glance.
"""

from __future__ import annotations

import sys
import tomllib
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from models.understanding.narrations.markup import Line, MarkupError, entities, parse_text
from models.understanding.narrations.proofread import OFF_LIMITS, is_brand

HERE = Path(__file__).resolve().parent
_MARKED = frozenset("FMS")


def totals(lines: list[Line]) -> dict[str, list[int]]:
    """Removed and installed by kind and size."""
    out: dict[str, list[int]] = {}
    for event in (event for line in lines for event in line.events):
        out.setdefault(f"{event.kind} {event.size}", [0, 0])[event.change == "installed"] += event.count
    return out


def wrong(lines: list[Line]) -> Iterator[str]:
    """What is wrong in one strip."""
    if not 8 <= len(lines) <= 30:
        yield f"{len(lines)} lines"
    for n, line in enumerate(lines, 1):
        for *_, mark in line.spans:
            if mark.split()[0] not in _MARKED:
                yield f"line {n}: only F, M and S are marked here, not {mark}"
            entities(mark, "")
        if line.acts[0] == ["aside"] and line.events:
            yield f"line {n}: an aside that moves fasteners"
    text = " ".join(line.said for line in lines).lower()
    if found := OFF_LIMITS.search(text):
        yield f"off limits: {found[0]}"
    yield from (f"a real brand: {word}" for word in sorted(set(text.split())) if is_brand(word))


def main() -> None:
    """Command line."""
    names = sys.argv[1:] or [path.stem for path in sorted(HERE.glob("*.toml"))]
    bad = 0
    for name in names:
        table = tomllib.loads((HERE / f"{name}.toml").read_text(encoding="utf-8"))
        events = Counter[str]()
        for n, row in enumerate(table["strip"], start=1):
            try:
                lines = parse_text(row["text"])
                found = list(wrong(lines))
            except (MarkupError, ValueError) as error:
                lines, found = [], [str(error)]
            bad += len(found)
            print(*(f"WRONG {name}.{n}: {one}" for one in found), sep="\n", end="\n" if found else "")
            uneven = {k: v for k, v in totals(lines).items() if v[0] != v[1]}
            if uneven:
                print(
                    f"look  {name}.{n}: " + ", ".join(f"{k} off {a} on {b}" for k, (a, b) in uneven.items())
                )
            events.update(event.change for line in lines for event in line.events)
        print(f"{name}: {len(table['strip'])} strips, {dict(events)}")
    sys.exit(bool(bad))


if __name__ == "__main__":
    main()
