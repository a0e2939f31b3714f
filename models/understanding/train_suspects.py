"""Train the models that tell whether a line clears or settles a thing it names, and say how well they do.

    python -m models.understanding.train_suspects            train, write models/suspects/judged.json
    python -m models.understanding.train_suspects --check    cross-validate by jobs; write nothing

Learned from the annotated narrations, read with the network in force, which should not have learned the
jobs that count most (``models/suspects/card.md``). Takes some minutes on one core.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from models.understanding.corpus import narrations
from models.understanding.logistic import fit, shares
from models.understanding.narrations import build
from models.understanding.train_acts import folds
from models.understanding.unseen import Unseen
from narrator.job import compile as compiling
from narrator.job.diagnosis import Diagnosis
from narrator.job.judged import FOLDER, NAMES, features
from narrator.job.line import Line
from narrator.job.settling import LOOSE
from narrator.language.reader import Reader
from narrator.values import Utterance

FOLDS = 8
PENALTY = 30.0
LETTERS = "empqrstuvwz"
"""Of the narrations, those of these files; the earlier ones are read by rules that were made on them."""
_UNSURE = -3.5
"""Log odds of both conclusions below which a line concludes nothing, and teaches nothing."""
_CONCLUSIONS = frozenset(("ruled_out", "confirmed"))
_NOTHING, _CLEARS, _SETTLES = range(3)
KINDS = {"clears": _CLEARS, "settles": _SETTLES}


@dataclass(frozen=True, slots=True)
class Example:
    """A thing that a line names: its features, and what the line does to it."""

    job: str
    row: list[float]
    kind: int


class Watch(Diagnosis):
    """A ledger of suspects that takes down what the models would be asked."""

    asked: list[tuple[Line, str, list[float]]]

    def _weigh(self, line: Line, tried: Sequence[str]) -> None:
        for thing in line.components:
            name = line.sided(thing)
            suspect = self.find(name, LOOSE) or self.cleared(name)
            row = features(line, thing, self.standing(name, suspect, tried))
            self.asked.append((line, thing.name, row))


def examples(name: str) -> Iterator[Example]:
    """What is named in the lines of one narration that may conclude something."""
    rows, gold = build.build(build.HERE / f"{name}.toml")
    Watch.asked = []
    told = [Utterance(r["id"], r["start"], r["end"], r["text"]) for r in rows]
    before, compiling.Diagnosis = compiling.Diagnosis, Watch  # type: ignore[misc]
    try:
        compiling.compile_record(Reader().read(told))
    finally:
        compiling.Diagnosis = before  # type: ignore[misc]
    by_line: dict[int, list[tuple[Line, str, list[float]]]] = {}
    for asked in Watch.asked:
        by_line.setdefault(asked[0].id, []).append(asked)
    for number, group in by_line.items():
        acts = _CONCLUSIONS.intersection(gold["utterances"][str(number)]["acts"])
        kinds = [_kind(thing, acts, gold["hypotheses"]) for _, thing, _ in group]
        if kinds == [None]:
            kinds = [_CLEARS if "ruled_out" in acts else _SETTLES]
        elif any(kinds):
            kinds = [kind or _NOTHING for kind in kinds]
        for (line, _, row), kind in zip(group, kinds, strict=True):
            if kind is not None and (kind or max(row[:2]) >= _UNSURE or line.does(*_CONCLUSIONS)):
                yield Example(name, row, kind)


def _kind(thing: str, acts: frozenset[str], hypotheses: Sequence[dict[str, Any]]) -> int | None:
    """What a line of these acts does to a thing; None where the annotation does not tell."""
    if not acts:
        return _NOTHING
    meant = {h["status"] for h in hypotheses if _is(thing, h)}
    if not meant:
        return None
    if len(acts) == 1:
        return _CLEARS if "ruled_out" in acts else _SETTLES
    return {("ruled_out",): _CLEARS, ("confirmed",): _SETTLES}.get(tuple(meant))


def _is(thing: str, hypothesis: dict[str, Any]) -> bool:
    """Whether a name has all the keywords of an annotated suspect, and none of those that bar it."""

    def said(words: str) -> bool:
        return any(f" {word.strip()}" in f" {thing}" for word in words.lower().split("|"))

    barred = any(said(words) for words in hypothesis.get("not_keywords", ()))
    return not barred and all(said(words) for words in hypothesis["keywords"])


def learned(found: Sequence[Example], kind: int) -> dict[str, float]:
    """The weights that some things teach of one kind of conclusion."""
    return fit([e.row for e in found], [e.kind == kind for e in found], NAMES, PENALTY, digits=5)


def check(found: Sequence[Example], names: Sequence[str]) -> None:
    """Print right, missed and wrong ones, each job judged by models that have not seen it."""
    counts: dict[tuple[str, str], list[int]] = {}
    for held in folds(list(names), FOLDS):
        own = [e for e in found if e.job in held]
        for name, kind in KINDS.items():
            weights = learned([e for e in found if e.job not in held], kind)
            for e, share in zip(own, shares([e.row for e in own], NAMES, weights), strict=True):
                row = counts.setdefault((e.job[0], name), [0, 0, 0])
                row[0] += e.kind == kind and share >= 0.5
                row[1] += e.kind == kind and share < 0.5
                row[2] += e.kind != kind and share >= 0.5
    for (letter, name), (right, missed, wrong) in sorted(counts.items()):
        print(f"{letter} {name}: {right} right, {missed} missed, {wrong} wrong")


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--check", action="store_true")
    parser.add_argument("--networks", type=Path, help="folder of networks that each have not learned a fold")
    options = parser.parse_args()
    names = [t.name for t in narrations() if t.name[0] in LETTERS]
    found = list(Unseen(options.networks).each(names, examples))
    print(f"{len(found)} things of {len(names)} jobs: {sum(e.kind > 0 for e in found)} cleared or settled")
    if options.check:
        check(found, names)
        return
    FOLDER.mkdir(parents=True, exist_ok=True)
    table = {name: learned(found, kind) for name, kind in KINDS.items()}
    (FOLDER / "judged.json").write_text(json.dumps(table, indent=0) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
