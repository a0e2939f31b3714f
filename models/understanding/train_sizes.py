"""Train the model that tells whether a number is the size of fasteners, and say how well it does.

    python -m models.understanding.train_sizes            train, write models/fasteners/sizes.json
    python -m models.understanding.train_sizes --check    cross-validate by jobs; write nothing

Learned from the annotated narrations: every number of a head's size that no rule enters, and whether a
fastener of that size is annotated in its line. Takes half a minute on one core.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from models.understanding.corpus import HERE, narrations
from models.understanding.logistic import fit, shares
from models.understanding.narrations import build
from models.understanding.train_acts import folds
from models.understanding.unseen import Unseen
from narrator.language import unsaid
from narrator.language.meaning import read_of, told_of
from narrator.language.reader import Reader
from narrator.language.sized import FOLDER, NAMES, Sized, features, possible
from narrator.language.tokens import Notes
from narrator.values import Size, Utterance

FOLDS = 8
PENALTY = 3.0
SURE = 0.4


@dataclass(frozen=True, slots=True)
class Example:
    """One number: its features, and whether it is a size of fasteners."""

    job: str
    row: list[float]
    right: bool


class Watch(unsaid.Memory):
    """A memory that takes down what the model is asked of each line, and enters none of it."""

    asked: list[list[tuple[Size, list[float]]]]
    """One list for each line: sizes that no rule entered, and what the model looks at."""

    def supply(self, notes: Notes) -> bool:
        """Complete one line, with a list of its own for what the model is asked of it."""
        self.asked.append([])
        return super().supply(notes)

    def _sizes(self, notes: Notes) -> list[Sized]:
        read, found = read_of(notes), possible(notes)
        told = told_of(notes) if found else None
        rows = [(f.fastener.size, features(notes, f, read, told, self.kinds)) for f in found if read]
        self.asked[-1] += [(size, row) for size, row in rows if size]
        return []


def examples(name: str) -> Iterator[Example]:
    """The numbers of one narration."""
    rows, gold = build.build(HERE / "narrations" / f"{name}.toml")
    memory = Watch()
    memory.asked = []
    told = [Utterance(r["id"], r["start"], r["end"], r["text"]) for r in rows]
    list(Reader().read(told, memory))
    for utterance, asked in zip(told, memory.asked, strict=True):
        marked = gold["utterances"][str(utterance.id)]["entities"]
        sizes = {_key(e["size"]) for e in marked if e["type"] == "fastener" and e.get("size")}
        for size, row in asked:
            yield Example(name, row, _key({"value": size.value, "unit": size.unit}) in sizes)


def _key(size: dict[str, Any]) -> tuple[float, str]:
    return round(float(size["value"]), 4), str(size["unit"])


def learned(found: Sequence[Example]) -> dict[str, float]:
    """The weights that some numbers teach."""
    return fit([e.row for e in found], [e.right for e in found], NAMES, PENALTY)


def check(found: Sequence[Example], names: Sequence[str]) -> None:
    """Print right, missed and wrong ones, each job judged by a model that has not seen it."""
    counts: dict[str, list[int]] = {}
    for held in folds(list(names), FOLDS):
        weights = learned([e for e in found if e.job not in held])
        own = [e for e in found if e.job in held]
        for e, share in zip(own, shares([e.row for e in own], NAMES, weights), strict=True):
            row = counts.setdefault(e.job[0], [0, 0, 0])
            row[0] += e.right and share >= SURE
            row[1] += e.right and share < SURE
            row[2] += not e.right and share >= SURE
    for letter, (right, missed, wrong) in sorted(counts.items()):
        print(f"{letter}: {right} right, {missed} missed, {wrong} wrong")


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--check", action="store_true")
    parser.add_argument("--networks", type=Path, help="folder of networks that each have not learned a fold")
    options = parser.parse_args()
    names = [talk.name for talk in narrations()]
    found = list(Unseen(options.networks).each(names, examples))
    print(f"{len(found)} numbers of {len(names)} jobs, {sum(e.right for e in found)} of them sizes")
    if options.check:
        check(found, names)
        return
    FOLDER.mkdir(parents=True, exist_ok=True)
    text = json.dumps(learned(found), indent=0, ensure_ascii=False)
    (FOLDER / "sizes.json").write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
