"""How well the queue of looks finds lines that the program got wrong.

    python -m tests.bench.looks [NAME ...]

On annotated narrations (models/understanding/narrations: what a careful reader makes of each line is known) a
line is wrong where a reviewer would have to mend it: its acts are none that the annotators would choose, or a
reading, fastener, code, part number, price, odometer or component that must be there is missing, or a reading
or part number stands there that nobody said. Durations and things mentioned by the way do not count.
Precision: lines looked at that are wrong. Recall: wrong lines that a look points at.
The act model was trained on these very narrations: in new voices more acts are wrong than here.
"""

from __future__ import annotations

import argparse
import json
from collections import Counter
from collections.abc import Iterable
from typing import Any

from models.understanding.narrations.build import build, sources
from narrator.job.compile import compile_record
from narrator.language import Reader
from narrator.looks import queue
from narrator.utterances import parse_lines

_KEYS = {
    "measurement": ("value", "unit"), "component": ("name",), "fastener": ("kind", "count", "size"),
    "dtc": ("code",), "part_number": ("number",), "price": ("amount",), "vin": ("vin",),
    "odometer": ("value",),
}  # fmt: skip


def wrong(row: Any, gold: dict[str, Any]) -> bool:
    """Whether the acts or the entities of a line differ from what a careful reader makes of it."""
    allowed = [set(acts) for acts in gold.get("acts_ok", [gold["acts"]])]
    if set(row.acts) not in allowed:
        return True
    found = {_key(e) for e in row.entities}
    needed = {_key(e) for e in gold["entities"] if not e.get("optional") and not _loose(e)}
    known = {_key(e) for e in gold["entities"]}
    extra = {_key(e) for e in row.entities if e["type"] in _STRICT and not _loose(e)}
    return bool((needed - found - {None}) or (extra - known - {None}))


def _loose(entity: dict[str, Any]) -> bool:
    """A duration, or a fastener that was only mentioned."""
    return entity.get("quantity") == "time" or (entity["type"] == "fastener" and not entity.get("size"))


_STRICT = ("measurement", "part_number", "dtc", "vin")


def _key(entity: dict[str, Any]) -> str | None:
    keys = _KEYS.get(entity["type"])
    if keys is None:
        return None
    return json.dumps([entity["type"], *(entity.get(key) for key in keys)], sort_keys=True)


def score(names: Iterable[str] | None = None) -> tuple[dict[str, Counter[str]], Counter[str]]:
    """Looks right and in all by kind, and the lines: all, wrong, looked at, both."""
    kinds: dict[str, Counter[str]] = {}
    lines: Counter[str] = Counter()
    for path in sources(list(names) if names else None):
        rows, gold = build(path)
        utterances = list(parse_lines(json.dumps(row) for row in rows))
        understood = list(Reader().read(utterances))
        record = compile_record(understood)
        bad = {row.id for row in record.utterances if wrong(row, gold["utterances"][str(row.id)])}
        looked = set()
        for look in queue(understood, record, utterances):
            if look.utterance is not None:
                looked.add(look.utterance)
                counts = kinds.setdefault(look.kind, Counter())
                counts["looks"] += 1
                counts["right"] += look.utterance in bad
        lines.update({"all": len(rows), "wrong": len(bad), "looked": len(looked), "both": len(bad & looked)})
    return kinds, lines


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="*")
    kinds, lines = score(parser.parse_args().names)
    for kind, counts in sorted(kinds.items(), key=lambda pair: -pair[1]["looks"]):
        share = counts["right"] / counts["looks"]
        print(f"{kind:10} {counts['looks']:5} looks {counts['right']:5} right {share:.0%}")
    precision, recall = lines["both"] / lines["looked"], lines["both"] / lines["wrong"]
    print(f"{lines['all']} lines, {lines['wrong']} wrong, {lines['looked']} looked at:")
    print(f" precision {precision:.0%}, recall {recall:.0%} (chance: {lines['wrong'] / lines['all']:.0%})")


if __name__ == "__main__":
    main()
